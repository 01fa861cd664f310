package intake

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

func TestMarksBetweenThousands(t *testing.T) {
	either := func(place, cell, group, decimal, mark, why string) string {
		return fmt.Sprintf("runs.csv:%s: found %q, which is %s if the %s stands between thousands, and %s if it is the decimal mark: %s; "+
			"write it without a mark between thousands, and with the decimal mark of the file", place, cell, group, mark, decimal, why)
	}
	other := func(place, cell, first, at string) string {
		return fmt.Sprintf("runs.csv:%s: found %q, but %q at runs.csv:%s has the other decimal mark, so one of the two may be a thousands "+
			"separator; write all numbers of a file with the same mark and without thousands separators", place, cell, first, at)
	}
	runCases(t, []readCase{
		{name: "spaces and apostrophes", in: "benchmark;value\na;1 212,0\na;1\u00a0213,5\na;1'214\na;1\u202f215\na;12 345 678,25\n",
			values: []string{"2:3 a=1212", "3:3 a=1213.5", "4:3 a=1214", "5:3 a=1215", "6:3 a=1.234567825e+07"}},
		{name: "quoted in a comma file", in: "benchmark,value\na,\"1,212.5\"\na,\"1,213\"\na,998\n",
			values: []string{"2:3 a=1212.5", "3:3 a=1213", "4:3 a=998"}},
		{name: "both marks", in: "benchmark;value\na;1.212,5\na;1.213\na;998\n", values: []string{"2:3 a=1212.5", "3:3 a=1213", "4:3 a=998"}},
		{name: "two groups", in: "benchmark;value\na;1.002\na;1.234.567\n", values: []string{"2:3 a=1002", "3:3 a=1.234567e+06"}},
		{name: "proven further down", in: "benchmark;value\na;1.002\na;998\na;12,5\na;1.212,5\n",
			values: []string{"2:3 a=1002", "3:3 a=998", "4:3 a=12.5", "5:3 a=1212.5"}},
		{name: "a decimal point is proven", in: "benchmark;value\na;1.002\na;998\na;0.5\n",
			values: []string{"2:3 a=1.002", "3:3 a=998", "4:3 a=0.5"}},
		{name: "nothing proven, no other number", in: "benchmark;value\na;412.345\na;409.112\n",
			values: []string{"2:3 a=412.345", "3:3 a=409.112"}},
		{name: "nothing proven, too large for thousands", in: "benchmark;value\na;1\na;1.125\n", values: []string{"2:3 a=1", "3:3 a=1.125"}},
		{name: "nothing proven, another metric", in: "benchmark;value\na;412.345\nb;409\n", values: []string{"2:3 a=412.345", "3:3 b=409"}},
		{name: "nothing proven, a plain number beside it", in: "benchmark;value\na;998\na;1,002\n", values: []string{"2:3 a=998"},
			err: either("3:3", "1,002", "1002", "1.002", "comma", `"998" at runs.csv:2:3 has none`)},
		{name: "a plain number behind it", in: "benchmark;value\na;1.002\na;998\n", values: []string{"2:3 a=1.002"},
			err: either("2:3", "1.002", "1002", "1.002", "point", `"998" at runs.csv:3:3 has none`)},
		{name: "the other mark is decimal", in: "benchmark;value\na;1.002\na;412,5\n", values: []string{"3:3 a=412.5"},
			err: either("2:3", "1.002", "1002", "1.002", "point", `"412,5" at runs.csv:3:3 has the other mark`)},
		{name: "thousands and decimals swapped", in: "benchmark;value\na;1.212,5\na;1,213.5\n", values: []string{"2:3 a=1212.5"},
			err: other("3:3", "1,213.5", "1.212,5", "2:3")},
		{name: "groups of two are none", in: "benchmark;value\na;1.23.456\n",
			err: `runs.csv:2:3: found "1.23.456", expected one number with at most one decimal mark; ` + acceptedNumbers},
	})
}

