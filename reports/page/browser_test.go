package page

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"shelfspan/analysis"
	"shelfspan/testdata"
)

// missing skips a test for want of a program, or fails it in the gate, which
// installs all of them.
func missing(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s, and the gate has one", what)
	}
	t.Skip(what)
}

// chromium is the browser's program; "" where there is none.
func chromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// started is the one browser of all tests here.
var started = sync.OnceValues(func() (context.Context, context.CancelFunc) {
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(chromium()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.WindowSize(1280, 900), chromedp.WSURLReadTimeout(time.Minute))
	allocated, end := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, _ := chromedp.NewContext(allocated)
	if err := chromedp.Do(ctx); err != nil {
		end()
		return nil, nil
	}
	return ctx, func() { chromedp.Cancel(ctx); end() }
})

func TestMain(m *testing.M) {
	code := m.Run()
	if browserStarted {
		if _, end := started(); end != nil {
			end()
		}
	}
	os.Exit(code)
}

var browserStarted bool

// tab is a page that is shown in a browser, with what it should not have done.
type tab struct {
	*testing.T
	ctx   context.Context
	mu    sync.Mutex
	amiss []string // requests, errors and refusals
}

// shown opens a page; before is done to the tab first. At the end of the test it
// must have fetched nothing and complained of nothing.
func shown(t *testing.T, page []byte, before ...step) *tab {
	t.Helper()
	if racing { // which slows what is timed, and looks into no other program
		t.Skip("the browser is judged in the run without the race detector")
	}
	if chromium() == "" {
		missing(t, "there is no browser: install chromium")
	}
	browserStarted = true
	root, _ := started()
	if root == nil {
		t.Fatal("the browser did not start")
	}
	file := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(file, page, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := chromedp.NewContext(root)
	ctx, late := context.WithTimeout(ctx, time.Minute)
	x := &tab{T: t, ctx: ctx}
	address := (&url.URL{Scheme: "file", Path: file}).String()
	if err := chromedp.Listen(ctx, func(event any) {
		x.mu.Lock()
		defer x.mu.Unlock()
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; u != address && !strings.HasPrefix(u, "data:") {
				x.amiss = append(x.amiss, "it fetched "+u)
			}
		case *runtime.EventExceptionThrown:
			x.amiss = append(x.amiss, "exception: "+e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			x.amiss = append(x.amiss, fmt.Sprintf("console %s: %v", e.Type, e.Args))
		case *log.EventEntryAdded:
			x.amiss = append(x.amiss, fmt.Sprintf("log %s: %s", e.Entry.Level, e.Entry.Text))
		}
	}); err != nil {
		t.Fatal(err)
	}
	x.do(command(network.Enable, network.EnableParams{}), command(log.Enable, cdp.Empty{}), command(runtime.Enable, cdp.Empty{}))
	x.do(before...)
	x.do(chromedp.Navigate(address))
	t.Cleanup(func() {
		late()
		cancel()
		x.mu.Lock()
		defer x.mu.Unlock()
		for _, a := range x.amiss {
			t.Error(a)
		}
	})
	return x
}

// step is one thing done to a tab.
type step = chromedp.Action[chromedp.Void]

// command is a step that is one command of the browser's protocol.
func command[P any](c cdp.Command[P, cdp.Empty], params P) step {
	return func(ctx context.Context, target *chromedp.Target) (none chromedp.Void, err error) {
		_, err = cdp.Call(ctx, target, c, params)
		return none, err
	}
}

// run is a step that runs in the page.
func run(expression string) step { return chromedp.Evaluate[chromedp.Void](expression) }

func (x *tab) do(steps ...step) {
	x.Helper()
	if err := chromedp.Do(x.ctx, steps...); err != nil {
		x.Fatal(err)
	}
}

// ask gives the value of an expression in the page.
func ask[T any](x *tab, expression string) T {
	x.Helper()
	out, err := chromedp.Run(x.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		x.Fatalf("%s: %v", expression, err)
	}
	return out
}

// until waits for an expression to become true.
func (x *tab) until(expression string) {
	x.Helper()
	ask[bool](x, `new Promise(done => { const look = () => (`+expression+`) ? done(true) : requestAnimationFrame(look); look() })`)
}

// bring scrolls to the table whose caption begins so, which then has its tools,
// and is the first in the page to match.
func (x *tab) bring(caption string) {
	x.Helper()
	x.do(run(fmt.Sprintf(`window.block = [...document.querySelectorAll(".block")].find(b => b.querySelector("caption").textContent.startsWith(%q)); block.scrollIntoView()`, caption)))
	x.until(`block.querySelector("thead button") !== null`)
}

// column gives the shown fields of a column, from the top.
func (x *tab) column(i int) []string {
	x.Helper()
	return ask[[]string](x, fmt.Sprintf(`[...block.querySelectorAll("tbody tr")].filter(r => !r.hidden).map(r => r.cells[%d].textContent)`, i))
}

// TestOpensInASecond: a page of 20,000 results has drawn what is to be read first,
// and has ended loading, in less than a second. The time is the browser's only where
// nothing else runs: so it is taken on demand, as the gate does in a step of its own,
// and not among the tests of other packages, which run at the same time.
func TestOpensInASecond(t *testing.T) {
	if os.Getenv("SHELFSPAN_TIMED") == "" {
		t.Skip("SHELFSPAN_TIMED is not set: it times the browser, and wants the machine for itself")
	}
	page := written(t, whole(testdata.Thousands(t)))
	best, paint := math.Inf(1), 0.0
	for range 8 {
		x := shown(t, page)
		x.until(`performance.getEntriesByType("navigation")[0].loadEventEnd > 0 && performance.getEntriesByName("first-contentful-paint").length > 0`)
		if load := ask[float64](x, `performance.getEntriesByType("navigation")[0].loadEventEnd`); load < best {
			best, paint = load, ask[float64](x, `performance.getEntriesByName("first-contentful-paint")[0].startTime`)
		}
		if best < 1000 && paint < 1000 {
			break
		}
	}
	t.Logf("loaded in %.0f ms, the first words painted at %.0f ms, %d bytes", best, paint, len(page))
	if best > 1000 || paint > 1000 {
		t.Errorf("a page of 20,000 results took %.0f ms to load and %.0f ms to paint", best, paint)
	}
}

// TestSorts: a head sorts its column up, down, and back to the order of the page,
// numbers as numbers, with what is not reached last and dashes always at the end.
func TestSorts(t *testing.T) {
	x := shown(t, written(t, demo(t)))
	x.bring("Supported shelf life by attribute")
	first := x.column(3)
	numbers := func(in []string) (out []float64) {
		for _, s := range in {
			var v float64
			if _, err := fmt.Sscan(s, &v); err != nil {
				v = math.Inf(1) // not reached, or a dash
			}
			out = append(out, v)
		}
		return out
	}
	press := func() { x.do(run(`block.querySelectorAll("thead button")[3].click()`)) }
	sorting := func() string {
		return ask[string](x, `block.querySelectorAll("thead th")[3].getAttribute("aria-sort") || ""`)
	}
	press()
	if up := x.column(3); !slices.IsSorted(numbers(up)) || sorting() != "ascending" || slices.Equal(up, first) {
		t.Errorf("up (%s): %q", sorting(), up)
	}
	press()
	down := x.column(3)
	dashes := 0
	for _, s := range down {
		if s == "–" {
			dashes++
		}
	}
	falling := numbers(down[:len(down)-dashes])
	slices.Reverse(falling)
	if !slices.IsSorted(falling) || sorting() != "descending" || dashes == 0 || down[len(down)-1] != "–" {
		t.Errorf("down (%s): %q", sorting(), down)
	}
	press()
	if back := x.column(3); !slices.Equal(back, first) || sorting() != "" {
		t.Errorf("back (%s): %q, was %q", sorting(), back, first)
	}
	// By the keyboard, and pulls by their time.
	x.bring("Pulls, planned and made")
	x.do(run(`block.querySelector("thead button").focus()`), chromedp.KeyEvent("\r"))
	pulls := x.column(0)
	rank := func(p string) float64 {
		if strings.HasSuffix(p, "M") {
			return numbers([]string{strings.TrimSuffix(p, "M")})[0]
		}
		return numbers([]string{p})[0]
	}
	if !slices.IsSortedFunc(pulls, func(a, b string) int { return int(rank(a) - rank(b)) }) {
		t.Errorf("pulls sorted by keyboard: %q", pulls)
	}
}

// TestFilters: only rows that have all the words stay, and how many is said.
func TestFilters(t *testing.T) {
	x := shown(t, written(t, demo(t)))
	x.bring("Supported shelf life by attribute")
	all := len(x.column(0))
	x.do(run(`block.querySelector("input").focus()`), chromedp.KeyEvent("CAN visc"))
	if packs, attributes := x.column(0), x.column(1); !slices.Equal(packs, []string{"can upright", "can inverted"}) || !slices.Equal(attributes, []string{"viscosity", "viscosity"}) {
		t.Errorf("what stays is %q, %q", packs, attributes)
	}
	if said := ask[string](x, `block.querySelector("output").textContent`); said != fmt.Sprintf("2 of %d rows", all) {
		t.Errorf("it says %q", said)
	}
	x.do(run(`block.querySelector("input").select()`), chromedp.KeyEvent("\b"))
	if n := len(x.column(0)); n != all {
		t.Errorf("without a filter %d of %d rows are shown", n, all)
	}
}

// point moves the pointer to the first mark of the chart whose title begins so, and
// gives what is then read below it. The mark is looked for anew until it is hit, since
// what comes into the window for the first time moves what is below.
func (x *tab) point(title string) string {
	x.Helper()
	x.do(run(fmt.Sprintf(`window.figure = [...document.querySelectorAll("figure")].find(f => f.querySelector("svg title").textContent.startsWith(%q)); window.empty = figure.querySelector(".read").textContent`, title)))
	for {
		at := ask[[]float64](x, `(() => { figure.scrollIntoView({block: "center"}); const r = figure.querySelector("svg g>path").getBoundingClientRect(); return [r.x + r.width/2, r.y + r.height/2] })()`)
		x.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[0], at[1]))
		if said := ask[string](x, `new Promise(done => requestAnimationFrame(() => done(figure.querySelector(".read").textContent)))`); said != ask[string](x, `empty`) {
			return said
		}
	}
}

