package ledger

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"shelfspan/study"
)

// The made-up studies of the model: two batches of two units at each pull of one
// condition, the pulls changing with the version.
var (
	modelStudies  = []string{"MA", "MB"}
	modelVersions = []string{`"3M", "6M"`, `"3M", "6M", "9M"`, `"6M"`} // six months in each
	modelTimes    = []string{"3M", "6M", "9M"}
	modelBatches  = []string{"B1", "B2"}
	modelValues   = []string{"99.1", "98.4", "97.7"}
)

// modelDue has the days of the pulls: the 13th of April, July and October 2025, a
// Sunday, a Sunday and a Monday. The windows are a week to either side.
var modelDue = map[string]study.Date{"3M": day("2025-04-13"), "6M": day("2025-07-13"), "9M": day("2025-10-13")}

const modelUnits = 2 // planned of either batch at each pull

func modelText(id, pulls string) string {
	return strings.NewReplacer(`"SB"`, `"`+id+`"`, `"0", "3M", "6M", "12M"`, pulls).Replace(smallStudy)
}

// model is what a ledger should hold, kept the plain way: what stands is changed in
// place, and after each event a description of it is put aside.
type model struct {
	studies map[string]*modelStudy
	clock   time.Time
	days    []string            // of the events, in order
	tables  map[int64][]byte    // by the event that took them in
	then    []map[string]string // after each event, what stood of each study
}

type modelStudy struct {
	id      string
	version int
	pulls   string
	results []*modelResult // in the order they were taken in
	files   map[string]int64
	records []*modelRecord
	changes []string
	last    int64 // event
}

type modelResult struct {
	batch, time, unit string
	id                string
	had               []string // values, the last in force
	excluded          bool
}

func (r *modelResult) value() string { return r.had[len(r.had)-1] }
func (r *modelResult) key() string   { return r.batch + " " + r.time + " " + r.unit }

type modelRecord struct {
	pull, time          string
	day                 study.Date
	outside             int
	units               map[string]int // by batch; one that is in it was taken of
	complete, withdrawn bool
}

// planned reports whether the protocol in force has a pull at a time.
func (s *modelStudy) planned(time string) bool { return strings.Contains(s.pulls, `"`+time+`"`) }

// taken gives what was taken of a batch at a pull, and whether anything was, nought
// units too.
func (s *modelStudy) taken(time, batch string) (units int, touched bool) {
	for _, r := range s.records {
		if n, ok := r.units[batch]; ok && r.time == time && !r.withdrawn {
			units, touched = units+n, true
		}
	}
	return units, touched
}

func (s *modelStudy) complete(time string) bool {
	return slices.ContainsFunc(s.records, func(r *modelRecord) bool { return r.time == time && r.complete && !r.withdrawn })
}

// describe says what stands of a study, as described does of a record.
func (s *modelStudy) describe() string {
	out := []string{fmt.Sprintf("version %d, event %d", s.version, s.last)}
	for _, r := range s.results {
		first := study.NoDate
		for _, p := range s.records {
			if _, ok := p.units[r.batch]; ok && p.time == r.time && !p.withdrawn && (first == study.NoDate || p.day < first) {
				first = p.day
			}
		}
		out = append(out, fmt.Sprintf("%s %s = %s, pulled %s, excluded %v", r.id, r.key(), r.value(), first, r.excluded))
	}
	slices.Sort(out[1:])
	for _, r := range s.records {
		text := fmt.Sprintf("%s on %s, outside %d, complete %v, withdrawn %v:", r.pull, r.day, r.outside, r.complete, r.withdrawn)
		for _, b := range slices.Sorted(maps.Keys(r.units)) {
			text += fmt.Sprintf(" %s %d", b, r.units[b])
		}
		out = append(out, text)
	}
	return strings.Join(append(out, s.changes...), "\n")
}

