package protocol

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// spoil replaces the one place in base where old stands.
func spoil(t *testing.T, text, old, new string) string {
	t.Helper()
	if n := strings.Count(text, old); n != 1 {
		t.Fatalf("%q stands %d times", old, n)
	}
	return strings.Replace(text, old, new, 1)
}

// Each case spoils base in one way and must be told exactly so.
func TestFaults(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown key", `temperature = 25.0`, `tempreture = 25.0`,
			`study.toml:15: unknown key "tempreture" in [[condition]]; did you mean "temperature"?`},
		{"unknown key of another section", `claim = "30M"`, "claim = \"30M\"\npulls = [\"0\"]",
			`study.toml:5: unknown key "pulls" in [study]; it belongs in [[condition]]`},
		{"unknown key like none", `claim = "30M"`, `sponsor = "x"`,
			`study.toml:4: unknown key "sponsor" in [study]; the keys there are id, title, product, start, claim, store_at, rules, confidence, pool_alpha`},
		{"extra of the results", `scale = "pilot"`, `method = "x"`,
			`study.toml:33: unknown key "method" in [[batch]]; the keys there are id, scale, lot, size, made, placed, factors`},
		{"unknown section", "[[chamber]]", "[[chambers]]",
			`study.toml:27: unknown section [[chambers]]; did you mean [[chamber]]?`},
		{"unknown section like none", "[samples]", "[people]",
			`study.toml:9: unknown section [people]; the sections are [study], [calendar], [samples], [[condition]], [[chamber]], [[batch]], [[pack]], [[attribute]]`},
		{"single brackets", "[[chamber]]", "[chamber]",
			`study.toml:27: [chamber] must be [[chamber]], in double brackets: there can be several`},
		{"double brackets", "[samples]", "[[samples]]",
			`study.toml:9: [[samples]] must be [samples], in single brackets: there can be only one`},
		{"key before sections", "[study]\n", "confidence = 0.9\n[study]\n",
			`study.toml:1: "confidence" stands outside any section; put it under [study]`},
		{"missing id", "id = \"B1\"\n", "",
			`study.toml:31: id: is missing; write id = "B1"`},
		{"missing start", "start = 2025-01-13\n", "",
			`study.toml:1: start: is missing; write start = 2025-01-13`},
		{"misspelt start", "start = ", "strat = ",
			`study.toml:3: unknown key "strat" in [study]; did you mean "start"?`},
		{"missing role", "role = \"long-term\"\n", "",
			`study.toml:12: role: is missing; write role = "long-term"`},
		{"missing temperature", "temperature = 25.0\n", "",
			`study.toml:12: temperature: is missing; write temperature = 25.0`},
		{"missing pulls", "pulls = [\"0\", \"3M\", \"6M\", \"12M\"]\n", "",
			`study.toml:12: pulls: is missing; write pulls = ["0", "3M", "6M"]`},
		{"missing grades", "grades = [\"none\", \"slight\", \"marked\"]\n", "",
			`study.toml:48: grades: is missing; write grades = ["none", "slight", "marked"], the best first`},
		{"no batch", "[[batch]]\nid = \"B1\"\nscale = \"pilot\"\nmade = 2025-01-06\n", "",
			`study.toml:44: there is no [[batch]]; a study needs at least one`},
		{"duplicate condition", `id = "40C75"`, `id = "25C60"`,
			`study.toml:21: id: "25C60" is also the condition on line 13; give each an id of its own`},
		{"duplicate pack by case", `id = "jar"`, `id = "Tube"`,
			`study.toml:40: id: "Tube" differs only in case from the pack "tube" on line 37; choose ids that differ more`},
		{"duplicate attribute", `id = "look"`, `id = "viscosity"`,
			`study.toml:49: id: "viscosity" is also the attribute on line 44; give each an id of its own`},
		{"attribute like a column", `id = "look"`, `id = "Value"`,
			`study.toml:49: id: "Value" is the name of a column in results files; call the attribute something else`},
		{"returned attribute like a time", "id = \"look\"", "id = \"18m\"\nsampling = \"returned\"",
			`study.toml:49: id: "18m" is what the ids of other units have in its place; call an attribute whose units are returned something else`},
		{"returned attribute like the reserve", "id = \"look\"", "id = \"Reserve\"\nsampling = \"returned\"",
			`study.toml:49: id: "Reserve" is what the ids of other units have in its place; call an attribute whose units are returned something else`},
		{"key given twice", `scale = "pilot"`, "scale = \"pilot\"\nscale = \"bench\"",
			`study.toml:34: scale: is already given on line 33; keep one of them`},
		{"section given twice", "[[chamber]]", "[study]\n[[chamber]]",
			`study.toml:27: [study] is already given on line 1; put its keys there`},
		{"id with a space", `id = "B1"`, `id = "batch 1"`,
			`study.toml:32: id: "batch 1" holds ' '; use letters without accents, digits, . _ and -`},
		{"id with an umlaut", `id = "B1"`, `id = "Büchse"`,
			`study.toml:32: id: "Büchse" holds 'ü'; use letters without accents, digits, . _ and -`},
		{"id of a study that begins like an option", `id = "MB-26"`, `id = "--help"`,
			`study.toml:2: id: "--help" begins with "-", and files are named for their study; begin it with a letter or a digit`},
		{"id of a study that hides its files", `id = "MB-26"`, `id = ".."`,
			`study.toml:2: id: ".." begins with ".", and files are named for their study; begin it with a letter or a digit`},
		{"id of a study that is a device", `id = "MB-26"`, `id = "aux.1"`,
			`study.toml:2: id: "aux.1" is a device to Windows, and files are named for their study; choose another id`},
		{"ids that are one number", "id = \"jar\"", "id = \"007\"\n[[pack]]\nid = \"7.0\"",
			`study.toml:42: id: "7.0" and the pack "007" on line 40 are one number to a spreadsheet; choose ids that differ more`},
		{"empty id", `id = "B1"`, `id = ""`,
			`study.toml:32: id: is empty; write id = "B1"`},
		{"long id", `id = "B1"`, `id = "` + strings.Repeat("b", 65) + `"`,
			`study.toml:32: id: "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb…" is longer than 64 letters`},
		{"limit above its partner", `lower = 18000.0`, `lower = 48000.0`,
			`study.toml:46: upper: 42000 is below the lower limit 48000; write the lower limit below the upper`},
		{"limits equal", `lower = 18000.0`, `lower = 42000`,
			`study.toml:46: upper: 42000 is also the lower limit, which leaves no room between them`},
		{"limit a text", `lower = 18000.0`, `lower = "18000"`,
			`study.toml:45: lower: must be a number, such as 95.0; "18000" is a text`},
		{"limit nan", `lower = 18000.0`, `lower = nan`,
			`study.toml:45: lower: must be a number, such as 95.0; nan is none`},
		{"limit inf", `upper = 42000.0`, `upper = +inf`,
			`study.toml:46: upper: must be a number, such as 95.0; +inf is none`},
		{"limit beyond floats", `upper = 42000.0`, `upper = 1e999`,
			`study.toml:46: upper: must be a number, such as 95.0; 1e999 is none`},
		{"falls with an upper limit", `lower = 18000.0`, `direction = "falls"`,
			`study.toml:45: direction: an attribute that falls never meets its only limit, an upper one; give a lower limit or write "rises" or "either"`},
		{"rises with a lower limit", `upper = 42000.0`, `direction = "rises"`,
			`study.toml:46: direction: an attribute that rises never meets its only limit, a lower one; give an upper limit or write "falls" or "either"`},
		{"pull no duration", `"12M"]`, `"12 months"]`,
			`study.toml:17: pulls: "12 months" is no duration; write 0, 10D, 2W, 3M or 2Y`},
		{"pull a number", `"12M"]`, `12]`,
			`study.toml:17: pulls: must be a duration in quotes, such as "3M"; 12 is a number`},
		{"pull negative", `"12M"]`, `"-12M"]`,
			`study.toml:17: pulls: "-12M" is no duration; write 0, 10D, 2W, 3M or 2Y`},
		{"pull too long", `"12M"]`, `"101Y"]`,
			`study.toml:17: pulls: "101Y" is longer than 100 years`},
		{"pulls the same", `"12M"]`, `"12M", "1Y"]`,
			`study.toml:17: pulls: "12M" and "1Y" are the same time; keep one of them`},
		{"pulls on the same day", `"12M"]`, `"12M", "365D"]`, // 2025 and its next 13 January hold no leap day
			`study.toml:17: pulls: "12M" and "365D" fall on the same day, 2026-01-13; keep one of them`},
		{"pulls on the same day of one batch", "made = 2025-01-06", "placed = 2023-03-01\n[[condition]]\nid = \"c\"\nrole = \"stress\"\ntemperature = 30.0\npulls = [\"365D\", \"12M\", \"366D\"]",
			`study.toml:39: pulls: "12M" and "366D" fall on the same day, 2024-03-01; keep one of them`},
		{"pull listed twice", `"12M"]`, `"12M", "12M"]`,
			`study.toml:17: pulls: 12M is listed twice`},
		{"pulls not ascending", `"12M"]`, `"12M", "9M"]`,
			`study.toml:17: pulls: "9M" comes after "12M" but is earlier; write the pulls from early to late`},
		{"pulls a text", `["0", "3M", "6M", "12M"]`, `"0 3M 6M"`,
			`study.toml:17: pulls: must be a list in square brackets, such as ["0", "3M", "6M"]; "0 3M 6M" is a text`},
		{"no pulls", `["0", "3M", "6M", "12M"]`, `[]`,
			`study.toml:17: pulls: is an empty list; write at least one, as ["0", "3M", "6M"]`},
		{"cycles where none", `"12M"]`, `"12C"]`,
			`study.toml:17: pulls: "12C" counts cycles at a condition that is not cycling; write days, weeks, months or years, or role = "cycling"`},
		{"cycles of unknown length", "role = \"long-term\"\ntemperature = 25.0\nhumidity = 60.0\npulls = [\"0\", \"3M\"", "role = \"cycling\"\npulls = [\"0\", \"3C\"",
			`study.toml:15: pulls: "3C" counts cycles of unknown length; write cycle_hours = 48`},
		{"cycle hours where none", "humidity = 60.0", "humidity = 60.0\ncycle_hours = 48",
			`study.toml:17: cycle_hours: belongs to a cycling condition; leave it out or write role = "cycling"`},
		{"claim in cycles", `claim = "30M"`, `claim = "30C"`,
			`study.toml:4: claim: "30C" counts cycles, which only the pulls of a cycling condition can; write days, weeks, months or years`},
		{"claim of nothing", `claim = "30M"`, `claim = "0"`,
			`study.toml:4: claim: a shelf life of 0 claims nothing; write claim = "30M" or leave it out`},
		{"claim a number", `claim = "30M"`, `claim = 30`,
			`study.toml:4: claim: must be a duration in quotes, such as "30M"; 30 is a number`},
		{"date that does not exist", `2025-01-13`, `2025-02-29`,
			`study.toml:3: start: "2025-02-29" does not exist in the calendar`},
		{"date in quotes", `2025-01-13`, `"2025-01-13"`,
			`study.toml:3: start: must be a day without quotes or time, such as 2025-01-13; "2025-01-13" is a text`},
		{"date with a time", `2025-01-13`, `2025-01-13T08:00:00`,
			`study.toml:3: start: must be a day without quotes or time, such as 2025-01-13; 2025-01-13T08:00:00 is a time of day`},
		{"date long ago", `2025-01-13`, `0205-01-13`,
			`study.toml:3: start: 0205-01-13 is not between 1950 and 2150; is the year right?`},
		{"holiday that does not exist", `2025-12-26`, `2025-12-32`,
			`study.toml:7: holidays: "2025-12-32" does not exist in the calendar`},
		{"holiday twice", `2025-12-26`, `2025-12-25`,
			`study.toml:7: holidays: 2025-12-25 is listed twice`},
		{"made after storage", `made = 2025-01-06`, `made = 2025-01-14`,
			`study.toml:34: made: 2025-01-14 is later than 2025-01-13, when the batch enters storage at the study's start`},
		{"made after placed", `made = 2025-01-06`, "made = 2025-02-06\nplaced = 2025-01-20",
			`study.toml:34: made: 2025-02-06 is later than 2025-01-20, when the batch was placed`},
		{"unknown chamber", `chamber = "A"`, `chamber = "AA"`,
			`study.toml:18: chamber: there is no chamber "AA"; there are A`},
		{"unknown store_at", `claim = "30M"`, `store_at = "25C65"`,
			`study.toml:4: store_at: there is no condition "25C65"; there are 25C60, 40C75`},
		{"store_at accelerated", `claim = "30M"`, `store_at = "40C75"`,
			`study.toml:4: store_at: "40C75" is a condition of role accelerated; storage as labelled needs one that is long-term or intermediate`},
		{"two long-term conditions", `"accelerated"`, `"long-term"`,
			`study.toml:1: store_at: is missing and there are several long-term conditions, 25C60, 40C75; say which one is storage as labelled: store_at = "25C60"`},
		{"accelerated not hotter", `temperature = 40`, `temperature = 25`,
			`study.toml:23: temperature: 25 °C is not above the 25 °C of storage at "25C60", though the role is accelerated; correct the temperature or the role`},
		{"unknown role", `"accelerated"`, `"acelerated"`,
			`study.toml:22: role: "acelerated" is not known; did you mean "accelerated"?`},
		{"role far off", `"accelerated"`, `"warm"`,
			`study.toml:22: role: "warm" is not known; write one of long-term, intermediate, accelerated, stress, cycling`},
		{"temperature a text", `temperature = 25.0`, `temperature = "25 °C"`,
			`study.toml:15: temperature: must be a number, such as 25.0; "25 °C" is a text`},
		{"temperature below zero", `temperature = 25.0`, `temperature = -273.15`,
			`study.toml:15: temperature: -273.15 is out of range; it must lie between -273.15 and 200 °C, neither included`},
		{"humidity above 100", `humidity = 60.0`, `humidity = 160`,
			`study.toml:16: humidity: 160 is out of range; it must lie from 0 to 100 % RH`},
		{"tolerance without humidity", "humidity = 60.0", "humidity_tolerance = 5",
			`study.toml:16: humidity_tolerance: stands without a humidity; write humidity = 60.0 too`},
		{"capacity a fraction", `capacity = 480`, `capacity = 480.5`,
			`study.toml:29: capacity: must be a whole number, such as 480; 480.5 has a fraction`},
		{"capacity none", `capacity = 480`, `capacity = 0`,
			`study.toml:29: capacity: 0 is out of range; it must lie from 1 to 1000000000 units`},
		{"flag a text", `control = true`, `control = "yes"`,
			`study.toml:41: control: must be true or false, without quotes; "yes" is a text`},
		{"two controls", `id = "tube"`, "id = \"tube\"\ncontrol = true",
			`study.toml:42: control: "tube" is already the control on line 38; only one pack can be the reference`},
		{"tare negative", `id = "tube"`, "id = \"tube\"\ntare = -1",
			`study.toml:38: tare: -1 is out of range; it must lie from 0 to 10000000 g`},
		{"net fill nothing", `id = "tube"`, "id = \"tube\"\nnet_fill = 0",
			`study.toml:38: net_fill: 0 is out of range; it must lie between 0 and 10000000 g, neither included`},
		{"orientation", `id = "tube"`, "id = \"tube\"\norientations = [\"inverse\"]",
			`study.toml:38: orientations: "inverse" is not known; did you mean "inverted"?`},
		{"orientations empty", `id = "tube"`, "id = \"tube\"\norientations = []",
			`study.toml:38: orientations: is an empty list; write at least one, as ["upright"]`},
		{"orientation twice", `id = "tube"`, "id = \"tube\"\norientations = [\"upright\", \"upright\"]",
			`study.toml:38: orientations: upright is listed twice`},
		{"factor a number", `scale = "pilot"`, `factors = {clay = 2}`,
			`study.toml:33: factors.clay: must be a text in quotes, such as "clay"; 2 is a number`},
		{"factors a text", `scale = "pilot"`, `factors = "clay"`,
			`study.toml:33: factors: must be a table in braces, such as {thickener = "clay"}; "clay" is a text`},
		{"text a number", `scale = "pilot"`, `size = 40`,
			`study.toml:33: size: must be a text in quotes, such as "40 kg"; 40 is a number`},
		{"text with a line break", `scale = "pilot"`, `scale = "pi\nlot"`,
			`study.toml:33: scale: holds a line break, a control character or another that is not seen; write it in one line`},
		{"confidence", `claim = "30M"`, `confidence = 95`,
			`study.toml:4: confidence: 95 is out of range; it must lie between 0.5 and 1, neither included`},
		{"confidence at its edge", `claim = "30M"`, `confidence = 0.5`,
			`study.toml:4: confidence: 0.5 is out of range; it must lie between 0.5 and 1, neither included`},
		{"pool_alpha", `claim = "30M"`, `pool_alpha = 0`,
			`study.toml:4: pool_alpha: 0 is out of range; it must lie between 0 and 1, neither included`},
		{"retain negative", `retain = 2`, `retain = -2`,
			`study.toml:10: retain: -2 is out of range; it must lie from 0 to 1000000 units`},
		{"workday", "holidays = ", "workdays = [\"Monday\"]\nholidays = ",
			`study.toml:7: workdays: "Monday" is not known; write one of sun, mon, tue, wed, thu, fri, sat`},
		{"windows not ascending", "holidays = ", "windows = [{up_to = \"2M\", days = 3}, {up_to = \"1M\", days = 1}]\nholidays = ",
			`study.toml:7: windows: up_to "1M" comes after "2M" but is no longer; write the windows from short to long`},
		{"window without days", "holidays = ", "windows = [{up_to = \"2M\"}]\nholidays = ",
			`study.toml:7: days: is missing; write days = 3`},
		{"window a text", "holidays = ", "windows = [\"2M\"]\nholidays = ",
			`study.toml:7: windows: must be a table in braces, such as {up_to = "1M", days = 3}; "2M" is a text`},
		{"window of nothing", "holidays = ", "windows = [{up_to = \"0\", days = 3}]\nholidays = ",
			`study.toml:7: windows: a window up to time 0 is for no pull; write one as {up_to = "1M", days = 3}`},
		{"window unknown key", "holidays = ", "windows = [{upto = \"1M\", days = 3}]\nholidays = ",
			`study.toml:7: unknown key "upto" in a window; did you mean "up_to"?`},
		{"unknown condition", `upper = 42000.0`, "upper = 42000.0\nconditions = [\"25C60\", \"40C\"]",
			`study.toml:47: conditions: there is no condition "40C"; did you mean "40C75"?`},
		{"unknown pack", `upper = 42000.0`, "upper = 42000.0\npacks = [\"bottle\"]",
			`study.toml:47: packs: there is no pack "bottle"; there are tube, jar`},
		{"conditions empty", `upper = 42000.0`, "upper = 42000.0\nconditions = []",
			`study.toml:47: conditions: is an empty list; write at least one, as ["25C60"]`},
		{"units none", `upper = 42000.0`, "upper = 42000.0\nunits = 0",
			`study.toml:47: units: 0 is out of range; it must lie from 1 to 10000`},
		{"significant change a number", `upper = 42000.0`, "upper = 42000.0\nsignificant_change = 5",
			`study.toml:47: significant_change: must be a percentage in quotes, such as "5%"; 5 is a number`},
		{"significant change no percent", `upper = 42000.0`, "upper = 42000.0\nsignificant_change = \"5\"",
			`study.toml:47: significant_change: "5" is no percentage above 0; write it as "5%"`},
		{"significant change of nothing", `upper = 42000.0`, "upper = 42000.0\nsignificant_change = \"0%\"",
			`study.toml:47: significant_change: "0%" is no percentage above 0; write it as "5%"`},
		{"expected without a reason", `upper = 42000.0`, "upper = 42000.0\nexpected_at_accelerated = \"\"",
			`study.toml:47: expected_at_accelerated: is empty; write the change that heat is expected to bring, and why`},
		{"baseline after the last pull", `upper = 42000.0`, "upper = 42000.0\nbaseline = \"12M\"",
			`study.toml:47: baseline: "12M" is not before the last pull, so that no trend is left to count`},
		{"model unknown", `upper = 42000.0`, "upper = 42000.0\nmodel = \"zeroorder\"",
			`study.toml:47: model: "zeroorder" is not known; did you mean "zero-order"?`},
		{"model with change", "lower = 18000.0\nupper = 42000.0", "lower = -5\nbasis = \"change-from-initial\"\nmodel = \"first-order\"",
			`study.toml:47: model: "first-order" does not go with basis = "change-from-initial"; write "zero-order", "square-root-time" or "auto"`},
		{"model with a limit of 0", `lower = 18000.0`, "lower = 0\nmodel = \"first-order\"",
			`study.toml:45: lower: 0 is not above 0, where the first-order model has no values; give a limit above 0 or another model`},
		{"percent limit at the start", "lower = 18000.0\nupper = 42000.0", "lower = 100\nbasis = \"percent-of-initial\"",
			`study.toml:45: lower: 100 is a limit on percent of initial, where every batch starts at 100; write a lower limit below that`},
		{"change limit at the start", "lower = 18000.0\nupper = 42000.0", "upper = 0\nbasis = \"change-from-initial\"",
			`study.toml:45: upper: 0 is a limit on change from initial, where every batch starts at 0; write an upper limit above that`},
		{"grades of a measure", `upper = 42000.0`, "upper = 42000.0\ngrades = [\"a\", \"b\"]",
			`study.toml:47: grades: belongs to kind = "grade"; leave it out`},
		{"one grade", `["none", "slight", "marked"]`, `["none"]`,
			`study.toml:51: grades: one grade tells nothing apart; write at least two, the best first`},
		{"grade a number", `["none", "slight", "marked"]`, `["0", "slight", "marked"]`,
			`study.toml:51: grades: "0" is no name of a grade; grades are numbered 0, 1, 2 … by their place in the list and need a word each`},
		{"grade with a blank", `["none", "slight", "marked"]`, `["none", " slight", "marked"]`,
			`study.toml:51: grades: " slight" has blanks around it, which do not count in a results table; write "slight"`},
		{"grades alike", `["none", "slight", "marked"]`, `["none", "slight", "Slight"]`,
			`study.toml:51: grades: "slight" and "Slight" differ only in case; results could not tell them apart`},
		{"grade limit beyond", `upper = 1`, `upper = 3`,
			`study.toml:52: upper: 3 is out of range; it must lie from 0 to 2 (marked)`},
		{"grade limit unknown", `upper = 1`, `upper = "slihgt"`,
			`study.toml:52: upper: "slihgt" is not known; did you mean "slight"?`},
		{"grade limit a fraction", `upper = 1`, `upper = 1.5`,
			`study.toml:52: upper: must be a whole number, such as 1; 1.5 has a fraction`},
		{"grade with a model", `upper = 1`, "upper = 1\nmodel = \"zero-order\"",
			`study.toml:53: model: a grade attribute is judged by what was observed and fitted by no model; leave it out`},
		{"grade with a basis", `upper = 1`, "upper = 1\nbasis = \"change-from-initial\"",
			`study.toml:53: basis: a grade attribute is judged as it is; write "value" or leave it out`},
		{"grade with a baseline", `upper = 1`, "upper = 1\nbaseline = \"7D\"",
			`study.toml:53: baseline: no trend is fitted to a grade attribute; leave it out`},
		{"pass-fail with limits", `upper = 42000.0`, "upper = 42000.0\nkind = \"pass-fail\"",
			`study.toml:45: lower: a pass-fail attribute has no limits: a unit passes or fails; leave it out
study.toml:46: upper: a pass-fail attribute has no limits: a unit passes or fails; leave it out`},
		{"weighing limit no percent", "lower = 18000.0\nupper = 42000.0", "upper = 300\nkind = \"weighing\"",
			`study.toml:45: upper: 300 is out of range; it must lie from -100 to 100 % lost`},
		{"weighing with a model", "lower = 18000.0\nupper = 42000.0", "upper = 3\nkind = \"weighing\"\nmodel = \"first-order\"",
			`study.toml:47: model: a weighing is fitted by a rate for each unit; write "zero-order" or leave it out`},
		{"weighing with a basis", "lower = 18000.0\nupper = 42000.0", "upper = 3\nkind = \"weighing\"\nbasis = \"percent-of-initial\"",
			`study.toml:47: basis: the limits of a weighing are in percent lost already; write "value" or leave it out`},

		{"cycles too long", "role = \"long-term\"\ntemperature = 25.0\nhumidity = 60.0\npulls = [\"0\", \"3M\", \"6M\", \"12M\"]",
			"role = \"cycling\"\ncycle_hours = 8000\npulls = [\"0\", \"200C\"]",
			`study.toml:16: pulls: "200C" is longer than 100 years`},
		{"cycle hours faulty", "role = \"long-term\"\ntemperature = 25.0\nhumidity = 60.0\npulls = [\"0\", \"3M\", \"6M\", \"12M\"]",
			"role = \"cycling\"\ncycle_hours = 0\npulls = [\"0\", \"3C\"]",
			`study.toml:15: cycle_hours: 0 is out of range; it must lie between 0 and 8760 hours, neither included`},
		{"text true", `scale = "pilot"`, `scale = true`,
			`study.toml:33: scale: must be a text in quotes, such as "pilot"; true is true or false`},
		{"text a day", `scale = "pilot"`, `scale = 2025-01-13`,
			`study.toml:33: scale: must be a text in quotes, such as "pilot"; 2025-01-13 is a day`},
		{"role a number", `"accelerated"`, `40`,
			`study.toml:22: role: must be a text in quotes, such as "long-term"; 40 is a number`},
		{"grade no text", `["none", "slight", "marked"]`, `["none", "slight", 3]`,
			`study.toml:51: grades: must be a text in quotes, such as "slight"; 3 is a number`},
		{"store_at empty", `claim = "30M"`, `store_at = ""`,
			`study.toml:4: store_at: there is no condition ""; there are 25C60, 40C75`},

		// Slips in the writing of TOML.
		{"text without quotes", `id = "B1"`, `id = B1`,
			`study.toml:32: a text stands in quotes, "like this"`},
		{"curly quotes", `id = "B1"`, `id = “B1”`,
			`study.toml:32: a text stands in straight quotes, "like this"`},
		{"quote not closed", `id = "B1"`, `id = "B1`,
			`study.toml:32: a text begins here that has no closing quote`},
		{"duration without quotes", `claim = "30M"`, `claim = 30M`,
			`study.toml:4: a duration stands in quotes, as "3M"`},
		{"decimal comma", `temperature = 25.0`, `temperature = 25,0`,
			`study.toml:15: a number has a decimal point, as 25.5, not a comma`},
		{"number with its unit", `temperature = 25.0`, `temperature = 25 °C`,
			`study.toml:15: more than a number stands here; write the number alone, or a text in quotes`},
		{"day with points", `2025-01-13`, `13.01.2025`,
			`study.toml:3: "13.01.2025" is no date; write it as 2025-01-13`},
		{"day with slashes", `2025-01-13`, `1/13/2025`,
			`study.toml:3: "1/13/2025" is no date; write it as 2025-01-13`},
		{"colon", `id = "B1"`, `id: "B1"`,
			`study.toml:32: a key and its value are joined by =, as id = "B1"`},
		{"key of two words", `scale = "pilot"`, `batch scale = "pilot"`,
			`study.toml:33: "batch scale" is no key; a key is one word, as store_at`},
		{"comma behind a value", `start = 2025-01-13`, `start = 2025-01-13, # Monday`,
			`study.toml:3: a line does not end with a comma; leave it out`},
		{"list without brackets", `["0", "3M", "6M", "12M"]`, `"0", "3M"`,
			`study.toml:17: several values stand in square brackets, as ["0", "3M", "6M"]`},
		{"comment of another language", `claim = "30M"`, `claim = "30M" // sought`,
			`study.toml:4: nothing follows a value on its line but a comment, which begins with #`},
		{"thousands by commas", `lower = 18000.0`, `lower = 18,000.0`,
			`study.toml:45: a number has no commas, and a decimal point, as 18000.0`},
		{"thousands by points", `lower = 18000.0`, `lower = 18.000,0`,
			`study.toml:45: a number is not grouped in thousands, and has a decimal point, as 18000.0`},
		{"thousands by spaces", `lower = 18000.0`, `lower = 18 000`,
			`study.toml:45: a number is not grouped in thousands, and has a decimal point, as 18000.0`},
		{"typeset minus", `lower = 18000.0`, "lower = \u22124.8",
			`study.toml:45: a minus sign is the hyphen of the keyboard, as -4.8`},
		{"leading zero", `temperature = 25.0`, `temperature = 05`,
			`study.toml:15: a number has no leading zeroes, as 5, not 05`},
		{"no value", `id = "B1"`, `id =`,
			`study.toml:32: nothing stands after the = sign`},
		{"True", `control = true`, `control = True`,
			`study.toml:41: write true, in small letters`},
		{"point first", `temperature = 25.0`, `temperature = .5`,
			`study.toml:15: a number has a digit before its point, as 0.5`},
		{"list not closed", `["0", "3M", "6M", "12M"]`, `["0", "3M", "6M", "12M"`,
			`study.toml:18: the list or table begun on line 17 lacks a comma or its closing bracket before this`},
		{"list without a comma", `"6M", "12M"]`, `"6M" "12M"]`,
			`study.toml:17: a comma or a closing bracket is missing`},
		{"list left open", `["0", "3M", "6M", "12M"]`, `[`,
			`study.toml:18: the list or table begun on line 17 lacks a comma or its closing bracket before this`},
		{"durations without quotes", `["0", "3M", "6M", "12M"]`, `[0, 3M]`,
			`study.toml:17: a text or duration stands in quotes, as "3M"`},
		{"words without quotes", `["none", "slight", "marked"]`, `[none, slight]`,
			`study.toml:51: a text stands in quotes, "like this"`},
		{"words in curly quotes", `["none", "slight", "marked"]`, `[“none”]`,
			`study.toml:51: a text stands in quotes, "like this"`},
		{"header not closed", "[[batch]]", "[[batch]",
			`study.toml:31: a section's name stands alone in its brackets, as [study] or [[condition]]`},
		{"word alone", "retain = 2", "retain",
			`study.toml:10: a key and its value are joined by =, as id = "B1"`},
		{"invalid escape", `scale = "pilot"`, `scale = "C:\pilot"`,
			`study.toml:33: a backslash in a text is written twice, or the text in single quotes, 'like this'`},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := faultsOf(t, spoil(t, base, c.old, c.new)).Error()
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("want - , got + :\n%s", diff)
			}
		})
	}
}

