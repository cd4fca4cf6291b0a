package intake

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/unitid"
)

// idOf writes an id as labels have it, of study MB-26: batch, pack, orientation,
// condition and what the unit is for; of time zero without orientation and
// condition.
func idOf(batch, pack string, o study.Orientation, condition, what string) string {
	return unitid.ID{Study: "MB-26", Batch: batch, Pack: pack, Orientation: o, Condition: condition, For: what, N: 2}.String()
}

// mistyped exchanges one character of an id, never the check character.
func mistyped(id string) string {
	at := strings.LastIndexByte(id, '/') - 1 // the number, 2
	return id[:at] + "3" + id[at+1:]
}

const armHead = "batch,condition,pack,orientation,time,attribute,value,unit\n"

func TestUnitIDs(t *testing.T) {
	jar := idOf("B1", "jar", study.Inverted, "25C60", "3M")
	weight := idOf("B1", "jar", study.Inverted, "25C60", "weight")
	zero := idOf("B1", "jar", "", "", unitid.TimeZero)
	reserve := idOf("B1", "jar", study.Inverted, "25C60", unitid.Reserve)
	cycles := idOf("B1", "tube", study.Upright, "freeze", "5C")
	elsewhere := unitid.ID{Study: "MB-27", Batch: "B1", Pack: "jar", For: unitid.TimeZero, N: 1}.String()
	const row = "B1,25C60,jar,inverted,3M,viscosity,5,"
	for name, c := range map[string]struct {
		row   string // and the label behind it
		label string
		want  string // the label kept, or what is wrong with it
	}{
		"opened then":                {row, jar, jar},
		"in lower case":              {row, strings.ToLower(jar), jar},
		"in upper case":              {row, strings.ToUpper(jar), jar},
		"put back":                   {row, weight, weight},
		"put back, in lower case":    {"B1,25C60,jar,inverted,3M,weight,150,", strings.ToLower(weight), ""},
		"of the reserve":             {row, reserve, reserve},
		"of the reserve, upper case": {row, strings.ToUpper(reserve), reserve},
		"at time zero":               {"B1,,jar,,0,viscosity,5,", zero, zero},
		"at time zero, lower case":   {"B1,,jar,,0,viscosity,5,", strings.ToLower(zero), zero},
		"at time zero, any place":    {"B1,40C75,jar,upright,0,viscosity,5,", zero, zero},
		"after some cycles":          {"B1,freeze,tube,,5C,viscosity,5,", cycles, cycles},
		"at a time not planned":      {"B1,25C60,jar,inverted,4M,viscosity,5,", jar, jar},
		"the same time otherwise":    {"B1,25C60,jar,inverted,1Y,viscosity,5,", idOf("B1", "jar", study.Inverted, "25C60", "12M"), idOf("B1", "jar", study.Inverted, "25C60", "12M")},

		"a lab's own":                 {row, "jar 7", "jar 7"},
		"a lab's own with a slash":    {row, "2026/7/A", "2026/7/A"},
		"a lab's own with many":       {row, "2026/11/25/1/K", "2026/11/25/1/K"},
		"another study's beginning":   {row, "MB-261/7", "MB-261/7"},
		"cut short":                   {row, strings.TrimSuffix(jar, jar[len(jar)-4:]), `unit: "MB-26/B1/jar/i/25C60/3M" is no id of a unit as this study's labels have them; scan it again, or copy it from the label`},
		"cut short, lower case":       {row, "mb-26/b1", `unit: "mb-26/b1" is no id of a unit as this study's labels have them; scan it again, or copy it from the label`},
		"mistyped":                    {row, mistyped(jar), `unit: "` + mistyped(jar) + `" is mistyped: its last character does not fit; scan it again, or copy it from the label`},
		"mistyped, at time zero":      {"B1,,jar,,0,viscosity,5,", mistyped(zero), `unit: "` + mistyped(zero) + `" is mistyped: its last character does not fit; scan it again, or copy it from the label`},
		"of another study":            {row, elsewhere, `unit: "` + elsewhere + `" is a unit of study MB-27`},
		"of another batch":            {row, idOf("B2", "jar", study.Inverted, "25C60", "3M"), `unit: "` + idOf("B2", "jar", study.Inverted, "25C60", "3M") + `" is a unit of B2 in jar, and the row says B1 in jar`},
		"of another pack":             {row, idOf("B1", "tube", study.Upright, "25C60", "3M"), `unit: "` + idOf("B1", "tube", study.Upright, "25C60", "3M") + `" is a unit of B1 in tube, and the row says B1 in jar`},
		"of no pack":                  {row, idOf("B1", "", study.Inverted, "25C60", "3M"), `unit: "` + idOf("B1", "", study.Inverted, "25C60", "3M") + `" is a unit of B1, and the row says B1 in jar`},
		"stored elsewhere":            {row, idOf("B1", "jar", study.Inverted, "40C75", "3M"), `unit: "` + idOf("B1", "jar", study.Inverted, "40C75", "3M") + `" is stored at 40C75, and the row says 25C60`},
		"stored nowhere":              {"B1,,jar,,0,weight,150,", idOf("B1", "jar", study.Inverted, "25C65", "weight"), `unit: "` + idOf("B1", "jar", study.Inverted, "25C65", "weight") + `" is stored at 25C65, which is no condition of the study`},
		"stored otherwise":            {row, idOf("B1", "jar", study.Upright, "25C60", "3M"), `unit: "` + idOf("B1", "jar", study.Upright, "25C60", "3M") + `" is stored upright, and the row says inverted`},
		"stored as the pack is never": {"B1,,jar,,0,weight,150,", idOf("B1", "jar", study.Horizontal, "25C60", "weight"), `unit: "` + idOf("B1", "jar", study.Horizontal, "25C60", "weight") + `" is stored horizontal, and pack jar upright, inverted`},
		"at another time":             {row, idOf("B1", "jar", study.Inverted, "25C60", "6M"), `unit: "` + idOf("B1", "jar", study.Inverted, "25C60", "6M") + `" is for 6M, and the row's time is 3M`},
		"for no known use":            {row, idOf("B1", "jar", study.Inverted, "25C60", "colour"), `unit: "` + idOf("B1", "jar", study.Inverted, "25C60", "colour") + `" is for colour, and the row's time is 3M`},
		"time zero, opened later":     {"B1,,jar,,0,viscosity,5,", jar, `unit: "` + jar + `" is for 3M, and the row's time is 0`},
		"time zero, of the reserve":   {"B1,,jar,,0,viscosity,5,", reserve, `unit: "` + reserve + `" is for reserve, and the row's time is 0`},
		"later, opened at time zero":  {row, zero, `unit: "` + zero + `" was opened at time zero, and the row's time is 3M`},
		"cycles where there are none": {"B1,,tube,,0,viscosity,5,", idOf("B1", "tube", study.Upright, "25C60", "5C"), `unit: "` + idOf("B1", "tube", study.Upright, "25C60", "5C") + `" is for 5C, and the row's time is 0`},
	} {
		t.Run(name, func(t *testing.T) {
			d, err := read(armHead + c.row + c.label + "\n")
			if c.want == "" { // the mass at time zero is missing, by the label as the study writes it
				c.want = "unit: unit " + weight + " has no mass at time zero (weight of batch B1 in jar inverted at 25C60, time 3M, unit " + weight + "); add its row with time 0, from before it was stored"
			}
			if strings.HasPrefix(c.want, "unit: ") {
				if diff := cmp.Diff("r.csv:2: "+c.want, faultsOf(t, d, err)); diff != "" {
					t.Error(diff)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got := d.Text(d.Results[0].Unit); got != c.want {
				t.Errorf("kept as %s, want %s", got, c.want)
			}
		})
	}
}

// A study with one unnamed pack leaves it out of its ids.
func TestUnitIDsWithoutPack(t *testing.T) {
	s := balm()
	s.Packs = []study.Pack{{Tare: math.NaN(), Orientations: []study.Orientation{study.Upright}}}
	const head = "batch,condition,time,attribute,value,unit\n"
	for label, want := range map[string]string{
		idOf("B1", "", study.Upright, "25C60", "3M"):     "",
		idOf("B1", "tube", study.Upright, "25C60", "3M"): `r.csv:2: unit: "` + idOf("B1", "tube", study.Upright, "25C60", "3M") + `" is a unit of B1 in tube, and the row says B1`,
		idOf("B1", "", study.Inverted, "25C60", "3M"):    `r.csv:2: unit: "` + idOf("B1", "", study.Inverted, "25C60", "3M") + `" is stored inverted, and the row says upright`,
	} {
		d, err := Read(s, source("r.csv", head+"B1,25C60,3M,viscosity,5,"+label+"\n"))
		if want == "" {
			if err != nil || d.Text(d.Results[0].Unit) != label {
				t.Errorf("%s: %v, %+v", label, err, d)
			}
			continue
		}
		if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
			t.Error(diff)
		}
	}
}

// The id of a unit that is put back says where it is stored, where its row at time
// zero does not: the mass then belongs to that unit, though others of other places
// are weighed too, and however the id is typed.
func TestUnitIDSaysThePlace(t *testing.T) {
	a, b := idOf("B1", "jar", study.Inverted, "25C60", "weight"), idOf("B1", "jar", study.Upright, "40C75", "weight")
	d, err := read(armHead +
		"B1,,jar,,0,weight,150," + strings.ToLower(a) + "\nB1,,jar,upright,0,weight,151," + b + "\n" +
		"B1,25C60,jar,inverted,3M,weight,149," + a + "\nB1,40C75,jar,upright,3M,weight,148," + strings.ToLower(b) + "\n" +
		"B1,,jar,,0,weight,152," + idOf("B1", "jar", study.Upright, "25C60", "weight") + "\n")
	if err != nil {
		t.Fatal(err)
	}
	type at struct {
		Condition   int16
		Orientation uint8
		Unit        string
	}
	var got []at
	for _, x := range d.Results {
		got = append(got, at{x.Condition, x.Orientation, d.Text(x.Unit)})
	}
	want := []at{{0, 1, a}, {1, 0, b}, {0, 1, a}, {1, 0, b}, {0, 0, idOf("B1", "jar", study.Upright, "25C60", "weight")}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	// The same mass with its condition in another table is the same result.
	d, _, err = ReadAll(balm(), named,
		source("a.csv", armHead+"B1,,jar,,0,weight,150,"+strings.ToLower(a)+"\n"),
		source("b.csv", armHead+"B1,25C60,jar,inverted,0,weight,150,"+a+"\nB1,25C60,jar,inverted,3M,weight,149,"+a+"\n"))
	if err != nil || len(d.Results) != 2 || slices.ContainsFunc(d.Results, func(x study.Result) bool { return x.Condition != 0 || x.Orientation != 1 }) {
		t.Errorf("%v, %+v", err, d)
	}
}