// described says what a record of the ledger has.
func described(x *Record) (string, error) {
	d, err := x.Dataset()
	if err != nil {
		return "", err
	}
	out := []string{fmt.Sprintf("version %d, event %d", x.Mark.Version, x.Mark.Event)}
	for k, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			r := &list[i]
			out = append(out, fmt.Sprintf("%s %s %s %s = %s, pulled %s, excluded %v",
				x.ResultID(r), d.Study.Batches[r.Batch].ID, r.Planned, d.Text(r.Unit), study.ValueText(d.Study, r), r.Pulled, k == 1))
		}
	}
	slices.Sort(out[1:])
	for _, r := range d.Pulls {
		text := fmt.Sprintf("%s on %s, outside %d, complete %v, withdrawn %v:", r.Pull, r.Day, r.Outside, r.Complete, r.Withdrawn)
		for _, l := range r.Lines {
			text += fmt.Sprintf(" %s %d", l.Batch, l.Units)
		}
		out = append(out, text)
	}
	for _, c := range d.Changes {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %s %s", c.ID, c.Kind, c.Before, c.After)))
	}
	return strings.Join(out, "\n"), nil
}

// happened notes an event of a study.
func (m *model) happened(s *modelStudy) {
	m.days = append(m.days, m.clock.Format(time.DateOnly))
	s.last = int64(len(m.days))
	now := make(map[string]string)
	for id, s := range m.studies {
		if s.version > 0 {
			now[id] = s.describe()
		}
	}
	m.then = append(m.then, now)
}

// player plays steps on a ledger and on the model, and holds the one to the other.
type player struct {
	*rapid.T
	l     *Ledger
	where string
	m     *model
}

func pick[T any](t *rapid.T, name string, of ...T) T { return rapid.SampledFrom(of).Draw(t, name) }

// mostly is true seven times in eight.
func (p *player) mostly(what string) bool {
	return pick(p.T, "mostly "+what, true, true, true, true, true, true, true, false)
}

// some gives a study, mostly one that is registered.
func (p *player) some() *modelStudy {
	var of []*modelStudy
	for _, id := range modelStudies {
		if s := p.m.studies[id]; s.version > 0 {
			of = append(of, s)
		}
	}
	if !p.mostly("registered") {
		return p.m.studies[pick(p.T, "study", modelStudies...)]
	}
	return pick(p.T, "registered", of...)
}

// reason gives a reason, mostly.
func (p *player) reason() string {
	if p.mostly("a reason") {
		return "a reason"
	}
	return ""
}

// outcome checks that a step was refused just where the model refuses it.
func (p *player) outcome(err error, refused string) bool {
	p.Helper()
	switch {
	case err == nil && refused != "":
		p.Fatalf("not refused: %s", refused)
	case err != nil && refused == "":
		p.Fatalf("refused: %v", err)
	}
	return err == nil
}

func (p *player) author() Author {
	p.m.clock = p.m.clock.Add(time.Duration(rapid.IntRange(-30, 60).Draw(p.T, "hours")) * time.Hour)
	return Author{By: pick(p.T, "by", "Ines", "Bo"), Now: p.m.clock}
}

func (p *player) register() {
	id, pulls, reason := pick(p.T, "study", modelStudies...), pick(p.T, "version", modelVersions...), p.reason()
	s := p.m.studies[id]
	a := p.author()
	refused := ""
	if s.version > 0 && s.pulls != pulls && reason == "" {
		refused = "a change without a reason"
	}
	out, err := p.l.Register(context.Background(), a, "study.toml", []byte(modelText(id, pulls)), reason)
	if !p.outcome(err, refused) {
		return
	}
	if known := s.version > 0 && s.pulls == pulls; out.Known != known {
		p.Fatalf("known %v, want %v", out.Known, known)
	} else if !known {
		s.version, s.pulls = s.version+1, pulls
		p.m.happened(s)
	}
}