// TestPointing: a mark that is pointed at says which sample it is, below its chart.
func TestPointing(t *testing.T) {
	x := shown(t, written(t, demo(t)))
	said := x.point("viscosity in can inverted at 25C60")
	if !strings.HasPrefix(said, "batch ") || !strings.Contains(said, "mPa.s") || !strings.Contains(said, "pulled 20") {
		t.Errorf("the mark says %q", said)
	}
}

// TestPointingElsewhere: the marks of the calendar, of residuals that were unfolded
// and of lifetimes say below their chart what they stand for.
func TestPointingElsewhere(t *testing.T) {
	for _, c := range []struct {
		in            Input
		title, begins string
		says          []string
	}{
		{demo(t), "the pulls by month", "before storage, ", []string{"planned 2025-02-03", "window 2025-01-31 to 2025-02-06: done"}},
		{demo(t), "Residuals of viscosity in jar at 25C60 over time", "batch ", []string{"pulled 20", ": residual ", "normal quantile "}},
		{lifetimes(t), "Units failed: leak", "between ", []string{" months: ", " % of the units failed"}},
	} {
		x := shown(t, written(t, c.in))
		x.do(run(`document.querySelectorAll("details").forEach(d => d.open = true)`))
		said := x.point(c.title)
		for _, want := range append(c.says, c.begins) {
			if !strings.Contains(said, want) {
				t.Errorf("%s: the mark says %q, without %q", c.title, said, want)
			}
		}
	}
}

