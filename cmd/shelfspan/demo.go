package main

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/analysis/simulate"
	"shelfspan/reports/text"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
)

//go:embed demo/study.toml
var demoStudy []byte

const (
	demoStudyFile = "study.toml"

	// demoMarker is the file that tells a demo's own folder, by its first line.
	demoMarker = "MADE-UP.txt"
	demoMark   = "Everything in this folder is made up by shelfspan demo."
)

// demoCommand is shelfspan demo.
func demoCommand() *cli.Command {
	return &cli.Command{
		Name:      "demo",
		Usage:     "a whole made-up study, planned, analysed and reported, in one go",
		UsageText: "shelfspan demo [--out DIR] [--seed N]",
		Description: `Makes up the results of a skin-care balm in three packs from a stated truth,
writes them out as the files a lab would have, and plays the other commands
on them. Since the truth is known, the true shelf life stands beside each
estimate. Nothing in it is about a real product.`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "shelfspan-demo", Usage: "write into `DIR`"},
			&cli.Uint64Flag{Name: "seed", Value: simulate.BalmSeed, Usage: "make the results up from seed `N`"},
		},
		Action: demo,
	}
}

func demo(c *cli.Context) error {
	if err := noArguments(c); err != nil {
		return err
	}
	d := &demonstration{c: c, dir: filepath.Clean(c.String("out")), printer: newPrinter(c.App.Writer)}
	if err := d.claimFolder(); err != nil {
		return err
	}
	for _, step := range []func() error{d.studyFile, d.results, d.plan, d.analyse, d.report, d.journey, d.conclude} {
		if err := step(); err != nil {
			return err
		}
	}
	return d.printer.Err()
}

// demonstration is one run of the demo.
type demonstration struct {
	c       *cli.Context
	dir     string
	printer *text.Printer

	study      *study.Study
	truth      []simulate.Path
	dataset    *study.Dataset
	evaluation *analysis.Evaluation
}

// claimFolder makes the folder, or takes over one that an earlier demo left;
// any other folder with something in it is refused.
func (d *demonstration) claimFolder() error {
	entries, err := os.ReadDir(d.dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(d.dir, 0o777); err != nil {
			return &hintedError{err: fmt.Errorf("%s cannot be made a directory: %w", d.dir, plainCause(err)), hint: "--out takes a directory to write into"}
		}
	case err != nil:
		return &hintedError{err: fmt.Errorf("%s cannot be used as a directory: %w", d.dir, plainCause(err)), hint: "name another one with --out DIR"}
	case len(entries) > 0:
		mark, err := os.ReadFile(filepath.Join(d.dir, demoMarker))
		if err != nil || !bytes.HasPrefix(mark, []byte(demoMark+"\n")) {
			return &hintedError{
				err:  fmt.Errorf("%s holds files that are not from a demo, and nothing in it is overwritten", d.dir),
				hint: "name another directory with --out DIR, or move its files away",
			}
		}
	}
	return nil
}

// write puts a file into the folder.
func (d *demonstration) write(name string, data []byte) error {
	return replaceFile(filepath.Join(d.dir, name), data)
}

// play runs a command of this program as if it were typed, with paths into the
// folder, and gives what would stand on the terminal.
func (d *demonstration) play(args ...string) ([]byte, error) {
	var terminal bytes.Buffer
	app := newApp(strings.NewReader(""), &terminal, &terminal)
	if err := play(d.c.Context, app, append([]string{"shelfspan"}, args...)); err != nil {
		return nil, fmt.Errorf("shelfspan %s, played by the demo, failed: %w", args[0], err)
	}
	return terminal.Bytes(), nil
}

// inputs are the options that name the study and its results.
func (d *demonstration) inputs() []string {
	args := []string{"--study", filepath.Join(d.dir, demoStudyFile)}
	for _, f := range simulate.BalmFiles() {
		args = append(args, "--results", filepath.Join(d.dir, f.Name))
	}
	return args
}