func (p *player) takeIn() {
	s := p.some()
	a := p.author()
	refused := ""
	if s.version == 0 {
		refused = "no study"
	}
	var files []File
	var fresh []*modelResult
	known := make(map[string]bool)
	had := make(map[string][]string)
	for _, r := range s.results {
		had[r.key()] = r.had
	}
	event := int64(len(p.m.days))
	events := make(map[string]int64)
	for n := range rapid.IntRange(1, 2).Draw(p.T, "files") {
		var rows []string
		var added []*modelResult
		inTable := make(map[string]bool)
		bad := ""
		for range rapid.IntRange(1, 3).Draw(p.T, "rows") {
			r := &modelResult{batch: pick(p.T, "batch", modelBatches...), time: pick(p.T, "time", modelTimes...), unit: pick(p.T, "unit", "1", "2"), had: []string{pick(p.T, "value", modelValues...)}}
			if inTable[r.key()] {
				continue
			}
			inTable[r.key()] = true
			rows = append(rows, r.key()+" "+r.value())
			switch before := had[r.key()]; {
			case before == nil:
				r.id = fmt.Sprintf("%d-%d", n, len(rows)+1)
				added = append(added, r)
			case !slices.Contains(before, r.value()):
				bad = "another value for " + r.key()
			}
		}
		f := File{Name: fmt.Sprintf("%d.csv", n), Data: results(rows...)}
		sum := sumOf(string(f.Data))
		if slices.ContainsFunc(files, func(other File) bool { return string(other.Data) == string(f.Data) }) {
			continue // the same twice in one go is refused, and tested elsewhere
		}
		files = append(files, f)
		if s.files[sum] > 0 {
			known[sum] = true
			continue
		}
		if bad != "" && refused == "" {
			refused = bad
		}
		event++
		events[sum] = event
		for _, r := range added {
			r.id = strings.Replace(r.id, fmt.Sprint(n), fmt.Sprint(event), 1)
			had[r.key()] = r.had
			fresh = append(fresh, r)
		}
	}
	out, err := p.l.TakeIn(context.Background(), a, s.id, files...)
	if !p.outcome(err, refused) {
		return
	}
	for i, f := range files {
		sum := sumOf(string(f.Data))
		if out.Tables[i].Known != known[sum] {
			p.Fatalf("%s: known %v, want %v", f.Name, out.Tables[i].Known, known[sum])
		}
		if known[sum] {
			continue
		}
		for _, r := range fresh {
			if table, line, _ := strings.Cut(r.id, "-"); table == fmt.Sprint(events[sum]) {
				r.id = modelID(table, line)
				s.results = append(s.results, r)
			}
		}
		s.files[sum] = events[sum]
		p.m.tables[events[sum]] = f.Data
		p.m.happened(s)
	}
}

// modelID gives a result's id; that its check character is right is tested by
// itself.
func modelID(table, line string) string {
	var t int64
	var l int
	fmt.Sscan(table, &t)
	fmt.Sscan(line, &l)
	return resultID(t, l, "assay")
}

func (p *player) amend() {
	s := p.some()
	a := p.author()
	q := AmendRequest{ID: resultID(1, 2, "assay"), Reason: p.reason()}
	refused := "no such result" // event 1 is a registration
	var r *modelResult
	if len(s.results) > 0 {
		r, refused = pick(p.T, "result", s.results...), ""
		q.ID = r.id
	}
	kind := pick(p.T, "kind", study.Amended, study.Excluded, study.Restored)
	switch kind {
	case study.Amended:
		q.Value = pick(p.T, "value", append(modelValues, "thick")...)
		if r != nil && (q.Value == "thick" || q.Value == r.value()) {
			refused = "no other value"
		}
	case study.Excluded:
		if q.Exclude = true; r != nil && r.excluded {
			refused = "excluded already"
		}
	case study.Restored:
		if q.Restore = true; r != nil && !r.excluded {
			refused = "in the analysis"
		}
	}
	if q.Reason == "" {
		refused = "no reason"
	}
	_, err := p.l.Amend(context.Background(), a, q)
	if !p.outcome(err, refused) {
		return
	}
	s.changes = append(s.changes, strings.TrimSpace(fmt.Sprintf("%s %s %s %s", r.id, kind, r.value(), q.Value)))
	switch kind {
	case study.Amended:
		r.had = append(slices.Clone(r.had), q.Value)
	default:
		r.excluded = kind == study.Excluded
	}
	p.m.happened(s)
}