// TestMatrix: in a browser the cells of the matrix have the shade of what is lost, with
// letters that have 4.5:1 against it by day, by night and on paper, the number with its
// sign in their text; in the dark the windows of the calendar are not those of the day.
func TestMatrix(t *testing.T) {
	in := demo(t)
	matrix := in.Evaluation.Interactions
	k := 0
	for _, c := range matrix.Comparisons {
		if !math.IsNaN(c.Lost) && c.Condition == in.Evaluation.Dataset.Study.StoreAt {
			c.Lost = matrix.Horizon * float64(k*k) / 100 // step k
			k++
		}
	}
	x := shown(t, written(t, in))
	const grounds = `(() => {
		const rgb = text => { const v = text.match(/[\d.]+/g).map(Number); return text.startsWith("color") ? v.slice(0, 3) : v.slice(0, 3).map(c => c / 255) }
		const luminance = text => { const [r, g, b] = rgb(text).map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b }
		return [...document.querySelectorAll("table.matrix td")].map(cell => {
			const s = getComputedStyle(cell), a = luminance(s.color), b = luminance(s.backgroundColor)
			return [(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), b]
		}) })()`
	for _, m := range []struct{ medium, scheme string }{{"screen", "light"}, {"screen", "dark"}, {"print", "dark"}} {
		x.do(prefers(m.medium, m.scheme))
		different := map[string]bool{}
		for i, c := range ask[[][]float64](x, grounds) {
			if c[0] < 4.5 {
				t.Errorf("%s, %s: cell %d has a contrast of %.2f", m.medium, m.scheme, i, c[0])
			}
			different[fmt.Sprintf("%.4f", c[1])] = true
		}
		if len(different) < min(k, len(shades)) || k < 10 {
			t.Errorf("%s, %s: %d grounds of %d cells", m.medium, m.scheme, len(different), k)
		}
	}
	if texts := ask[[]string](x, `[...document.querySelectorAll("table.matrix td")].map(c => c.textContent)`); !slices.ContainsFunc(texts, func(c string) bool { return strings.HasPrefix(c, "+30.0") }) ||
		!slices.ContainsFunc(texts, func(c string) bool { return c == "0" }) {
		t.Errorf("the cells say %q", texts)
	}
	const window = `getComputedStyle(document.querySelector(".s-strip")).stroke`
	x.do(prefers("screen", "light"))
	day := ask[string](x, window)
	x.do(prefers("screen", "dark"))
	if night := ask[string](x, window); night == day || night == "none" {
		t.Errorf("the window of a pull is %s by day and %s by night", day, night)
	}
}

