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
		for _, c := range []struct {
			f    Filter
			want string
		}{
			{Filter{}, "[1 2 3 4 5 6]"},
			{Filter{Studies: []string{"SB"}}, "[1 4 5]"},
			{Filter{Studies: []string{"SB", "A9"}}, "[1 2 3 4 5 6]"},
			{Filter{Kinds: []study.EventKind{study.EventPull}}, "[3]"},
			{Filter{Kinds: []study.EventKind{study.EventPullPart, study.EventRegister}}, "[1 2 4]"},
			{Filter{By: "Bo"}, "[3 4]"},
			{Filter{Subject: "sb-25c60-3m"}, "[4]"},
			{Filter{Since: AsOf{Day: day("2025-04-15"), HasDay: true}}, "[3 4 5 6]"},
			{Filter{Until: AsOf{Day: day("2025-04-15"), HasDay: true}}, "[1 2 3 4]"},
			{Filter{Since: AsOf{Day: day("2025-04-15"), HasDay: true}, Until: AsOf{Day: day("2025-04-15"), HasDay: true}}, "[3 4]"},
			{Filter{Since: AsOf{Day: day("2025-04-17"), HasDay: true}}, "[]"},
			{Filter{Studies: []string{"SB"}, Kinds: []study.EventKind{study.EventPullPart, study.EventIntake}, By: "Bo", Since: AsOf{Day: day("2025-04-15"), HasDay: true}}, "[4]"},
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
		for _, c := range []struct {
			f    Filter
			says string
		}{
			{Filter{Studies: []string{"SB", "SC"}}, `the ledger has no study "SC"`},
			{Filter{By: "bo"}, `no event of the ledger is by "bo"`},
			{Filter{Subject: "SB-25C60-4M"}, `no event of the ledger is about "SB-25C60-4M"`},
		} {
			d.refuses(func() error { _, err := d.l.Events(ctx, c.f); return err }, c.says)
		}
	})
}