// show prints a command as it can be typed in the folder.
func (d *demonstration) show(command string, results bool, more string) {
	line := "   $ shelfspan " + command + " -s " + demoStudyFile
	if results {
		line += more + " \\\n      "
		for _, f := range simulate.BalmFiles() {
			line += " -r " + f.Name
		}
	} else {
		line += more
	}
	fmt.Fprintln(d.c.App.Writer, line)
}

// step heads a step of the story.
func (d *demonstration) step(n int, title string) { d.printer.Heading(fmt.Sprintf("%d. %s", n, title)) }

func (d *demonstration) tell(format string, args ...any) {
	d.printer.Hanging("   ", fmt.Sprintf(format, args...))
}

// studyFile writes the study file and reads it back.
func (d *demonstration) studyFile() error {
	s, err := protocol.Read(filepath.Join(d.dir, demoStudyFile), demoStudy)
	if err != nil {
		return err
	}
	d.study, d.truth = s, simulate.Balm()
	if err := d.write(demoMarker, d.statement()); err != nil {
		return err
	}
	if err := d.write(demoStudyFile, demoStudy); err != nil {
		return err
	}
	d.printer.Paragraph("A made-up study. The product, its packs and every result are invented, from seed " + fmt.Sprint(d.c.Uint64("seed")) +
		" and a truth that is known: so it can be seen how near the answers come to it.")
	d.step(1, "A study file says what is stored where, and what is measured when")
	d.tell("%s: %s; %d batches, %d packs, %d conditions, %d attributes; a shelf life of %s is sought.",
		demoStudyFile, s.Title, len(s.Batches), len(s.Packs), len(s.Conditions), len(s.Attributes), s.Claim)
	return nil
}

// results makes up the results and reads them back as the lab's.
func (d *demonstration) results() error {
	readings, err := simulate.Generate(d.study, d.truth, simulate.BalmVisits(), d.c.Uint64("seed"))
	if err != nil {
		return err
	}
	var sources []intake.Source
	for _, f := range simulate.BalmFiles() {
		var file bytes.Buffer
		if err := f.Write(&file, readings); err != nil {
			return err
		}
		if err := d.write(f.Name, file.Bytes()); err != nil {
			return err
		}
		sources = append(sources, intake.Source{Name: filepath.Join(d.dir, f.Name), Reader: &file})
	}
	d.dataset, err = intake.Read(d.study, sources...)
	return err
}

// plan plays the plan, and tells what came of it so far.
func (d *demonstration) plan() error {
	answer, err := d.play("plan", "--study", filepath.Join(d.dir, demoStudyFile), "--out", d.dir)
	if err != nil {
		return err
	}
	if err := d.write("plan.txt", answer); err != nil {
		return err
	}
	p := schedule.Plan(d.study)
	d.step(2, "The plan says what to pull on which day")
	d.show("plan", false, " -o .")
	d.tell("%d pulls from %s to %s, %d units to fill. Written: plan.txt, pulls.csv, samples.csv, calendar.ics.",
		len(p.Pulls), p.Pulls[0].Date, p.Pulls[len(p.Pulls)-1].Date, p.Units.Total())

	d.step(3, "Results come in as the lab's instruments write them")
	for i, f := range simulate.BalmFiles() {
		d.tell("%s: %d rows; %s.", f.Name, d.dataset.Inputs[i].Rows, f.About)
	}
	made, late, missing := 0, []string{}, []string{}
	status := schedule.Status(d.study, p, d.dataset)
	for i := range p.Pulls {
		name := p.ConditionName(p.Pulls[i].Condition) + " " + p.Pulls[i].Time.String()
		lines := schedule.Of(status, i)
		switch {
		case slices.ContainsFunc(lines, func(s schedule.PullStatus) bool { return s.State == schedule.Missing }):
			missing = append(missing, name)
		case slices.ContainsFunc(lines, func(s schedule.PullStatus) bool { return s.Results > 0 }):
			made++
			if slices.ContainsFunc(lines, func(s schedule.PullStatus) bool { return s.Outside != 0 }) {
				late = append(late, name)
			}
		}
	}
	d.tell("Not all went to plan: of the %d pulls made so far one was outside its window (%s), and one was never made (%s).",
		made, strings.Join(late, ", "), strings.Join(missing, ", "))
	return nil
}