// prefers is a step after which the page is shown on a medium to somebody who
// prefers a scheme.
func prefers(medium, scheme string) step {
	return command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: medium, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
}

// TestDark: the page takes the reader's preference, and paper is light whatever it
// is.
func TestDark(t *testing.T) {
	x := shown(t, written(t, demo(t)))
	const ground = `getComputedStyle(document.body).backgroundColor`
	for _, c := range []struct{ medium, scheme, variable, want string }{
		{"screen", "light", "--paper", "#ffffff"}, {"screen", "dark", "--paper", byNight["paper"]},
		{"screen", "dark", "--b0", byNight["b0"]}, {"print", "dark", "--paper", "#ffffff"},
	} {
		x.do(prefers(c.medium, c.scheme))
		if got := ask[string](x, `getComputedStyle(document.documentElement).getPropertyValue("`+c.variable+`").trim()`); got != c.want {
			t.Errorf("%s, %s: %s is %s, want %s", c.medium, c.scheme, c.variable, got, c.want)
		}
	}
	x.do(prefers("screen", "dark"))
	if got := ask[string](x, ground); got != "rgb(21, 23, 26)" { // #15171a
		t.Errorf("the ground by night is %s", got)
	}
	if got := ask[string](x, `getComputedStyle(document.querySelector("figure svg text")).fill`); got != "rgb(233, 231, 226)" { // #e9e7e2
		t.Errorf("the charts' text by night is %s", got)
	}
}