func TestUnitsInCells(t *testing.T) {
	runCases(t, []readCase{
		{name: "everywhere", in: "benchmark;unit;Run 1;Run 2\na;;412,4 s;409 Sek.\nb;°C;95 °C;96\u00a0°C\nc;;980 MB/s;981MB/s\n" +
			"d;;12 Punkte;13 Pkt.\n",
			values: []string{"2:4 a=412.4 s", "2:12 a=409 s", "3:6 b=95 °C", "3:12 b=96 °C", "4:4 c=980 MB/s", "4:13 c=981 MB/s",
				"5:4 d=12 points", "5:14 d=13 points"}},
		{name: "of another unit", in: "benchmark,unit,value\na,s,412 ms\n",
			err: `runs.csv:2:5: found "412 ms", but the unit here is "s"; write all runs of a metric in one unit`},
		{name: "per cent of something", in: "a,change\n5,\"1.5 %\"\n6,-2 %\n", values: []string{"2:1 a=5", "3:1 a=6"},
			notes: []string{`column "change" skipped: it compares`}},
		{name: "per cent without a word", in: "a,b\n5,1.5 %\n6,-2 %\n", values: []string{"2:1 a=5", "3:1 a=6"},
			notes: []string{`column "b" skipped: it holds per cent of something`}},
	})
}

func TestWhereTheTableIs(t *testing.T) {
	runCases(t, []readCase{
		{name: "titles and remarks", in: "Runs of heron\n\nroom,22 °C\nbenchmark,unit,Run 1,Run 2\na,s,1,2\n\nfans at 40 %\n",
			values: []string{"5:5 a=1 s", "5:7 a=2 s"},
			notes: []string{`the header is in line 4: benchmarks down, runs across; runs are "Run 1" to "Run 2"`,
				`3 rows skipped, which hold no runs: "Runs of heron", "room", "fans at 40 %"`}},
		{name: "a title with commas", in: "\"a, b, c\"\nbenchmark;unit;Run 1\na;s;1,5\n", values: []string{"3:5 a=1.5 s"},
			notes: []string{`the header is in line 2: benchmarks down, runs across; runs are "Run 1"`,
				`1 row skipped, which holds no runs: "a, b, c"`}},
		{name: "wide, without a unit", in: "heron,,\nrun,tile-render,mesh-solve\n1,412,96\n",
			values: []string{"3:3 tile-render=412 run=1", "3:7 mesh-solve=96 run=1"},
			notes:  []string{`the header is in line 2: one row a run`, `1 row skipped, which holds no runs: "heron"`}},
		{name: "side by side", in: ",,factory,,boost,\nbenchmark,unit,Run 1,Run 2,Run 1,Run 2\na,s,1,2,3,4\n",
			values: []string{"3:5 a=1 s profile=factory", "3:7 a=2 s profile=factory", "3:9 a=3 s profile=boost", "3:11 a=4 s profile=boost"},
			notes:  []string{`the header is in line 2: "factory", "boost" side by side, benchmarks down, runs across; runs are "Run 1" to "Run 2"`}},
		{name: "numbered on, under two heads", in: ",factory,,boost,\nbenchmark,Run 1,Run 2,Run 3,Run 4\na,1,2,3,4\n",
			values: []string{"3:3 a=1 profile=factory", "3:5 a=2 profile=factory", "3:7 a=3 profile=boost", "3:9 a=4 profile=boost"},
			notes: []string{`the header is in line 2: "factory", "boost" side by side, benchmarks down, runs across; runs are "Run 1" to "Run 2"; ` +
				`benchmarks down, runs across; runs are "Run 3" to "Run 4"`}},
		{name: "two tables", in: "factory,,,boost,\nbenchmark,Run 1,,benchmark,Run 1\na,1,,a,3\n",
			values: []string{"3:3 a=1 profile=factory", "3:8 a=3 profile=boost"},
			notes:  []string{`the header is in line 2: "factory", "boost" side by side, benchmarks down, runs across; runs are "Run 1"`}},
		{name: "wide, side by side", in: ",factory,,boost,\nrun,a [s],b [W],a [s],b [W]\n1,5,6,7,8\n",
			values: []string{"3:3 a=5 s profile=factory run=1", "3:5 b=6 W profile=factory run=1", "3:7 a=7 s profile=boost run=1",
				"3:9 b=8 W profile=boost run=1"},
			notes: []string{`the header is in line 2: "factory", "boost" side by side, one row a run`}},
		{name: "conflict marks are no remarks", in: "benchmark,unit,value\n<<<<<<< main\na,s,1\n", values: []string{"3:5 a=1 s"},
			err: "runs.csv:2:1: found 1 cell, expected 3 as in the header; write a separator for each empty cell too"},
	})
}

