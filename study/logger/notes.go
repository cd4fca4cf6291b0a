package logger

import (
	"fmt"
	"strconv"
	"strings"

	"shelfspan/study/finding"
)

// notes counts what is odd and no fault.
type notes struct {
	none    count // rows without a reading
	marks   []string
	repeats count
	back    count
	hour    count
	spikes  count
	value   float64 // of the first spike
}

// count is how often something was seen, and where first.
type count struct{ n, line int }

func (c *count) at(line int) {
	if c.n++; c.n == 1 {
		c.line = line
	}
}

// missing notes a row without a reading, and how the logger says so.
func (n *notes) missing(mark []byte, line int) {
	n.none.at(line)
	const most = 5
	if len(mark) == 0 || len(n.marks) >= most {
		return
	}
	text := quote(mark)
	for _, m := range n.marks {
		if m == text {
			return
		}
	}
	n.marks = append(n.marks, text)
}

func (n *notes) repeated(line int) { n.repeats.at(line) }
func (n *notes) setBack(line int)  { n.back.at(line) }
func (n *notes) ahead(line int)    { n.hour.at(line) }

func (n *notes) spike(celsius float64, line int) {
	if n.spikes.at(line); n.spikes.n == 1 {
		n.value = celsius
	}
}

// warnings words what was noted.
func (n *notes) warnings(l *Log) []finding.Warning {
	var out []finding.Warning
	add := func(code string, c count, text string) {
		where := l.Input.Path
		if c.line > 0 {
			where += ":" + strconv.Itoa(c.line)
		}
		out = append(out, finding.Warning{Code: code, Where: where, Text: text})
	}
	l.Missing = n.none.n
	if l.Unit == "" {
		l.Unit = Celsius
		add("unit-assumed", count{}, "Neither the header nor --unit says whether the temperatures are in °C or °F: they are taken as °C.")
	}
	if c := n.none; c.n > 0 {
		marked := ""
		if len(n.marks) > 0 {
			marked = " (" + strings.Join(n.marks, ", ") + ")"
		}
		add("no-reading", c, rows(c.n)+marked+" without a reading, here first: nothing is put in their place, and the time between the readings about them is judged as one interval.")
	}
	if c := n.repeats; c.n > 0 {
		add("repeated-time", c, rows(c.n)+" at the same time as the row before, here first: each of the readings of one time counts for its share.")
	}
	if c := n.back; c.n > 0 {
		add("clock-set-back", c, "The clock goes back by an hour, here first, as at the end of summer time: the reading is taken to follow the one before by the usual step.")
	}
	if c := n.hour; c.n > 0 {
		add("clock-set-ahead", c, "The clock goes ahead by an hour more than the usual step, here first, which may be the start of summer time: the hour is counted as if it had passed, or left out as a gap.")
	}
	if c := n.spikes; c.n > 0 {
		text := fmt.Sprintf("A reading of %.4g °C stands more than %d °C off both its neighbours", n.value, spike)
		if c.n > 1 {
			text = fmt.Sprintf("%d readings stand more than %d °C off both their neighbours, here first, of %.4g °C", c.n, spike, n.value)
		}
		add("spike", c, text+": a fault of the sensor, or real? It is counted as it stands.")
	}
	return out
}

func rows(n int) string {
	if n == 1 {
		return "1 row"
	}
	return strconv.Itoa(n) + " rows"
}