// What a whole file can have wrong with it.
func TestFaultsOfWholeFiles(t *testing.T) {
	const nothing = "study.toml:1: nothing in the file is a section or key of TOML; a study file begins with [study]"
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "study.toml:1: the file is empty; a study file begins with [study]"},
		{"blank", " \n\t\r\n", "study.toml:1: the file is empty; a study file begins with [study]"},
		{"byte-order mark alone", "\ufeff", "study.toml:1: the file is empty; a study file begins with [study]"},
		{"comments alone", "# a\n# b\n", nothing},
		{"results", strings.Repeat("B1,25C60,3,assay,99.1\n", 200), nothing},
		{"one long line", strings.Repeat("a", 1<<20), nothing},
		{"binary", base + "\x00\x01", "study.toml:53: the file is binary; a study file is plain text (TOML in UTF-8)"},
		{"UTF-16", "\xff\xfe[\x00s\x00", "study.toml:1: the file is text in UTF-16; save it as UTF-8"},
		{"Latin-1", strings.Replace(base, "pilot", "gro\xdf", 1),
			"study.toml:33: holds a character that is not UTF-8; save the file as UTF-8"},
		{"too large", strings.Repeat("#", MaxBytes+1), "study.toml:1: the file is larger than 16 MB, which no study file is"},
		{"one section alone", "[study]\nid = \"S\"\nstart = 2025-01-13\n",
			"study.toml:1: there is no [[condition]]; a study needs at least one\n" +
				"study.toml:1: there is no [[batch]]; a study needs at least one\n" +
				"study.toml:1: there is no [[attribute]]; a study needs at least one"},
		{"empty list of sections", "batch = []\n" + strings.Replace(base, "[[batch]]\nid = \"B1\"\nscale = \"pilot\"\nmade = 2025-01-06\n", "", 1),
			"study.toml:45: there is no [[batch]]; a study needs at least one"},
		{"a section in a list", "batch = [1]\n" + strings.Replace(base, "[[batch]]\nid = \"B1\"\nscale = \"pilot\"\nmade = 2025-01-06\n", "", 1),
			"study.toml:1: batch: must be a section, such as [[batch]]; 1 is a number"},
		{"table and key", strings.Replace(base, "[[chamber]]", "[study.title.words]\nx = 1\n[[chamber]]", 1),
			"study.toml:27: title: must be a text in quotes, such as \"Storage stability of a balm\"; this is a table"},
		{"keys below a value", strings.Replace(base, "[[chamber]]", "[study.id.words]\nx = 1\n[[chamber]]", 1),
			"study.toml:27: id: is already given on line 2 and takes no keys of its own"},
		{"one table where several are", strings.Replace(base, "[[attribute]]\nid = \"look\"", "[attribute]\nid = \"look\"", 1),
			"study.toml:48: [attribute] must be [[attribute]], in double brackets: there can be several"},
		{"a table, then a list of it", strings.Replace(base, "[[attribute]]\nid = \"visc", "[attribute]\nid = \"visc", 1),
			"study.toml:43: [attribute] must be [[attribute]], in double brackets: there can be several"},
		{"single brackets throughout", strings.ReplaceAll(strings.ReplaceAll(base, "[[", "["), "]]", "]"),
			"study.toml:12: [condition] must be [[condition]], in double brackets: there can be several\n" +
				"study.toml:20: [condition] must be [[condition]], in double brackets: there can be several\n" +
				"study.toml:27: [chamber] must be [[chamber]], in double brackets: there can be several\n" +
				"study.toml:31: [batch] must be [[batch]], in double brackets: there can be several\n" +
				"study.toml:36: [pack] must be [[pack]], in double brackets: there can be several\n" +
				"study.toml:39: [pack] must be [[pack]], in double brackets: there can be several\n" +
				"study.toml:43: [attribute] must be [[attribute]], in double brackets: there can be several\n" +
				"study.toml:48: [attribute] must be [[attribute]], in double brackets: there can be several"},
		{"a word processor's document", "{\\rtf1\\ansi [study]}",
			"study.toml:1: the file is a word processor's document or another archive; save it as plain text (TOML in UTF-8)"},
		{"an archive", "PK\x03\x04\x14\x00",
			"study.toml:1: the file is a word processor's document or another archive; save it as plain text (TOML in UTF-8)"},
		{"text over lines not closed", strings.Replace(base, `scale = "pilot"`, `scale = """pilot`, 1),
			"study.toml:33: a text begins here that has no closing quote"},
		{"inline table not closed", strings.Replace(base, `scale = "pilot"`, `factors = {clay = "a"`, 1),
			"study.toml:34: the list or table begun on line 33 lacks a comma or its closing bracket before this"},
		{"last list not closed", base + "packs = [\"tube\"", "study.toml:53: a list or table begins here that has no closing bracket"},
		{"broken header of a section", strings.Replace(base, "[samples]", "[samples", 1),
			"study.toml:9: a section's name stands alone in its brackets, as [study] or [[condition]]"},
		{"broken header of a section given before", base + "[samples\nreserve_percent = 5\nretain = 3\n",
			"study.toml:53: a section's name stands alone in its brackets, as [study] or [[condition]]\n" +
				"study.toml:55: retain: is already given on line 10; keep one of them"},
		{"broken header of a list", base + "[[pack\nid = \"tube\"\n",
			"study.toml:53: a section's name stands alone in its brackets, as [study] or [[condition]]\n" +
				"study.toml:54: id: \"tube\" is also the pack on line 37; give each an id of its own"},
		{"control character in a comment", "# \x01\n" + base,
			"study.toml:1: is no TOML: control characters are not allowed in comments"},
		{"key below a scalar", strings.Replace(base, "retain = 2", "retain = 2\nretain.x = 1", 1),
			"study.toml:11: retain: is already given on line 10 and takes no keys of its own"},
		{"key that is a list of tables", strings.Replace(base, "[[chamber]]", "[[study.title]]\n[[chamber]]", 1),
			"study.toml:27: title: must be a text in quotes, such as \"Storage stability of a balm\"; this is a list"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, faultsOf(t, c.text).Error()); diff != "" {
				t.Errorf("want - , got + :\n%s", diff)
			}
		})
	}
}