func TestWordsOfSheets(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"scene;unit;Run 1;Run 2", "scene"}, {"Szene;Einheit;Lauf 1;Lauf 2", "Szene"}, {"scène;unité;Essai 1;Essai 2", "scène"},
		{"carga;unidad;Ejecución 1;Ejecución 2", "carga"}, {"carico;unità;Esecuzione 1;Esecuzione 2", "carico"},
		{"zadanie;jednostka;Przebieg 1;Przebieg 2", "zadanie"}, {"tarefa;unidade;Execução 1;Execução 2", "tarefa"},
		{"taak;eenheid;Doorloop 1;Doorloop 2", "taak"}, {"was;Einheit;1. Lauf;2. Lauf", "was"}, {"was;Einheit;1.;2.", "was"},
		{"was;Einheit;Takt 1;Takt 2", "was"}, {"what;unit;#4;#5", "what"},
	} {
		got, tally, err := collect(c.head + "\na;s;1;2\nb;s;3;4\n")
		if err != nil || len(got) != 4 || !strings.Contains(got[0], "a=1 s") ||
			!strings.Contains(strings.Join(tally.Notes, ""), `"`+c.want+`" is benchmark`) {
			t.Errorf("%s: %v, notes %q, error %v", c.head, got, tally.Notes, err)
		}
	}
	// Two scenes of a wide table are no runs.
	got, _, err := collect("session,scene 1 [s],scene 2 [s]\nMon,1,2\n")
	if diff := cmp.Diff([]string{"2:5 scene 1=1 s session=Mon", "2:7 scene 2=2 s session=Mon"}, got); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
}