// TestWithoutScript: all is there and to be opened where scripts do not run.
func TestWithoutScript(t *testing.T) {
	x := shown(t, written(t, demo(t)), command(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}))
	if n := ask[int](x, `document.querySelectorAll("button,input,.read").length`); n != 0 {
		t.Errorf("there are %d things that do nothing without the script", n)
	}
	x.do(run(`document.querySelectorAll("details").forEach(d => d.open = true)`))
	if all := ask[string](x, `document.body.innerText`); !strings.Contains(all, "19 months") || !strings.Contains(all, "Every value: assay at 25C60") {
		t.Error("the page lacks its answer or its values")
	}
	if n := ask[int](x, `[...document.querySelectorAll("td")].filter(c => c.getBoundingClientRect().height === 0).length`); n != 0 {
		t.Errorf("%d fields cannot be seen", n)
	}
}

// TestNarrow: at 320 CSS pixels nothing has to be scrolled sideways but a table or
// a chart in its own frame (WCAG 2.2, 1.4.10).
func TestNarrow(t *testing.T) {
	x := shown(t, written(t, demo(t)), command(emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 320, Height: 800, DeviceScaleFactor: 1, Mobile: true}))
	if w := ask[float64](x, `document.documentElement.scrollWidth`); w > 320 {
		wide := ask[[]string](x, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 321 && !e.closest(".scroll")).map(e => e.tagName + "." + e.className).slice(0, 5)`)
		t.Errorf("at 320 pixels the page is %.0f wide, by %q", w, wide)
	}
}

// TestOnPaper: printed, results that are folded stand, and tools do not.
func TestOnPaper(t *testing.T) {
	x := shown(t, written(t, wide(t)))
	if n := ask[int](x, `document.querySelectorAll("#results~details:not([open])").length`); n != 20 {
		t.Fatalf("%d attributes' results are folded, of 20", n)
	}
	pdf, err := chromedp.Run(x.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	if err != nil || len(pdf) < 100_000 {
		t.Errorf("on paper the page has %d bytes: %v", len(pdf), err)
	}
	if n := ask[int](x, `document.querySelectorAll("details[open]").length`); n != 0 {
		t.Errorf("after printing %d folds stay open", n)
	}
}

// TestKeyboard: the first stop of the Tab key skips to the conclusion, and no
// target of a pointer is smaller than 24 by 24 CSS pixels (WCAG 2.2, 2.5.8), but
// in a line of text.
func TestKeyboard(t *testing.T) {
	x := shown(t, written(t, demo(t)))
	x.do(chromedp.KeyEvent("\t"))
	if got := ask[string](x, `document.activeElement.className`); got != "skip" {
		t.Errorf("the first stop is %q", got)
	}
	x.do(chromedp.KeyEvent("\r"))
	x.until(`location.hash === "#conclusion"`)
	x.bring("Supported shelf life by attribute")
	small := ask[[]string](x, `[...document.querySelectorAll("button,input,summary,nav a")].filter(e => { const r = e.getBoundingClientRect(); return r.height > 0 && (r.height < 24 || r.width < 24) }).map(e => e.outerHTML.slice(0, 80))`)
	if len(small) > 0 {
		t.Errorf("small targets: %q", small)
	}
}

// TestAccessible asks axe, which SHELFSPAN_AXE names, by day and by night, with all
// folds open: of a part of the demo that has every kind of table and chart.
func TestAccessible(t *testing.T) {
	path := os.Getenv("SHELFSPAN_AXE")
	if path == "" {
		missing(t, "SHELFSPAN_AXE names no axe.min.js")
	}
	axe, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	in := demo(t)
	part := everything
	part.Attributes, part.Packs = []int{1, 4}, []int{0, 1}
	in.Evaluation = analysis.Evaluate(in.Evaluation.Dataset, part)
	page := written(t, in)
	for _, scheme := range []string{"light", "dark"} {
		x := shown(t, page, prefers("screen", scheme))
		x.bring("Supported shelf life by pack")
		x.do(run(`document.querySelectorAll("details").forEach(d => d.open = true)`), run(string(axe)))
		found := ask[[]string](x, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], resultTypes: ["violations"]}).then(r => r.violations.map(v => v.id + ": " + v.help + ", " + v.nodes.length + " times, first " + v.nodes[0].html.slice(0, 200) + " " + v.nodes[0].failureSummary))`)
		for _, f := range found {
			t.Errorf("%s: %s", scheme, f)
		}
	}
}
