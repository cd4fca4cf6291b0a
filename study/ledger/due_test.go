package ledger

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"shelfspan/study"
)

// A pull is due from the day planned on, which is the day after it was moved: three
// months from Monday 13 January are Sunday 13 April, and the samples are pulled on
// the Monday.
func TestDueByItsDay(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		for _, c := range []struct{ upTo, want string }{
			{"2025-01-12", ""},
			{"2025-01-13", "SB-T0 4"},
			{"2025-04-13", "SB-T0 4"},
			{"2025-04-14", "SB-T0 4, SB-25C60-3M 4"},
			{"2025-07-13", "SB-T0 4, SB-25C60-3M 4"},
			{"2025-07-14", "SB-T0 4, SB-25C60-3M 4, SB-25C60-6M 4"},
			{"2026-01-12", "SB-T0 4, SB-25C60-3M 4, SB-25C60-6M 4"},
			{"2026-01-13", "SB-T0 4, SB-25C60-3M 4, SB-25C60-6M 4, SB-25C60-12M 4"},
			{"2099-12-31", "SB-T0 4, SB-25C60-3M 4, SB-25C60-6M 4, SB-25C60-12M 4"},
		} {
			d.same("up to "+c.upTo, pulls(d.due(c.upTo)), c.want)
		}
		p := d.due("2025-04-14")[1]
		d.same("a pull", fmt.Sprintf("%s %s %s %s %s: %s, %s to %s, %d opened, %d returned, %v", p.Study, p.Pull, p.Condition, p.Chamber, p.Time, p.Date, p.Earliest, p.Latest, p.Units, p.Returned, p.Part),
			"SB SB-25C60-3M 25C60 room 3M: 2025-04-14, 2025-04-06 to 2025-04-20, 4 opened, 0 returned, false")
		zero := d.due("2025-04-14")[0]
		if zero.Condition != "" || zero.Chamber != "" || zero.Time != "0" {
			t.Errorf("%+v", zero)
		}
	})
}

// Over several studies, by day, chamber and id; each study by its protocol in force.
func TestDueOverStudies(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.same("of none", pulls(d.due("2025-05-01")), "")
		d.register(smallStudy, "")
		d.register(strings.Replace(smallStudy, `"SB"`, `"A9"`, 1), "")
		d.register(packsStudy, "")
		// B1 of PK was placed on 3 March and is due at one month on 3 April, B2 two weeks
		// later: the 17th.
		d.same("due", pulls(d.due("2025-04-17")),
			"A9-T0 4, SB-T0 4, PK-T0 2, PK-T0-20250317 2, PK-40C75-1M 3, PK-25C60-1M 3, A9-25C60-3M 4, SB-25C60-3M 4, PK-40C75-1M-20250317 3, PK-25C60-1M-20250317 3")
		d.same("of one", pulls(d.due("2025-04-17", "A9")), "A9-T0 4, A9-25C60-3M 4")
		d.same("of two", pulls(d.due("2025-04-01", "SB", "PK")), "SB-T0 4, PK-T0 2, PK-T0-20250317 2")
		d.refuses(func() error { _, err := d.l.Due(context.Background(), day("2025-04-17"), "SB", "PX"); return err }, `the ledger has no study "PX"`, "did you mean PK?")
		d.pull(PullRequest{Pull: "PK-40C75-1M", Arms: []string{"B1 can upright", "B1 tube"}, Day: day("2025-04-03")})
		d.pull(PullRequest{Pull: "A9-25C60-3M", Day: study.NoDate})
		d.register(strings.Replace(smallStudy, `"3M", `, "", 1), "not at three months")
		list := d.due("2025-04-17")
		d.same("due", pulls(list), "A9-T0 4, SB-T0 4, PK-T0 2, PK-T0-20250317 2, PK-40C75-1M 1 of part, PK-25C60-1M 3, PK-40C75-1M-20250317 3, PK-25C60-1M-20250317 3")
		for _, p := range list {
			if want := map[string]int{"PK-T0": 3, "PK-T0-20250317": 3, "PK-40C75-1M": 1, "PK-40C75-1M-20250317": 3}[p.Pull]; p.Returned != want {
				t.Errorf("%s: %d to be weighed, want %d", p.Pull, p.Returned, want)
			}
		}
	})
}