func (p *player) pull() {
	s := p.some()
	a := p.author()
	at := pick(p.T, "time", "6M", "6M", "3M", "9M")
	offset := pick(p.T, "offset", 0, 0, 0, -7, 7, -8, 8, 20)
	q := PullRequest{
		Pull: s.id + "-25C60-" + at, Day: modelDue[at] + study.Date(offset), Arms: slices.Clone(pick(p.T, "arms", nil, nil, modelBatches[:1], modelBatches[1:], modelBatches)),
		Final: pick(p.T, "final", false, false, false, true), Reason: p.reason(),
	}
	r := &modelRecord{pull: q.Pull, time: at, day: q.Day, units: make(map[string]int)}
	if r.outside = max(0, offset-7); offset < 0 {
		r.outside = min(0, offset+7)
	}
	left := func(batch string) int {
		n, _ := s.taken(at, batch)
		return max(0, modelUnits-n)
	}
	done := func(batch string) bool { _, touched := s.taken(at, batch); return touched && left(batch) == 0 }
	if len(q.Arms) == 1 && pick(p.T, "some units", false, true) {
		q.Units = number(rapid.IntRange(0, left(q.Arms[0])).Draw(p.T, "units"))
	}
	arms := q.Arms
	if len(arms) == 0 && !q.Final {
		arms = slices.DeleteFunc(slices.Clone(modelBatches), done)
	}
	some := false
	for _, b := range arms {
		r.units[b] = left(b)
		if q.Units != nil {
			r.units[b] = *q.Units
		}
		some = some || r.units[b] > 0
	}
	refused := ""
	switch {
	case !s.planned(at):
		refused = "not planned"
	case r.outside != 0 && q.Reason == "", q.Final && q.Reason == "":
		refused = "no reason"
	case s.complete(at) && (q.Final || len(q.Arms) == 0):
		refused = "recorded already"
	case !some && !q.Final:
		refused = "nothing is taken"
	}
	if !some {
		r.units = nil
	}
	_, err := p.l.Pull(context.Background(), a, q)
	if !p.outcome(err, refused) {
		return
	}
	s.records = append(s.records, r)
	r.complete = q.Final || done("B1") && done("B2")
	p.m.happened(s)
}

func (p *player) withdraw() {
	s := p.some()
	a := p.author()
	at, reason := pick(p.T, "time", modelTimes...), p.reason()
	if len(s.records) > 0 && p.mostly("recorded") {
		at = pick(p.T, "record", s.records...).time
	}
	refused := ""
	if reason == "" || !s.planned(at) || !slices.ContainsFunc(s.records, func(r *modelRecord) bool { return r.time == at && !r.withdrawn }) {
		refused = "nothing to withdraw, or no reason"
	}
	_, err := p.l.WithdrawPull(context.Background(), a, s.id+"-25C60-"+at, reason)
	if !p.outcome(err, refused) {
		return
	}
	for _, r := range s.records {
		r.withdrawn = r.withdrawn || r.time == at
	}
	p.m.happened(s)
}

// reopen closes the ledger and opens it again.
func (p *player) reopen() {
	if err := p.l.Close(); err != nil {
		p.Fatal(err)
	}
	l, err := Open(context.Background(), p.where)
	if err != nil {
		p.Fatal(err)
	}
	p.l = l
}

// holds checks that the ledger has what the model has, at its last event or an
// earlier one.
func (p *player) holds(state AsOf, want map[string]string) {
	p.Helper()
	for id := range p.m.studies {
		x, err := p.l.Study(context.Background(), id, state)
		if want[id] == "" {
			if err == nil {
				p.Fatalf("%+v: the ledger has %s", state, id)
			}
			continue
		}
		if err != nil {
			p.Fatalf("%+v: %v", state, err)
		}
		got, err := described(x)
		if err != nil {
			p.Fatalf("%+v: %v", state, err)
		}
		if got != want[id] {
			p.Fatalf("%+v, %s:\n%s\n\nwant\n%s", state, id, got, want[id])
		}
	}
}

// due checks what is still to be pulled.
func (p *player) due() {
	list, err := p.l.Due(context.Background(), day("2026-01-01"))
	if err != nil {
		p.Fatal(err)
	}
	var want []string
	for _, at := range modelTimes {
		for _, id := range modelStudies {
			s := p.m.studies[id]
			if s.version == 0 || !s.planned(at) || s.complete(at) {
				continue
			}
			units, part := 0, false
			for _, b := range modelBatches {
				n, touched := s.taken(at, b)
				units, part = units+max(0, modelUnits-n), part || touched
			}
			text := fmt.Sprintf("%s-25C60-%s %d", id, at, units)
			if part {
				text += " of part"
			}
			want = append(want, text)
		}
	}
	if got := pulls(list); got != strings.Join(want, ", ") {
		p.Fatalf("due: %s\nwant %s", got, want)
	}
}

