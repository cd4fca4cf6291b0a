package words

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// afterName keeps what follows a name of another script where it belongs; it
// takes no room (LEFT-TO-RIGHT MARK).
const afterName = "\u200e"

// Sample says all of one sample in a line, for the mark that stands for it:
// batch, unit, when it was pulled, its value and what there is to mind.
func Sample(s *study.Study, a *analysis.Analysis, x *analysis.Sample) string {
	at := &s.Attributes[a.Attribute]
	var t strings.Builder
	t.WriteString("batch " + withName(s.Batches[x.Batch].ID))
	if x.Unit != "" {
		t.WriteString(", unit " + withName(x.Unit))
	}
	t.WriteString(", " + PulledAt(x) + ": " + Measured(at, x))
	if u := MeasuredIn(at); u != "" {
		t.WriteString(" " + u)
	}
	if x.Readings > 1 {
		t.WriteString(", " + Readings(at, x))
	}
	if r := Remarks(a, x); r != "" {
		t.WriteString("; " + r)
	}
	return t.String()
}

// withName is a name with what keeps its neighbours in place where it holds other
// letters than ASCII.
func withName(name string) string {
	for i := range len(name) {
		if name[i] >= 0x80 {
			return name + afterName
		}
	}
	return name
}

// PulledAt says when a sample was pulled: by the plan, and on which day.
func PulledAt(x *analysis.Sample) string {
	t := at(x.Planned)
	if x.Planned.IsZero() && x.PlannedMonths > 0 {
		t = Planned(math.Round(x.PlannedMonths*10)/10) + " months, off plan"
	}
	if x.Pulled != study.NoDate {
		t += ", pulled " + x.Pulled.String()
	}
	return t
}

// Readings says of how many readings a sample's value is the mean, and their range.
func Readings(at *study.Attribute, x *analysis.Sample) string {
	return fmt.Sprintf("mean of %d readings, %s to %s", x.Readings, Value(at, x.Low), Value(at, x.High))
}

// Remarks says what there is to mind of a sample; "" where there is nothing.
func Remarks(a *analysis.Analysis, x *analysis.Sample) string {
	var t []string
	if x.OutOfCriterion {
		t = append(t, "outside the criterion")
	}
	if !x.InWindow {
		t = append(t, "pulled outside its window")
	}
	if !x.Fitted && len(a.Fits) > 0 {
		t = append(t, "shown, not fitted")
	}
	return strings.Join(t, ", ")
}

// Rate says the rate of one condition in a line, for the mark that stands for it.
func Rate(s *study.Study, r *analysis.Arrhenius, q *analysis.Rate) string {
	_, unit := Scales(&s.Attributes[r.Attribute], r.Model)
	d := Decimals(2, q.SE)
	t := withName(s.Conditions[q.Condition].ID)
	if q.Batch >= 0 && r.ByBatch {
		t += ", batch " + withName(s.Batches[q.Batch].ID)
	}
	return fmt.Sprintf("%s, %s °C: %s ± %s %s", t, Number(q.Celsius, 4), strings.ReplaceAll(Fixed(q.PerMonth, d), "-", "−"), Fixed(q.SE, d), unit)
}

// Life says a predicted life in a line, for the mark that stands for it.
func Life(r *analysis.Arrhenius, p *analysis.Prediction) string {
	t := fmt.Sprintf("%s °C, predicted: estimate %s, bound %s (months)", Number(p.Celsius, 4), Estimate(p.Estimate), Bound(p.ShelfLife))
	if n := Predicted(r, p); n != "" {
		t += "; " + n
	}
	return t
}

// LeftOver says what a fit leaves over of one sample and where that stands among all
// residuals, for the mark that stands for it; the mark of its trend says the rest.
func LeftOver(s *study.Study, r *analysis.Residual) string {
	t := "batch " + withName(s.Batches[r.Sample.Batch].ID)
	if r.Sample.Unit != "" {
		t += ", unit " + withName(r.Sample.Unit)
	}
	return fmt.Sprintf("%s, %s: residual %s, normal quantile %s", t, PulledAt(r.Sample), minus(Number(r.Value, 3)), minus(Fixed(r.Normal, 2)))
}

// PullSays says when a pull was planned, its window and what became of it, for the
// mark that stands for it.
func PullSays(s *study.Study, p *schedule.Pull, state string) string {
	where := "before storage"
	if p.Condition >= 0 {
		where = withName(s.Conditions[p.Condition].ID)
	}
	return fmt.Sprintf("%s, %s, planned %s, window %s to %s: %s", where, at(p.Time), p.Date, p.Earliest, p.Latest, state)
}

// Rose says in which time a share of the units failed, for the box that stands for
// it.
func Rose(after, by, share float64) string {
	when := "between " + short(after) + " and " + short(by) + " months"
	if by <= after {
		when = "at " + short(by) + " months"
	}
	return when + ": " + Fixed(100*share, 1) + " % of the units failed"
}
