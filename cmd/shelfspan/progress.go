package main

import (
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

// progressAfter is how long work goes on before its progress is shown.
const progressAfter = time.Second

// progress shows on a terminal how much of the inputs has been read, once that
// takes longer than a second. Elsewhere it shows nothing.
type progress struct {
	terminal io.Writer // nil where standard error is none
	start    time.Time
	total    int64 // bytes; −1 where the length of an input is not known
	done     int64
	bar      *progressbar.ProgressBar
}

func newProgress(c *cli.Context) *progress {
	p := &progress{start: time.Now()}
	if f, ok := c.App.ErrWriter.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.terminal = f
	}
	return p
}

// watch counts what is read of an input.
func (p *progress) watch(r io.Reader) io.Reader {
	if p.terminal == nil {
		return r
	}
	size := int64(-1)
	if f, ok := r.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode().IsRegular() {
			size = info.Size()
		}
	}
	if size < 0 || p.total < 0 {
		p.total = -1
	} else {
		p.total += size
	}
	return &watched{r, p}
}

type watched struct {
	io.Reader
	p *progress
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.Reader.Read(b)
	w.p.add(n)
	return n, err
}

func (p *progress) add(n int) {
	p.done += int64(n)
	if p.bar == nil {
		if time.Since(p.start) < progressAfter {
			return
		}
		p.bar = progressbar.NewOptions64(p.total,
			progressbar.OptionSetWriter(p.terminal), progressbar.OptionSetDescription("reading"),
			progressbar.OptionShowBytes(true), progressbar.OptionSetWidth(30), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish(), progressbar.OptionEnableColorCodes(false))
	}
	_ = p.bar.Set64(p.done) // a bar that cannot be drawn stops no work
}

// count gives what shows a count of things done, of a number not known before.
func (p *progress) count(what string) func(int64) {
	if p.terminal == nil {
		return nil
	}
	return func(n int64) {
		if p.bar == nil {
			if time.Since(p.start) < progressAfter {
				return
			}
			p.bar = progressbar.NewOptions64(-1,
				progressbar.OptionSetWriter(p.terminal), progressbar.OptionSetDescription(what), progressbar.OptionShowCount(),
				progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish(), progressbar.OptionEnableColorCodes(false))
		}
		_ = p.bar.Set64(n) // a bar that cannot be drawn stops no work
	}
}

// end takes the bar off the terminal.
func (p *progress) end() {
	if p.bar != nil {
		_ = p.bar.Finish()
		p.bar = nil
		_, _ = io.WriteString(p.terminal, "\r\x1b[K") // an input of unknown length leaves its line standing
	}
}
