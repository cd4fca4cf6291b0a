package ledger

import (
	"strings"
	"testing"

	"shelfspan/study"
)

// Results are looked up in the order of their tables and lines, whatever became of
// them, with the id that amends them (its check character by an independent
// reckoning of ISO 7064 MOD 37,36).
func TestRows(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(packsStudy, "")
		d.pull(PullRequest{Pull: "PK-40C75-1M", Day: day("2025-04-02")})
		table := "batch,condition,pack,orientation,time,attribute,unit,replicate,tested,analyst,method,comment,value\n" +
			"B1,40C75,can,inverted,1M,viscosity,u1,1,2025-04-07,R Vale,SOP-7,stirred,25000\n" +
			"B1,40C75,can,inverted,1M,viscosity,u1,2,,,,,25010\n" +
			"B1,,tube,,0,viscosity,u2,,,,,,26000\n"
		d.takeIn("PK", File{"a.csv", []byte(table)})
		d.takeIn("PK", File{"b.csv", []byte("batch,condition,pack,time,attribute,unit,value\nB1,40C75,tube,1M,viscosity,u3,<100\n")})
		d.amend(AmendRequest{ID: "R3-2-viscosity-C", Exclude: true, Reason: "spindle slipped"})
		d.amend(AmendRequest{ID: "R3-3-viscosity-G", Value: "25100", Reason: "misread"})
		d.amend(AmendRequest{ID: "R3-4-viscosity-K", Exclude: true, Reason: "spilt"})
		d.amend(AmendRequest{ID: "R3-4-viscosity-K", Restore: true, Reason: "was not"})
		x := d.record("PK", AsOf{})
		data := d.dataset("PK", AsOf{})
		var rows []string
		for _, r := range x.Rows(data) {
			rows = append(rows, strings.Join([]string{r.ID, r.Batch, r.Condition, r.Arm, r.Pack, r.Standing, r.Time, r.Pulled, r.Tested, r.Attribute,
				r.Unit, r.Replicate, r.Value, r.Measure, changes(&study.Dataset{Changes: r.Changes}), r.Table, r.Analyst, r.Method, r.Comment}, "|"))
		}
		d.same("results", strings.Join(rows, "\n"), strings.Join([]string{
			"R3-2-viscosity-C|B1|40C75|B1 can inverted|can|inverted|1M|2025-04-02|2025-04-07|viscosity|u1|1|25000|mPa.s|R3-2-viscosity-C excluded at 25000: spindle slipped|a.csv|R Vale|SOP-7|stirred",
			"R3-3-viscosity-G|B1|40C75|B1 can inverted|can|inverted|1M|2025-04-02||viscosity|u1|2|25100|mPa.s|R3-3-viscosity-G amended 25010 to 25100: misread|a.csv|||",
			"R3-4-viscosity-K|B1||B1 tube|tube||0|||viscosity|u2||26000|mPa.s|R3-4-viscosity-K excluded at 26000: spilt; R3-4-viscosity-K restored at 26000: was not|a.csv|||",
			"R4-2-viscosity-K|B1|40C75|B1 tube|tube|upright|1M|2025-04-02||viscosity|u3||<100|mPa.s||b.csv|||",
		}, "\n"))
	})
}