func TestMapping(t *testing.T) {
	words := Words{}
	for _, text := range []string{"Aufgabenname = benchmark", "Maß = unit", "Bilder je Sekunde=fps"} {
		if err := words.Add(text); err != nil {
			t.Fatal(err)
		}
	}
	for text, want := range map[string]string{"x": `found "x", expected`, "= y": `found "= y", expected`, "x =": `found "x =", expected`,
		"MASS = better": `found "MASS" twice, as "unit" and as "better"`, strings.Repeat("x", maxName) + "=y": "at most 1000 are read"} {
		if err := words.Add(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
	var got []string
	_, err := readRuns(strings.NewReader("Aufgabenname,Maß,value\na,bilder je sekunde,5\n"), "f", newNames(), &options{words: words},
		func(v *compare.Value) error { got = append(got, show(*v)); return nil })
	if diff := cmp.Diff([]string{"2:21 a=5 fps"}, got); diff != "" || err != nil {
		t.Errorf("%v\n%s", err, diff)
	}
}

// Python's codecs wrote the bytes (cp1252, cp1250, utf-16-le and -be; run).
func TestEncodings(t *testing.T) {
	runCases(t, []readCase{
		{name: "UTF-16, little end first", in: "\xff\xfeb\x00e\x00n\x00c\x00h\x00m\x00a\x00r\x00k\x00,\x00" +
			"v\x00a\x00l\x00u\x00e\x00\n\x00\xe9\x00,\x001\x00\n\x00",
			values: []string{"2:3 é=1"}, notes: []string{"the file is in UTF-16"}},
		{name: "UTF-16, big end first", in: "\xfe\xff\x00a\x00 \x00[\x00s\x00]\x00\n\x001\x00\n", values: []string{"2:1 a=1 s"},
			notes: []string{"the file is in UTF-16"}},
		{name: "Windows-1252", in: "benchmark,unit,value\n\xfcber,\xb0C,41\n", values: []string{"2:9 über=41 °C"},
			notes: []string{`the file is in Windows-1252, by its bytes, as in "über"`}},
		{name: "a sign of both", in: "a [\xb0C]\n41\n", values: []string{"2:1 a=41 °C"},
			notes: []string{`the file is in Windows-1252, by its bytes, as in "°C"`}},
		{name: "Windows-1250, ś before a consonant", in: "benchmark,value\ncz\xea\x9c\xe6,1\n", values: []string{"2:7 część=1"},
			notes: []string{`the file is in Windows-1250, by its bytes, as in "ęść"`}},
		{name: "Windows-1250, ł in a word", in: "benchmark,value\nd\xb3ugi,1\n", values: []string{"2:7 długi=1"},
			notes: []string{`the file is in Windows-1250, by its bytes, as in "ługi"`}},
		{name: "French in Windows-1252", in: "benchmark,value\nc\x9cur t\xeate \xe8,1\n", values: []string{"2:13 cœur tête è=1"},
			notes: []string{`the file is in Windows-1252, by its bytes, as in "œur"`}},
		{name: "cubic metres", in: "benchmark,value\nm\xb3,1\n", values: []string{"2:4 m³=1"},
			notes: []string{`the file is in Windows-1252, by its bytes, as in "³"`}},
	})
	for broken, mended := range map[string]string{"Â°C": "°C", "Âµs": "µs", "GrÃ¶ÃŸe": "Größe",
		"°C": "°C", "Âme": "Âme", "São": "São", "s": "s"} {
		if got := mendMojibake(broken); got != mended {
			t.Errorf("%q is mended to %q, want %q", broken, got, mended)
		}
	}
}

func TestSlips(t *testing.T) {
	series := func(unit string, values ...float64) []*compare.Series {
		var runs compare.Runs
		for i, v := range values {
			at := compare.Place{File: "runs.xlsx", Sheet: "boost", Line: i + 2, Column: 3}
			if err := runs.Add(compare.Value{Profile: "boost", Benchmark: "tile-render", Unit: unit, Value: v, At: at}); err != nil {
				t.Fatal(err)
			}
		}
		return runs.Series()
	}
	const slip = "runs.xlsx, sheet boost, C4: found 412000, which is 999 times the median of tile-render under \"boost\", 412.3; " +
		"correct it, or set the run aside with valid = no and a reason"
	for _, c := range []struct {
		name    string
		series  []*compare.Series
		trusted []string
		want    string
	}{
		{"none", series("s", 412, 409, 415), nil, ""},
		{"a factor of 1000", series("s", 412.3, 409, 412000), nil, slip},
		{"a thirtieth", series("s", 412, 409, 13.6), nil, "found 13.6, which is 1/30 of the median"},
		{"less than thirty times", series("s", 10, 10, 299), nil, ""},
		{"two of them", series("s", 412, 409, 415, 0.4, 412000), nil, "(and 1 more fault)"},
		{"too few to say", series("s", 412, 412000), nil, ""},
		{"degrees", series("°C", 0.5, 40, 41), nil, ""},
		{"trusted by its place", series("s", 412, 409, 412000), []string{"runs.xlsx, sheet boost, C4"}, ""},
		{"trusted by name", series("s", 412, 409, 412000), []string{"Tile-Render"}, ""},
		{"trusted by pattern", series("s", 412, 409, 412000), []string{"tile-*"}, ""},
		{"another is trusted", series("s", 412.3, 409, 412000), []string{"mesh-*"}, slip},
	} {
		err := CheckSlips(c.series, c.trusted)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

func TestWhatStandsAboveColumns(t *testing.T) {
	runCases(t, []readCase{
		{name: "metrics in the headers of runs", in: "scene,time 1 [s],time 2 [s],power 1 [W],power 2 [W]\na,1,2,3,4\n",
			values: []string{"2:3 a/time=1 s", "2:5 a/time=2 s", "2:7 a/power=3 W", "2:9 a/power=4 W"},
			notes: []string{`the header is in line 1: "time", "power" side by side, benchmarks down, runs across; "scene" is benchmark; ` +
				`runs are "time 1 [s]" to "time 2 [s]"; benchmarks down, runs across; "scene" is benchmark; runs are "power 1 [W]" to "power 2 [W]"`}},
		{name: "machines", in: "machine,heron,,plover,\nbenchmark,Run 1,Run 2,Run 1,Run 2\na [s],1,2,3,4\n",
			values: []string{"3:7 a=1 s machine=heron", "3:9 a=2 s machine=heron", "3:11 a=3 s machine=plover", "3:13 a=4 s machine=plover"},
			notes:  []string{`the header is in line 2: "heron", "plover" side by side, benchmarks down, runs across; runs are "Run 1" to "Run 2"`}},
		{name: "a label for the whole table", in: "Profile: boost,,\nmachine,heron,\nbenchmark,unit,Run 1\na,s,1\n",
			values: []string{"4:5 a=1 s profile=boost machine=heron"},
			notes: []string{`the profile is "boost", as a row above the table says`, `the machine is "heron", as a row above the table says`,
				`the header is in line 3: benchmarks down, runs across; runs are "Run 1"`,
				`2 rows skipped, which hold no runs: "Profile: boost", "machine"`}},
		{name: "a table of settings above", in: "Setting,Value,,,\nlift,4.8,,,\n\nbenchmark,unit,Run 1,Run 2,Run 3\na,s,1,2,3\n",
			values: []string{"5:5 a=1 s", "5:7 a=2 s", "5:9 a=3 s"},
			notes: []string{`the header is in line 4: benchmarks down, runs across; runs are "Run 1" to "Run 3"`,
				`2 rows skipped, which hold no runs: "Setting", "lift"`}},
		{name: "sums that no word names", in: "benchmark,Run 1,Run 2\na,1,2\nb,3,5\nboth,4,7\nc,8,9\nall of it,12,16\n",
			values: []string{"2:3 a=1", "2:5 a=2", "3:3 b=3", "3:5 b=5", "5:3 c=8", "5:5 c=9"},
			notes: []string{`row "both" skipped: it is the sum of the rows above, no benchmark`,
				`row "all of it" skipped: it is the sum of the rows above, no benchmark`}},
		{name: "hours that were minutes", in: "benchmark;Run 1;Run 2\na;6:52:00;6:49:00\n", values: []string{"2:3 a=24720 s", "2:11 a=24540 s"},
			err: `runs.csv:2:3: found the time "6:52:00", and no time here has seconds: spreadsheet programs take 6:52 for 6 hours and 52 minutes; ` +
				`where minutes and seconds are meant, divide the cells by 60 and format them as [h]:mm:ss, else write them as numbers, with their ` +
				`unit min`},
		{name: "commas in quotes, and a point", in: "benchmark,value\na,\"1,5\"\na,2.5\n", values: []string{"3:3 a=2.5"},
			err: `runs.csv:2:3: found "1,5", a decimal comma; it is accepted only where ; or tab separates the columns; write a decimal point`},
	})
}

// Every workbook of the fixtures reads as its script means it: no panic on what is
// left of one whose bytes are cut or changed.
func FuzzReadBook(f *testing.F) {
	files, err := filepath.Glob("../../fixtures/sheets/*.xlsx")
	if err != nil || len(files) == 0 {
		f.Fatal("no workbooks to begin with", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(data))
	}
	f.Fuzz(func(t *testing.T, data string) {
		n := 0
		tally, err := Read(strings.NewReader(data), "f", func(v compare.Value) error {
			if v.Benchmark == "" || v.At.File != "f" || v.At.Line < 1 {
				t.Errorf("%+v", v)
			}
			n++
			return nil
		})
		if got := tally.Values + tally.Missing + tally.SetAside; got != n {
			t.Errorf("tally %+v for %d values", tally, n)
		}
		var at *compare.PlacedError
		if err != nil && !errors.As(err, &at) {
			t.Errorf("%T: %v", err, err)
		}
	})
}
