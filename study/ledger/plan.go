package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// planHead is the first line of a stored plan: what a version of a protocol
// asked for, a line a pull, as it was worked out when it was registered. A
// later program that would plan otherwise does not change it. Ids hold no commas.
const planHead = "pull,condition,time,chamber,date,earliest,latest,units,returned"

// writePlan writes the plan to be stored.
func writePlan(p *schedule.Schedule) []byte {
	var b bytes.Buffer
	b.WriteString(planHead + "\n")
	for i := range p.Pulls {
		x := &p.Pulls[i]
		if len(x.Lines) == 0 {
			continue // nothing is tested then
		}
		condition, chamber := "", ""
		if x.Condition >= 0 {
			c := &p.Study.Conditions[x.Condition]
			condition = c.ID
			if c.Chamber >= 0 {
				chamber = p.Study.Chambers[c.Chamber].ID
			}
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%s,%d,%d\n", x.ID, condition, x.Time, chamber, x.Date, x.Earliest, x.Latest, x.Units(), x.Returned())
	}
	return b.Bytes()
}

// plannedPull is one line of a stored plan. Its texts share the plan's memory.
type plannedPull struct {
	pull, condition, time, chamber string
	date, earliest, latest         study.Date
	units, returned                int
}

var errPlan = errors.New("a stored plan is not as it was written")

// farAway is a day after every pull.
var farAway = study.NewDate(9999, time.December, 31)

// eachPlanned calls f for the pulls of a stored plan that are planned up to a
// day, in the order of their dates.
func eachPlanned(plan string, upTo study.Date, f func(plannedPull)) error {
	head, rest, _ := strings.Cut(plan, "\n")
	if head != planHead {
		return errPlan
	}
	last := upTo.String()
	for rest != "" {
		var line string
		line, rest, _ = strings.Cut(rest, "\n")
		var field [9]string
		for i := range field {
			var more bool
			field[i], line, more = strings.Cut(line, ",")
			if more == (i == len(field)-1) {
				return errPlan
			}
		}
		if field[4] > last { // ISO 8601 days are in the order of their letters
			return nil
		}
		p := plannedPull{pull: field[0], condition: field[1], time: field[2], chamber: field[3]}
		for i, to := range []*study.Date{&p.date, &p.earliest, &p.latest} {
			var err error
			if *to, err = study.ParseDate(field[4+i]); err != nil {
				return errPlan
			}
		}
		for i, to := range []*int{&p.units, &p.returned} {
			var err error
			if *to, err = strconv.Atoi(field[7+i]); err != nil {
				return errPlan
			}
		}
		f(p)
	}
	return nil
}
