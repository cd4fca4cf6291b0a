package ledger

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"shelfspan/study"
)

func TestEventsByFilter(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		ctx := context.Background()
		d.register(smallStudy, "") // 1
		d.register(strings.Replace(smallStudy, `"SB"`, `"A9"`, 1), "")
		bo := *d.on("2025-04-15")
		bo.who.By = "Bo"
		bo.pull(PullRequest{Pull: "A9-25C60-3M", Day: study.NoDate})
		bo.pull(PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate, Arms: []string{"B1"}})
		d.on("2025-04-16").takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})
		d.on("2025-04-16").withdraw("A9-25C60-3M")
		none := study.NoDate
		for _, c := range []struct {
			f    Filter
			want string
		}{
			{Filter{Since: none, Until: none}, "[1 2 3 4 5 6]"},
			{Filter{Studies: []string{"SB"}, Since: none, Until: none}, "[1 4 5]"},
			{Filter{Studies: []string{"SB", "A9"}, Since: none, Until: none}, "[1 2 3 4 5 6]"},
			{Filter{Kinds: []study.EventKind{study.EventPull}, Since: none, Until: none}, "[3]"},
			{Filter{Kinds: []study.EventKind{study.EventPullPart, study.EventRegister}, Since: none, Until: none}, "[1 2 4]"},
			{Filter{By: "Bo", Since: none, Until: none}, "[3 4]"},
			{Filter{By: "bo", Since: none, Until: none}, "[]"},
			{Filter{Since: day("2025-04-15"), Until: none}, "[3 4 5 6]"},
			{Filter{Since: none, Until: day("2025-04-15")}, "[1 2 3 4]"},
			{Filter{Since: day("2025-04-15"), Until: day("2025-04-15")}, "[3 4]"},
			{Filter{Since: day("2025-04-17"), Until: none}, "[]"},
			{Filter{Studies: []string{"SB"}, Kinds: []study.EventKind{study.EventPullPart, study.EventIntake}, By: "Bo", Since: day("2025-04-15"), Until: none}, "[4]"},
		} {
			events, err := d.l.Events(ctx, c.f)
			if err != nil {
				t.Fatal(err)
			}
			seqs := []int64{}
			for _, e := range events {
				seqs = append(seqs, e.Seq)
			}
			d.same(fmt.Sprintf("%+v", c.f), seqs, c.want)
		}
		d.refuses(func() error {
			_, err := d.l.Events(ctx, Filter{Studies: []string{"SB", "SC"}, Since: none, Until: none})
			return err
		}, `the ledger has no study "SC"`)
	})
}