// analyse evaluates the results, and plays the three answers for people and for
// scripts.
func (d *demonstration) analyse() error {
	d.evaluation = analysis.Evaluate(d.dataset, analysis.Options{Supported: true, Arrhenius: true, Interactions: analysis.InteractionOptions{Wanted: true}})
	for i, x := range []struct {
		command, title string
		more           func()
	}{
		{"trend", "How each attribute moves, condition by condition", func() {}},
		{"arrhenius", "What the temperatures say together", d.tellArrhenius},
		{"interactions", "Which pack or orientation harms the product, and what it costs", d.tellInteractions},
		{"shelf-life", "The shelf life that the data support, and by which rule", func() {}},
	} {
		args := append([]string{x.command}, d.inputs()...)
		for _, f := range []struct{ format, name string }{{formatText, x.command + ".txt"}, {formatJSON, x.command + ".json"}} {
			answer, err := d.play(append(args, "--format", f.format)...)
			if err != nil {
				return err
			}
			if err := d.write(f.name, answer); err != nil {
				return err
			}
		}
		d.step(4+i, x.title)
		d.show(x.command, true, "")
		d.tell("Written: %s.txt, %s.json.", x.command, x.command)
		x.more()
	}
	return nil
}

// tellArrhenius holds the activation energies found against the true one,
// where the truth is one Arrhenius line over all conditions.
func (d *demonstration) tellArrhenius() {
	for i := range d.truth {
		x := &d.truth[i]
		var found, bent []string
		for _, r := range d.evaluation.Arrhenius {
			if r.Status != analysis.Fitted || d.study.Attributes[r.Attribute].ID != x.Attribute {
				continue
			}
			pack := words.PackName(d.study, r.Pack, r.Orientation)
			found = append(found, fmt.Sprintf("%.0f (%.0f to %.0f) in %s", r.EaKJ, r.EaLow, r.EaHigh, pack))
			if r.BendsAt >= 0 {
				bent = append(bent, d.study.Conditions[r.BendsAt].ID+" in "+pack)
			}
		}
		switch {
		case len(found) == 0 || x.Drying:
		case x.SoftAt > 0 && len(bent) > 0:
			d.tell("%s: the truth leaves its line above %g °C; found to bend it: %s.", x.Attribute, x.SoftAt, strings.Join(bent, ", "))
		default:
			d.tell("%s: activation energy %g kJ/mol in truth; found %s.", x.Attribute, x.Ea, strings.Join(found, ", "))
		}
	}
}

// tellInteractions repeats what was found to harm.
func (d *demonstration) tellInteractions() {
	for _, t := range words.InteractionsConclusion(d.evaluation.Interactions, d.study) {
		d.tell("%s", t)
	}
}

// report plays the stability summary.
func (d *demonstration) report() error {
	if _, err := d.play(append([]string{"report", "--out", d.dir}, d.inputs()...)...); err != nil {
		return err
	}
	d.step(8, "The stability summary puts it all in one document")
	d.show("report", true, " -o .")
	d.tell("Written: report.pdf to sign and file, report.html to read on a screen, and beside them results.csv, fits.csv, schedule.csv and evaluation.json, from which anyone can work the numbers out again.")
	return nil
}

// journey makes up the log of a logger that travelled, and plays what it did to
// the product.
func (d *demonstration) journey() error {
	var log bytes.Buffer
	if err := simulate.WriteJourney(&log, d.c.Uint64("seed")); err != nil {
		return err
	}
	if err := d.write(simulate.JourneyFile, log.Bytes()); err != nil {
		return err
	}
	answer, err := d.play(append([]string{"mkt", filepath.Join(d.dir, simulate.JourneyFile), "--limit", "25"}, d.inputs()...)...)
	if err != nil {
		return err
	}
	if err := d.write("mkt.txt", answer); err != nil {
		return err
	}
	d.step(9, "What a journey did to the product")
	d.show("mkt "+simulate.JourneyFile, true, " --limit 25")
	d.tell("%s: four weeks with a pallet, two days of them in a lorry in a hot spell. Written: mkt.txt.", simulate.JourneyFile)
	return nil
}

