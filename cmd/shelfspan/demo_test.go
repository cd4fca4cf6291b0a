package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"shelfspan/analysis/simulate"
	"shelfspan/reports/words"
	"shelfspan/study/protocol"
)

const demoData = "../../testdata/demo"

// playDemo runs the demo into a new folder and gives what it said.
func playDemo(t *testing.T, args ...string) (dir, story string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "d")
	var out, errs bytes.Buffer
	if status := run(context.Background(), append([]string{"shelfspan", "demo", "-o", dir}, args...), strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatalf("status %d: %s", status, errs.String())
	}
	if errs.Len() > 0 {
		t.Errorf("the demo warned: %s", errs.String())
	}
	return dir, out.String()
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// The files of the demo are those of testdata/demo, byte for byte.
func TestDemoWritesTheCommittedFiles(t *testing.T) {
	dir, _ := playDemo(t)
	names := []string{demoStudyFile}
	for _, f := range simulate.BalmFiles() {
		names = append(names, f.Name)
	}
	names = append(names, simulate.JourneyFile)
	for _, name := range names {
		if diff := cmp.Diff(string(read(t, filepath.Join(demoData, name))), string(read(t, filepath.Join(dir, name)))); diff != "" {
			t.Errorf("%s differs from the committed one (-committed +written):\n%.600s", name, diff)
		}
	}
}

// The truth table of testdata/demo/README.md is that of the code.
func TestDemoReadmeStatesTheTruth(t *testing.T) {
	s, err := protocol.Read(demoStudyFile, demoStudy)
	if err != nil {
		t.Fatal(err)
	}
	d := demonstration{study: s, truth: simulate.Balm()}
	readme := string(read(t, filepath.Join(demoData, "README.md")))
	for a := range s.Attributes {
		row := "| " + s.Attributes[a].ID + " |"
		for k := range s.Packs {
			for o := range s.Packs[k].Orientations {
				months, _ := d.life(a, k, o)
				row += " " + words.Estimate(months) + " |"
			}
		}
		if !strings.Contains(readme, "\n"+row) {
			t.Errorf("the README lacks %q", row)
		}
	}
	if !strings.Contains(readme, fmt.Sprintf("The seed is %d.", simulate.BalmSeed)) {
		t.Errorf("the README does not state the seed %d", simulate.BalmSeed)
	}
}

// What came out is what the truth was made for: each pack ends by another rule.
func TestDemoTellsItsStory(t *testing.T) {
	dir, story := playDemo(t)
	var answer struct {
		Supported struct {
			Months      int
			Attribute   string
			Pack        string
			Orientation string
			MeetsClaim  bool `json:"meets_claim"`
		}
	}
	if err := json.Unmarshal(read(t, filepath.Join(dir, "shelf-life.json")), &answer); err != nil {
		t.Fatal(err)
	}
	got := answer.Supported
	if got.Months != 19 || got.Attribute != "viscosity" || got.Pack != "can" || got.Orientation != "inverted" || got.MeetsClaim {
		t.Errorf("supported: %+v; want 19 months, by viscosity in the inverted can, and the claim not met", got)
	}
	row := regexp.MustCompile(`(?m)^viscosity +can inverted +21\.4 +[0-9.]+ +19\.0 +19$`)
	if !row.MatchString(story) {
		t.Errorf("the story does not hold the inverted can's 19 months against the true 21.4:\n%s", story)
	}
}

func TestDemoOfAnotherSeed(t *testing.T) {
	dir, story := playDemo(t, "--seed", "7")
	if bytes.Equal(read(t, filepath.Join(dir, "weighings.csv")), read(t, filepath.Join(demoData, "weighings.csv"))) {
		t.Error("seed 7 gave the results of seed 25")
	}
	for what, told := range map[string]string{"the story": story, demoMarker: string(read(t, filepath.Join(dir, demoMarker)))} {
		if !strings.Contains(strings.Join(strings.Fields(told), " "), "seed 7") {
			t.Errorf("%s does not tell the seed", what)
		}
	}
}