// sound checks the whole ledger, and that nothing which came into it is lost: each
// table is there by its bytes, and each value a result ever had stands in the
// results or as what a change changed.
func (p *player) sound() {
	ctx := context.Background()
	v, err := p.l.Verify(ctx, "", nil)
	if err != nil || len(v.Faults) > 0 || v.Events != int64(len(p.m.days)) {
		p.Fatalf("%+v, %v; want %d events", v, err, len(p.m.days))
	}
	for event, data := range p.m.tables {
		var kept []byte
		if err := p.l.db.QueryRow(`SELECT content FROM stored_file WHERE sha256 = (SELECT file FROM event WHERE seq = $1)`, event).Scan(&kept); err != nil || string(kept) != string(data) {
			p.Fatalf("the table of event %d: %q, %v\nwant %q", event, kept, err, data)
		}
	}
	for id, s := range p.m.studies {
		if len(s.results) == 0 {
			continue
		}
		x, err := p.l.Study(ctx, id, AsOf{})
		if err != nil {
			p.Fatal(err)
		}
		d, err := x.Dataset()
		if err != nil {
			p.Fatal(err)
		}
		stands := make(map[string]bool)
		for _, row := range x.Rows(d) {
			stands[row.ID+" "+row.Value] = true
		}
		for _, c := range d.Changes {
			stands[c.ID+" "+c.Before] = true
		}
		for _, r := range s.results {
			for _, value := range r.had {
				if !stands[r.id+" "+value] {
					p.Fatalf("%s had the value %s, and it is gone", r.id, value)
				}
			}
		}
	}
}

// asOf checks every state there was, by its event, and those of the days, each of
// which ends before the first event of a later day.
func (p *player) asOf() {
	for i, then := range p.m.then {
		p.holds(AsOf{Event: int64(i + 1)}, then)
	}
	for _, d := range p.m.days {
		later := slices.IndexFunc(p.m.days, func(other string) bool { return other > d })
		switch later {
		case -1:
			p.holds(AsOf{Day: day(d), HasDay: true}, p.m.then[len(p.m.then)-1])
		case 0: // the clock was set back behind the first event
			var refusal *Refusal
			if _, err := p.l.Studies(context.Background(), AsOf{Day: day(d), HasDay: true}); !errors.As(err, &refusal) {
				p.Fatalf("as of %s, before the first event: %v", d, err)
			}
		default:
			p.holds(AsOf{Day: day(d), HasDay: true}, p.m.then[later-1])
		}
	}
}

// Whatever people do, in whatever order: what is refused changes nothing, what is
// done stands as the model has it, nothing is lost, the chain holds, and every state
// there was can be seen again.
func TestAnyWork(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	ledgers := 0
	rapid.Check(t, func(rt *rapid.T) {
		ledgers++
		dir := filepath.Join(folder, fmt.Sprint(ledgers))
		if err := os.Mkdir(dir, 0o755); err != nil {
			rt.Fatal(err)
		}
		p := &player{T: rt, where: filepath.Join(dir, "lab.db"), m: &model{
			studies: make(map[string]*modelStudy), clock: time.Date(2026, 2, 2, 12, 0, 0, 0, noon.Location()), tables: make(map[int64][]byte),
		}}
		for _, id := range modelStudies {
			p.m.studies[id] = &modelStudy{id: id, files: make(map[string]int64)}
		}
		var err error
		if p.l, err = Create(context.Background(), p.where); err != nil {
			rt.Fatal(err)
		}
		defer func() { p.l.Close() }()
		steps := []func(){p.amend, p.amend, p.amend, p.pull, p.pull, p.pull, p.takeIn, p.takeIn, p.withdraw, p.register, p.reopen}
		p.register()
		p.takeIn()
		for range rapid.IntRange(8, 14).Draw(rt, "steps") {
			pick(rt, "step", steps...)()
			now := make(map[string]string)
			if n := len(p.m.then); n > 0 {
				now = p.m.then[n-1]
			}
			p.holds(AsOf{}, now)
			p.due()
		}
		p.sound()
		p.asOf()
	})
}