// conclude tells the answer and holds it against the truth.
func (d *demonstration) conclude() error {
	p, e := d.printer, d.evaluation
	p.Heading("What came out")
	for _, line := range words.Conclusion(e) {
		p.Paragraph(line)
	}
	p.Heading("Pack by pack")
	for i := range e.Supported.Packs {
		v := &e.Supported.Packs[i]
		p.Hanging("- ", fmt.Sprintf("%s: %d months, by %s. %s", words.PackName(d.study, v.Pack, v.Orientation), v.Months, d.study.Attributes[v.Attribute].ID, words.Limit(e, v)))
	}
	d.holdAgainstTruth()
	p.Heading("Written to " + d.dir)
	p.Paragraph("What a lab would have: study.toml, results-lab.csv, rheometer.csv, weighings.csv, journey.csv. " +
		"What came of it: plan.txt, pulls.csv, samples.csv, calendar.ics; trend, arrhenius, interactions and shelf-life, each as .txt for people and .json for scripts; mkt.txt; report.pdf and report.html, and their data. " +
		"What is true: " + demoMarker + ". All of it is made up and says nothing about any product.")
	p.Paragraph("Look first at " + filepath.Join(d.dir, "report.pdf") + ", page 1, or open report.html in a browser; then at " + filepath.Join(d.dir, "shelf-life.txt") +
		". For a study of your own: shelfspan init.")
	return nil
}

// holdAgainstTruth shows the true shelf life of each attribute and pack beside
// its estimate, and names the bounds that are longer than the truth.
func (d *demonstration) holdAgainstTruth() {
	s, p := d.study, d.printer
	var rows [][]string
	var beyond, tooLong []string
	bounds := 0
	for i := range d.evaluation.Supported.Verdicts {
		v := &d.evaluation.Supported.Verdicts[i]
		place := words.Place(s, v.Attribute, v.Pack, v.Orientation)
		truth, _ := d.life(v.Attribute, v.Pack, v.Orientation)
		row := []string{s.Attributes[v.Attribute].ID, words.PackName(s, v.Pack, v.Orientation), words.Estimate(truth), "–", "–", strconv.Itoa(v.Months)}
		if !math.IsNaN(v.Regression) {
			bounds++
			row[3], row[4] = words.Estimate(v.Analysis.Estimate), words.Bound(v.Regression)
			if v.Regression > truth {
				beyond = append(beyond, place)
			}
		}
		if float64(v.Months) > truth {
			tooLong = append(tooLong, place)
		}
		rows = append(rows, row)
	}
	p.Heading("The truth beside the estimate, in months at " + words.Storage(s))
	p.Table([]text.Column{
		{Head: "attribute"}, {Head: "pack"},
		{Head: "true", Align: text.Right}, {Head: "estimate", Align: text.Right},
		{Head: "bound", Align: text.Right}, {Head: "supported", Align: text.Right},
	}, rows)
	p.Paragraph("True: when the true mean of the worst batch meets its limit. Estimate: when the fitted mean does. Bound: when its confidence limit does; grades have none. " +
		"Supported: the bound, or less where the rule on extrapolation ends sooner.")
	p.Paragraph(fmt.Sprintf("Bounds beyond the truth: %s; at %s confidence a few in a hundred are to be expected, and more where batches were pooled that truly differ. Supported shelf lives beyond the truth: %s.",
		outOf(beyond, bounds), words.Percent(d.evaluation.Confidence), outOf(tooLong, len(rows))))
}

// outOf counts names out of n, and gives them.
func outOf(names []string, n int) string {
	if len(names) == 0 {
		return fmt.Sprintf("none of %d", n)
	}
	return fmt.Sprintf("%d of %d (%s)", len(names), n, strings.Join(names, ", "))
}