// Every fault of a file is told at once, in the order of its lines, whatever
// kind of fault it is.
func TestFaultsAllAtOnce(t *testing.T) {
	got := faultsOf(t, `[study]
id = MB-26
start = 2025-13-01
clam = "30M"
confidence = "high"

[[condition]]
id = "25C60"
role = "longterm"
temperature = nan
pulls = ["0", "3 M", "6M",
  "6M"]
chamber = "Z"

[[batch]
id = "B1"
made = 2025-02-30

[[batch]]
id = "B1"

[[attribute]]
id = "assay"
lower = 110
upper = 90
conditions = ["25C"]
units = 0,5
`).Error()
	want := `study.toml:2: a text stands in quotes, "like this"
study.toml:3: start: "2025-13-01" does not exist in the calendar
study.toml:4: unknown key "clam" in [study]; did you mean "claim"?
study.toml:5: confidence: must be a number, such as 0.95; "high" is a text
study.toml:9: role: "longterm" is not known; did you mean "long-term"?
study.toml:10: temperature: must be a number, such as 25.0; nan is none
study.toml:11: pulls: "3 M" is no duration; write 0, 10D, 2W, 3M or 2Y
study.toml:12: pulls: 6M is listed twice
study.toml:13: chamber: there is no chamber "Z"; the file has none
study.toml:15: a section's name stands alone in its brackets, as [study] or [[condition]]
study.toml:17: made: "2025-02-30" does not exist in the calendar
study.toml:20: id: "B1" is also the batch on line 16; give each an id of its own
study.toml:25: upper: 90 is below the lower limit 110; write the lower limit below the upper
study.toml:26: conditions: there is no condition "25C"; did you mean "25C60"?
study.toml:27: a number has a decimal point, as 25.5, not a comma`
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("want - , got + :\n%s", diff)
	}
}

// A file with very many faults lists the first and counts the rest.
func TestFaultsAreBounded(t *testing.T) {
	faults := faultsOf(t, base+strings.Repeat("sponsor = 1\n", 1)+strings.Repeat("upper = 2\n", 3000))
	if len(faults.List) != maxFaults || faults.More != 3001-maxFaults {
		t.Errorf("%d listed and %d more, want %d and %d", len(faults.List), faults.More, maxFaults, 3001-maxFaults)
	}
}

// Results keep the places of ids in 16 bits.
func TestFaultsOfTooManyEntries(t *testing.T) {
	text := []byte(base) // with one chamber
	for i := 1; i <= mostIDs; i++ {
		text = fmt.Appendf(text, "[[chamber]]\nid = \"c%d\"\n", i)
	}
	want := fmt.Sprintf("study.toml:%d: is the 32768th chamber; a study takes 32767", 52+2*mostIDs)
	if diff := cmp.Diff(want, faultsOf(t, string(text)).Error()); diff != "" {
		t.Errorf("want - , got + :\n%s", diff)
	}
}
