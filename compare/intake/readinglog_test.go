package intake

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/compare/readings"
)

// readingRules states rules by their keys: "marker", "phase", "warm-up", "2".
func readingRules(t testing.TB, keys ...string) readings.Rules {
	t.Helper()
	r := readings.DefaultRules()
	for i := 0; i < len(keys); i += 2 {
		switch keys[i] {
		case "benchmark":
			r.Benchmark = keys[i+1]
			continue
		}
		if err := ReadingRule(&r, keys[i], keys[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	return r
}

// readLogs reads logs, named log1 and so on, and a list, empty for none. It
// returns notes about the logs, too.
func readLogs(rules readings.Rules, list string, logs ...string) (*readings.Result, []string, error) {
	form := unknownForm
	if list != "" {
		var err error
		if rules.Windows, form, err = readRunList(newText(strings.NewReader(list), "list"), rules.TimeForm); err != nil {
			return nil, nil, err
		}
	}
	c, err := readings.NewCollector(rules)
	if err != nil {
		return nil, nil, describeReadings(err)
	}
	var notes []string
	for i, log := range logs {
		s := &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(), options: &options{}}
		err := readLog(newSource(strings.NewReader(log)), fmt.Sprintf("log%d", i+1), s, rules, form, c)
		notes = append(notes, s.tally.Notes...)
		if err != nil {
			return nil, nil, err
		}
	}
	found, err := c.Result()
	return found, notes, describeReadings(err)
}

// figures lists what was found: "tile-render 1 power 150 W", with the reason
// behind it where it does not count.
func figures(s *readings.Result) (lines []string) {
	for _, r := range s.Runs {
		for _, v := range r.Metrics {
			value := "none"
			if v.Value != nil {
				value = fmt.Sprintf("%.6g", *v.Value)
			}
			line := fmt.Sprintf("%s %s: %s %s %s", r.Benchmark, r.LabelOf(v), v.Metric, value, v.Unit)
			switch {
			case r.Excluded != nil:
				line += " run: " + describeExclusion(r.Excluded)
			case v.Excluded != nil:
				line += " only: " + describeExclusion(v.Excluded)
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// describeExclusion is "OnlyWarmUp{Run:3 WarmUp:5}".
func describeExclusion(e readings.Exclusion) string {
	return strings.TrimPrefix(fmt.Sprintf("%T%+v", e, e), "readings.")
}

func TestReadLogs(t *testing.T) {
	for _, c := range []struct {
		name  string
		rules []string
		list  string
		log   string
		want  []string
	}{
		{"uneven steps weigh by time", []string{"marker", "phase", "gap-steps", "20"}, "",
			// 100 W for 10 s in one step, a jump, 200 W for 2 s in 1 s steps:
			// (10*100 + 2*200) / 12, the jump at one moment.
			"time,phase,power [W]\n0,,1\n1,a,100\n11,a,100\n11,a,200\n12,a,200\n13,a,200\n14,,1\n",
			[]string{"a 1: power 116.667 W", "a 1: energy 1400 J"}},
		{"a ramp is exact", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n0,,0\n1,a,10\n2,a,20\n4,a,40\n5,,0\n",
			[]string{"a 1: power 25 W", "a 1: energy 75 J"}},
		{"the warm-up counts for energy only", []string{"marker", "phase", "warm-up", "2", "maximum", "power", "percentile", "power = 50",
			"above", "power = 150"}, "",
			"time,phase,power [W]\n0,,1\n1,a,300\n2,a,300\n3,a,100\n4,a,100\n5,a,200\n6,,1\n",
			[]string{"a 1: power 125 W", "a 1: power maximum 200 W", "a 1: power p50 100 W", "a 1: power above 150 W 25 % of time",
				"a 1: energy 750 J"}},
		{"the warm-up ends between two readings", []string{"marker", "phase", "warm-up", "1.5"}, "",
			"time,phase,power [W]\n0,,1\n1,a,0\n2,a,10\n3,a,20\n4,,1\n", []string{"a 1: power 17.5 W", "a 1: energy 20 J"}},
		{"a run shorter than the warm-up", []string{"marker", "phase", "warm-up", "5"}, "",
			"time,phase,power [W]\n0,,1\n1,a,100\n4,a,100\n5,,1\n",
			[]string{"a 1: power none W run: OnlyWarmUp{Run:3 WarmUp:5}", "a 1: energy 300 J run: OnlyWarmUp{Run:3 WarmUp:5}"}},
		{"a gap is not bridged", []string{"marker", "phase", "gap-share", "70"}, "",
			"time,phase,power [W]\n0,,1\n1,a,100\n2,a,100\n3,a,100\n10,a,200\n11,a,200\n12,a,200\n13,,1\n",
			[]string{"a 1: power 150 W", "a 1 (energy): energy 600 J only: UnknownEnergy{Column:power Gap:7}"}},
		{"too large a share of gap", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n0,,1\n1,a,100\n2,a,100\n3,a,100\n10,a,200\n11,a,200\n12,a,200\n13,,1\n",
			[]string{"a 1: power 150 W run: TooMuchGap{Share:63.63636363636363 Gap:7 Run:11 MaxShare:10}",
				"a 1: energy 600 J run: TooMuchGap{Share:63.63636363636363 Gap:7 Run:11 MaxShare:10}"}},
		{"a gap in one column", []string{"marker", "phase"}, "",
			"time,phase,clock [MHz],fan [rpm]\n0,,1,1\n1,a,4400,800\n" +
				"2,a,4400,N/A\n3,a,4410,\n4,a,4400,-\n5,a,4400,null\n6,a,4400,--\n7,a,4400,nan\n8,a,4400,900\n9,,1,1\n",
			[]string{"a 1: clock 4401.43 MHz", "a 1 (fan): fan none rpm only: TooFewReadings{Column:fan}"}},
		{"midnight", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n23:59:57.5,,1\n23:59:58.5,a,100\n23:59:59.5,a,100\n00:00:00.5,a,100\n00:00:01.5,,1\n",
			[]string{"a 1: power 100 W", "a 1: energy 200 J"}},
		{"the header again", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n0,,1\n1,a,100\ntime,phase,power [W]\n2,a,100\n3,,1\n",
			[]string{"a 1: power 100 W", "a 1: energy 100 J"}},
		{"numbers begin anew behind a header", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n0,,1\n1,a,100\n2,a,100\ntime,phase,power [W]\n0,a,100\n1,a,100\n2,,1\n3,b,50\n4,b,50\n5,,1\n",
			[]string{"a 1: power 100 W run: CutByRestart{Line:6}", "a 1: energy 100 J run: CutByRestart{Line:6}",
				"a 2: power 100 W run: CutAtStart{}", "a 2: energy 100 J run: CutAtStart{}",
				"b 1: power 50 W", "b 1: energy 50 J"}},
		{"decimal commas", []string{"marker", "phase"}, "",
			"time;phase;power [W]\n0;;1\n1,5;a;100,5\n2,5;a;100,5\n3;;1\n", []string{"a 1: power 100.5 W", "a 1: energy 100.5 J"}},
		{"a sensor that hangs", []string{"marker", "phase"}, "", still("phase"),
			[]string{"a 1 (power): power 100 W only: Frozen{Column:power Value:100 Unit:W Readings:12}",
				"a 1 (power): energy 1100 J only: Frozen{Column:power Value:100 Unit:W Readings:12}",
				"a 1: clock 4405.5 MHz", "a 1: fan 800 rpm"}},
		{"one that may stand still", []string{"marker", "phase", "constant", "pow*"}, "", still("phase"),
			[]string{"a 1: power 100 W", "a 1: energy 1100 J", "a 1: clock 4405.5 MHz", "a 1: fan 800 rpm"}},
		{"cut off at both ends", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n1,a,100\n2,a,100\n3,b,50\n4,b,50\n5,c,20\n6,c,20\n",
			[]string{"a 1: power 100 W run: CutAtStart{}", "a 1: energy 100 J run: CutAtStart{}", "b 1: power 50 W", "b 1: energy 50 J",
				"c 1: power 20 W run: CutAtEnd{}", "c 1: energy 20 J run: CutAtEnd{}"}},
		{"cut off and kept", []string{"marker", "phase", "keep-cut-runs", "true"}, "",
			"time,phase,power [W]\n1,a,100\n2,a,100\n3,c,20\n4,c,20\n", []string{"a 1: power 100 W", "a 1: energy 100 J", "c 1: power 20 W",
				"c 1: energy 20 J"}},
		{"runs by number, one of them twice", []string{"marker", "phase"}, "",
			"time,phase,clock [MHz]\n0,,1\n1,a #3,10\n2,a #3,10\n3,,1\n4,a #3,20\n5,a #3,20\n6,a,30\n7,a,30\n8,,1\n",
			[]string{"a 3: clock 10 MHz", "a 3 (again, line 6): clock 20 MHz run: RunAgain{Run:3 Benchmark:a FirstLine:3}", "a 1: clock 30 MHz"}},
		{"a threshold, a dip and a short stretch", []string{"threshold", "power = 50", "benchmark", "a", "longest-dip", "2", "shortest-run",
			"4"}, "",
			"time,power [W]\n0,1\n1,100\n2,100\n3,20\n4,100\n5,100\n6,1\n7,1\n8,1\n9,100\n10,100\n11,1\n12,1\n13,1\n14,1\n",
			[]string{"a 1: power 80 W", "a 1: energy 320 J"}},
		{"a threshold and a longer dip", []string{"threshold", "power = 50", "benchmark", "a", "longest-dip", "2", "shortest-run", "1"}, "",
			"time,power [W]\n0,1\n1,100\n2,100\n3,20\n4,20\n5,20\n6,100\n7,100\n8,1\n9,1\n10,1\n",
			[]string{"a 1: power 100 W", "a 1: energy 100 J", "a 2: power 100 W", "a 2: energy 100 J"}},
		{"a list cuts between readings", []string{}, "benchmark,start,end,run,session,profile\na,1.5,3.5,7,S,p\nb,3.5,4,,,\nc,4.2,4.8,,,\n",
			"time,power [W]\n0,0\n1,10\n2,20\n3,30\n4,40\n5,50\n",
			[]string{"a 7: power 25 W", "a 7: energy 50 J", "b 1: power 37.5 W run: TooFewRows{}", "b 1: energy 18.75 J run: TooFewRows{}",
				"c 1: power 45 W run: TooFewRows{}", "c 1: energy 27 J run: TooFewRows{}"}},
		{"a list beyond the log", []string{}, "benchmark,start,end\na,3,9\nb,20,30\n",
			"time,power [W]\n0,0\n1,10\n2,20\n3,30\n4,40\n5,50\n",
			[]string{"a 1: power 40 W run: CutAtEnd{}", "a 1: energy 80 J run: CutAtEnd{}",
				"b 1: power none W run: NoRows{}", "b 1: energy none J run: NoRows{}"}},
		{"a list over midnight", []string{}, "benchmark,start,end\na,23:59:59,00:00:01\nb,00:00:01,00:00:03\n",
			"time,power [W]\n23:59:58,1\n23:59:59,10\n00:00:00,10\n00:00:01,10\n00:00:02,10\n00:00:03,10\n00:00:04,1\n",
			[]string{"a 1: power 10 W", "a 1: energy 20 J", "b 1: power 10 W", "b 1: energy 20 J"}},
		{"a list that begins behind midnight", []string{}, "benchmark,start,end\na,00:00:01,00:00:03\n",
			"time,power [W]\n23:59:59,1\n00:00:00,1\n00:00:01,10\n00:00:02,10\n00:00:03,10\n00:00:04,1\n",
			[]string{"a 1: power 10 W", "a 1: energy 20 J"}},
		{"asked for twice", []string{"marker", "phase", "percentile", "power = 95", "percentile", "* = 95", "above", "power = 5", "above",
			"p* = 5", "maximum", "power", "maximum", "*"}, "",
			"time,phase,power [W]\n0,,1\n1,a,10\n2,a,10\n3,,1\n", []string{"a 1: power 10 W", "a 1: power maximum 10 W", "a 1: power p95 10 W",
				"a 1: power above 5 W 100 % of time", "a 1: energy 10 J"}},
		{"temperature rise", []string{"marker", "phase"}, "",
			// The room is read every third row; between, its latest reading holds.
			"time,phase,temperature [C],ambient [C]\n0,,40,20\n1,a,60,\n2,a,62,\n3,a,64,22\n4,a,66,\n5,,40,\n6,,40,22\n",
			[]string{"a 1: temperature 63 °C", "a 1: ambient 21.3333 °C", "a 1: temperature rise 42 K"}},
		{"clock under load", []string{"marker", "phase", "load", "power = 50"}, "",
			"time,phase,clock [MHz],power [W]\n0,,1,1\n1,a,4000,100\n2,a,4000,100\n3,a,1000,10\n4,a,1000,10\n5,,1,1\n",
			[]string{"a 1: clock 2500 MHz", "a 1: clock under load 4000 MHz", "a 1: power 55 W", "a 1: energy 165 J"}},
		{"never under load", []string{"marker", "phase", "load", "power = 500"}, "",
			"time,phase,clock [MHz],power [W]\n0,,1,1\n1,a,4000,100\n2,a,4000,100\n5,,1,1\n",
			[]string{"a 1: clock 4000 MHz",
				"a 1 (clock under load): clock under load none MHz only: NeverUnderLoad{Load:{Column:power Value:500}}", "a 1: power 100 W",
				"a 1: energy 100 J"}},
		{"zero is no ratio", []string{"marker", "phase"}, "",
			"time,phase,fan [rpm],clock [MHz]\n0,,1,1\n1,a,0,10\n2,a,0,10\n3,,1,1\n",
			[]string{"a 1 (fan): fan 0 rpm only: NotPositive{Metric:fan Value:0 Unit:rpm}", "a 1: clock 10 MHz"}},
		{"names, units and factors", []string{"marker", "State", "column", "Package power (W) = power [W]", "column",
			"board power [mW] = board power [W]", "column", "column 5 = core clock [MHz]", "watt-hours", "true"}, "",
			"Timestamp,state,package power (w),board power [mW],core [GHz]\n0,,1,1,1\n" +
				"1,a,3600,1000,4.4\n3601,a,3600,1000,4.4\n7201,a,3600,1000,4.4\n7202,,1,1,1\n",
			[]string{"a 1: power 3600 W", "a 1: energy 2.592e+07 J", "a 1: energy in watt-hours 7200 Wh", "a 1: board power 1 W",
				"a 1: board energy 7200 J", "a 1: board energy in watt-hours 2 Wh", "a 1: core clock 4400 MHz"}},
		{"date and time apart", []string{"marker", "phase", "time-form", "DD.MM.YYYY hh:mm:ss"}, "",
			"Date,Time,phase,power [W]\n01.12.2026,23:59:58,,1\n01.12.2026,23:59:59,a,5\n02.12.2026,00:00:00.5,a,5\n02.12.2026,00:00:02,,1\n",
			[]string{"a 1: power 5 W", "a 1: energy 7.5 J"}},
		{"milliseconds", []string{"marker", "phase"}, "",
			"time [ms],phase,power [W]\n0,,1\n1000,a,5\n1500,a,5\n2500,,1\n", []string{"a 1: power 5 W", "a 1: energy 2.5 J"}},
		{"a last line that breaks off", []string{"marker", "phase"}, "",
			"time,phase,power [W]\n0,,1\n1,a,5\n2,a,5\n3,,1\n4,", []string{"a 1: power 5 W", "a 1: energy 5 J"}},
	} {
		got, _, err := readLogs(readingRules(t, c.rules...), c.list, c.log)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if diff := cmp.Diff(c.want, figures(got)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// still is a log in which power never moves.
func still(marker string) string {
	var b strings.Builder
	b.WriteString("time," + marker + ",power [W],clock [MHz],fan [rpm]\n0,,1,1,1\n")
	for i := range 12 {
		fmt.Fprintf(&b, "%d,a,100,%d,800\n", i+1, 4400+i)
	}
	b.WriteString("13,,1,1,1\n")
	return b.String()
}

// What a log says of itself beside its runs.
func TestLogNotes(t *testing.T) {
	for _, c := range []struct {
		name, log, want string
	}{
		{"header again", "time,phase,power [W]\n0,a,1\ntime,phase,power [W]\n1,a,2\n", "the header stands again in 1 row,"},
		{"no readings", "time,phase,power [W]\n0,a,1\n1,a,N/A\n2,a,3\n", "cells without a reading (empty, N/A and the like): 1"},
		{"same time", "time,phase,power [W]\n0,a,1\n0,a,1\n1,a,3\n", "rows with the time of the row before: 1;"},
		{"breaks off", "time,phase,power [W]\n0,a,1\n1,a,1\n2,a", "line 4, the last one, breaks off"},
		{"no unit", "time,phase,power [W],x,y\n0,a,1,1,1\n1,a,1,1,1\n", `no unit is stated in brackets: "x", "y"`},
		{"no direction", "time,phase,power [W],fan [%]\n0,a,1,1\n1,a,1,1\n", `map it, as in "fan [%] = fan [%, lower]"`},
		{"a counter", "time,phase,power [W],used [kWh]\n0,a,1,1\n1,a,1,1\n", `column "used [kWh]" left out: energy is worked out from power`},
		{"a score", "time,phase,power [W],rate [fps]\n0,a,1,1\n1,a,1,1\n", "by its unit it would be a score"},
		{"text", "time,phase,power [W],fan [rpm]\n0,a,1,auto\n1,a,1,1\n", `column "fan [rpm]" left out: it holds text`},
	} {
		_, notes, err := readLogs(readingRules(t, "marker", "phase"), "", c.log)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		found := false
		for _, n := range notes {
			found = found || strings.Contains(n, c.want)
		}
		if !found {
			t.Errorf("%s: no note %q in %q", c.name, c.want, notes)
		}
	}
}

func TestLogErrors(t *testing.T) {
	const head = "time,phase,power [W]\n"
	for _, c := range []struct {
		name, list, log, want string
		rules                 []string
	}{
		{"step back", "", head + "5,a,1\n4,a,1\n", "log1:3:1: found the time \"4\", 1 s before that of line 2; a log runs forward", nil},
		{"step back in times of day", "", head + "12:00:05,a,1\n12:00:04.5,a,1\n",
			"0.5 s before that of line 2; only a step back of more than 12 hours is midnight", nil},
		{"step back of dates", "", head + "2026-11-02 09:00:00.25,a,1\n2026-11-02 09:00:00,a,1\n",
			"log1:3:1: found the time \"2026-11-02 09:00:00\", 0.25 s before", nil},
		{"other header", "", head + "0,a,1\ntime,power [W],phase\n", "log1:3:1: found a header again, but with other columns than in line 1",
			nil},
		{"longer header", "", head + "0,a,1\ntime,phase,power [W],fan [rpm]\n", "log1:3:1: found a header again, but with other columns", nil},
		{"text for a reading", "", head + "0,a,1\n1,a,hot\n", "log1:3:5: found \"hot\", expected a number", nil},
		{"no time", "", head + "0,a,1\n,a,1\n", "log1:3:1: found no time, expected one in every row", nil},
		{"day or month", "", head + "02.11.2026 09:00:00,a,1\n",
			"log1:2:1: found the time \"02.11.2026 09:00:00\", whose day and month cannot be told apart for certain", nil},
		{"other form of time", "", head + "2026-11-02 09:00:00,a,1\n7,a,1\n",
			"log1:3:1: found the time \"7\", expected one like 2026-11-02 09:05:07", nil},
		{"cells missing", "", head + "0,a,1\n1,a\n2,a,1\n", "log1:3:3: found 2 cells, expected 3 as in the header", nil},
		{"decimal marks", "", "time;phase;power [W]\n0;a;1,5\n1;a;1.5\n",
			"log1:3:5: found \"1.5\", but \"1,5\" at log1:2:5 has the other decimal mark", nil},
		{"no time column", "", "x,phase,power [W]\n0,a,1\n", "log1:1:1: found no time column", nil},
		{"no marker", "", "time,power [W]\n0,1\n", "log1:1:1: the marker: no column is headed \"phase\"; there are \"time\", \"power [W]\"", nil},
		{"no mapped column", "", head + "0,a,1\n", "no column is headed \"Fan\"", []string{"column", "Fan = fan [rpm]"}},
		{"no unit", "", head + "0,a,1\n", "neither the header \"phase\" nor its mapping", []string{"marker", "power [W]", "column",
			"phase = fan"}},
		{"no factor", "", "time,phase,power [kJ]\n0,a,1\n", "is in kJ, but mapped to W, and there is no factor", []string{"column",
			"power [kJ] = power [W]"}},
		{"a counter", "", "time,phase,used [Wh]\n0,a,1\n", "counts energy, and the mean of a counter says nothing", []string{"column",
			"used [Wh] = energy"}},
		{"two of a metric", "", "time,phase,power [W],x\n0,a,1,1\n", "the metric \"energy\" would come from energy and from power",
			[]string{"column", "x = energy [V]"}},
		{"two of a name", "", "time,phase,power [W],power [W]\n0,a,1,1\n", "log1:1:22: columns 3 and 4 are both named \"power\"", nil},
		{"no sensor", "", "time,phase,power\n0,a,1\n", "found no column that states a unit in brackets", nil},
		{"no rows", "", head, "found a header without rows", nil},
		{"empty", "", "", "the file is empty, expected a header such as \"time,phase,", nil},
		{"no run", "", head + "0,,1\n1,,1\n", "log1: found no run: column \"phase\" is empty in every row", nil},
		{"JSON", "", `{"time":1}`, "found JSON, expected a header such as", nil},
		{"too large", "", head + "0,a,1e13\n", "too large for a reading", nil},
		{"a time for a reading", "", head + "0,a,6:52.3\n", "found the time \"6:52.3\", expected a reading in W", nil},
		{"unit of time", "", "time [days],phase,power [W]\n0,a,1\n", "expected its unit to be s, ms", nil},
		{"list overlaps", "benchmark,start,end\na,0,5\nb,4,9\n", head + "0,,1\n", "list:3:3: this run starts before the one at list:2:3 ends",
			nil},
		{"list backwards", "benchmark,start,end\na,5,5\n", head + "0,,1\n", "list:2:5: the end is not behind the start", nil},
		{"list in another form", "benchmark,start,end\na,09:00:00,09:00:05\n", head + "0,,1\n",
			"log1:2:1: the log has numbers from a start, but the list of runs has times of day", nil},
		{"list without end", "benchmark,start\na,1\n", head + "0,,1\n", "list:1:1: found no column benchmark, start or end", nil},
		{"list with more", "benchmark,start,end,note\na,1,2,x\n", head + "0,,1\n", "list:1:21: found the column \"note\"", nil},
		{"list without benchmark", "benchmark,start,end\n,1,2\n", head + "0,,1\n", "list:2:1: found no benchmark", nil},
		{"list and a new start", "benchmark,start,end\na,1,2\n", head + "0,,1\n1,,1\n" + head + "0,,1\n",
			"log1:5:1: the log was started anew here", nil},
		{"threshold of nothing", "", head + "0,a,1\n", "the threshold is about \"wall\", which is no column here; there are \"power\"",
			[]string{"threshold", "wall = 5"}},
		{"threshold never reached", "", head + "0,a,1\n1,a,3\n", "power is never above 50; its highest reading is 3", []string{"threshold",
			"power = 50"}},
		{"threshold in short", "", head + "0,a,1\n1,a,60\n2,a,1\n9,a,1\n", "1 stretch with power above 50, none of them as long as 10 s",
			[]string{"threshold", "power = 50"}},
	} {
		rules := readingRules(t, "marker", "phase")
		for i := 0; i < len(c.rules); i += 2 {
			if err := ReadingRule(&rules, c.rules[i], c.rules[i+1]); err != nil {
				t.Fatal(err)
			}
		}
		if rules.Threshold != nil || c.list != "" {
			rules.Marker = ""
		}
		_, _, err := readLogs(rules, c.list, c.log)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// What a log holds beside its runs comes back as values.
func TestReadLogsBesideRuns(t *testing.T) {
	const log = "time,phase,power [W],fan [rpm],clock [MHz]\n0,,1,,1\n1,a,1,,5\n2,a,1,N/A,6\n3,a,2,-,5\n20,a,1,,5\n21,,1,,1\n"
	rules := readingRules(t, "marker", "phase", "maximum", "pwoer", "above", "heat = 5", "maximum", "pow*", "constant", "f?n")
	got, _, err := readLogs(rules, "", log)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"fan"}, got.Silent); diff != "" {
		t.Errorf("columns without readings (-want +got):\n%s", diff)
	}
	unmatched := []readings.UnmatchedPattern{{Rule: "maximum", Pattern: "pwoer"}, {Rule: "above", Pattern: "heat"}}
	if diff := cmp.Diff(unmatched, got.Unmatched); diff != "" {
		t.Errorf("patterns (-want +got):\n%s", diff)
	}
	usual, longest := 1.0, 5.0
	logs := []readings.Log{{File: "log1", Rows: 6, UsualStep: &usual, MaxStep: &longest, Gaps: 1}}
	if diff := cmp.Diff(logs, got.Logs); diff != "" {
		t.Errorf("logs (-want +got):\n%s", diff)
	}
	got, _, err = readLogs(readingRules(t, "marker", "phase"), "", still("phase"))
	if err != nil {
		t.Fatal(err)
	}
	frozen := []readings.FrozenColumn{{Name: "power", Runs: 1, Excluded: 1}, {Name: "fan", Runs: 1}}
	if diff := cmp.Diff(frozen, got.Frozen); diff != "" {
		t.Errorf("frozen columns (-want +got):\n%s", diff)
	}
	const stretches = "time,power [W]\n0,1\n1,100\n2,100\n3,1\n4,1\n5,1\n6,1\n7,100\n8,1\n9,1\n10,1\n"
	rules = readingRules(t, "threshold", "power = 50", "benchmark", "a", "longest-dip", "2", "shortest-run", "1")
	if got, _, err = readLogs(rules, "", stretches); err != nil || got.ShortStretches != 1 || len(got.Runs) != 1 {
		t.Errorf("%v, %+v; want a run and a shorter stretch", err, got)
	}
}

// Faults that a rule mends are told apart, also in a list of runs; each has its
// place.
func TestLogFaults(t *testing.T) {
	const head = "time,phase,power [W]\n"
	for _, c := range []struct {
		list, log string
		want      LogFault
		at        compare.Place
	}{
		{"", "x,phase,power [W]\n0,a,1\n", NoTimeColumn, compare.Place{File: "log1", Line: 1, Column: 1}},
		{"", head + "02.11.2026 09:00:00,a,1\n", AmbiguousDate, compare.Place{File: "log1", Line: 2, Column: 1}},
		{"", head + "later,a,1\n", UnknownTime, compare.Place{File: "log1", Line: 2, Column: 1}},
		{"benchmark,start,end\na,1/2/2026 9:00,9:05\n", head + "0,,1\n", AmbiguousDate, compare.Place{File: "list", Line: 2, Column: 3}},
	} {
		rules := readingRules(t, "marker", "phase")
		if c.list != "" {
			rules.Marker = ""
		}
		_, _, err := readLogs(rules, c.list, c.log)
		var fault *LogError
		var placed *compare.PlacedError
		if !errors.As(err, &fault) || fault.Fault != c.want || !errors.As(err, &placed) || placed.At != c.at {
			t.Errorf("%q: %v, want fault %d at %v", c.list+c.log, err, c.want, c.at)
		}
	}
	_, _, err := readLogs(readingRules(t, "marker", "phase"), "", head+"0,a,1\n1,a,hot\n")
	if fault := (*LogError)(nil); err == nil || errors.As(err, &fault) {
		t.Errorf("%v is mended by no rule", err)
	}
}

// One run of two logs: each log is its own, and runs of the same number want
// sessions.
func TestLogsInTurn(t *testing.T) {
	const a = "time,phase,power [W]\n0,,1\n1,a,10\n2,a,10\n3,,1\n"
	got, _, err := readLogs(readingRules(t, "marker", "phase"), "", a, a)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"a 1: power 10 W", "a 1: energy 10 J", "a 2: power 10 W", "a 2: energy 10 J"}
	if diff := cmp.Diff(want, figures(got)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	numbered := strings.ReplaceAll(a, ",a,", ",a #1,")
	_, _, err = readLogs(readingRules(t, "marker", "phase"), "", numbered, numbered)
	if err == nil || !strings.Contains(err.Error(), "log2:3: run 1 of a is in log1, too; say that each log is a session") {
		t.Errorf("%v", err)
	}
	rules := readingRules(t, "marker", "phase")
	rules.SessionPerLog = true
	got, _, err = readLogs(rules, "", numbered, numbered)
	if err != nil || got.Runs[0].Session != "log1" || got.Runs[1].Session != "log2" || got.Runs[1].Label != "1" {
		t.Errorf("%v, %+v", err, got)
	}
	kilo := strings.ReplaceAll(a, "[W]", "[kW]")
	_, _, err = readLogs(readingRules(t, "marker", "phase"), "", a, kilo)
	if err == nil || !strings.Contains(err.Error(), `power is in "kW" here but in "W" in an earlier log`) {
		t.Errorf("%v", err)
	}
	list := "benchmark,start,end\na,2026-11-02 09:00:01,2026-11-02 09:00:03\nb,2026-11-03 09:00:01,2026-11-03 09:00:03\n"
	day := func(d string) string {
		return strings.ReplaceAll("time,power [W]\n# 09:00:00,5\n# 09:00:01,5\n# 09:00:02,5\n# 09:00:03,5\n# 09:00:04,5\n", "#", d)
	}
	if got, _, err = readLogs(readings.DefaultRules(), list, day("2026-11-03"), day("2026-11-02")); err != nil {
		t.Fatal(err)
	}
	want = []string{"b 1: power 5 W", "b 1: energy 10 J", "a 1: power 5 W", "a 1: energy 10 J"}
	if diff := cmp.Diff(want, figures(got)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestLogTimes(t *testing.T) {
	for _, c := range []struct {
		form, text string
		want       float64 // s; NaN for an error
	}{
		{"", "1970-01-01T00:00:05Z", math.NaN()}, // a clock that was never set
		{"", "1971-01-01T00:00:00.5Z", 365*86_400 + 0.5},
		{"", "1971-01-01T01:00:00+01:00", 365 * 86_400},
		{"", "1971-01-01 00:00:00,25", 365*86_400 + 0.25},
		{"", "1971/01/01 00:00:00", 365 * 86_400},
		{"", "09:00:00.5", 32_400.5},
		{"", "24:00:00", math.NaN()},
		{"", "6:52.3", math.NaN()},
		{"", "12.5", 12.5},
		{"", "1e12", math.NaN()},
		{"", "later", math.NaN()},
		{"", "1/2/2026 9:00:00", math.NaN()},
		{"M/D/YYYY h:mm:ss AM", "1/2/1971 1:00:00.5 PM", 366*86_400 + 46_800.5},
		{"DD.MM.YYYY hh:mm:ss", "02.01.1971 00:00:01", 366*86_400 + 1},
		{"DD.MM.YYYY hh:mm:ss", "32.01.1971 00:00:01", math.NaN()},
		{"YYYY-MM-DD hh:mm", "1971-01-01 00:01", 365*86_400 + 60},
		{"hh:mm:ss AM", "01:00:00 PM", 46_800},
	} {
		clock, err := newLogClock(c.form, 1, true)
		if err != nil {
			t.Fatal(err)
		}
		got, err := clock.next(c.text)
		if math.IsNaN(c.want) != (err != nil) || err == nil && float64(got)/1e9 != c.want {
			t.Errorf("%q as %q: %v s, %v; want %v", c.text, c.form, float64(got)/1e9, err, c.want)
		}
	}
	for _, form := range []string{"", "Jan 2 2006", "DD.MM hh:mm", "hh", "DD.DD.YYYY hh:mm", "hh:mm:ss é", "2006-01-02 15:04:05"} {
		if _, err := layoutOf(form); err == nil {
			t.Errorf("%q is no form of times", form)
		}
	}
}

// A marker that is none makes a run of every row; what is held stays bounded.
func TestLogOfTooManyRuns(t *testing.T) {
	comparetest.FullTier(t, "until the limit of runs is reached")
	c, err := readings.NewCollector(readingRules(t, "marker", "noise"))
	if err != nil {
		t.Fatal(err)
	}
	log := &endless{rows: 1_000_000, row: func(i int) string {
		if i == 0 {
			head := "time,noise"
			for k := range 50 {
				head += fmt.Sprintf(",fan %d [rpm]", k)
			}
			return head + "\n"
		}
		return fmt.Sprintf("%d,x%d%s\n", i, i%2, strings.Repeat(",1", 50))
	}}
	s := &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(), options: &options{}}
	err = readLog(newSource(log), "log", s, readingRules(t, "marker", "noise"), unknownForm, c)
	if err == nil || !strings.Contains(err.Error(),
		"runs so far, which is a mistake: does something else than a benchmark's name stand in the marker column") {
		t.Errorf("%v", err)
	}
}

// A row on the straight line between two others changes no mean and no energy,
// nor does another origin of time; and a list whose times are those of the
// first and last row says the same as the marker.
func TestLogProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(rt, "rows")
		origin := rapid.IntRange(0, 1_000_000).Draw(rt, "origin")
		plain, moved := "time,phase,power [W]\n0,,7\n", fmt.Sprintf("time,phase,power [W]\n%d,,7\n", origin)
		dense := plain
		at, last := 0, 0
		for i := range n {
			at += 2 * rapid.IntRange(1, 4).Draw(rt, "step")
			v := 2 * rapid.IntRange(1, 100).Draw(rt, "power")
			if i > 0 {
				dense += fmt.Sprintf("%g,a,%g\n", float64(at-1), float64(v)-float64(v-last)/float64(at-prev(plain)))
			}
			row := fmt.Sprintf("%d,a,%d\n", at, v)
			plain, dense, moved = plain+row, dense+row, moved+fmt.Sprintf("%d,a,%d\n", origin+at, v)
			last = v
		}
		end := fmt.Sprintf("%d,,7\n", at+2)
		first := strings.SplitN(strings.Split(plain, "\n")[2], ",", 2)[0]
		list := fmt.Sprintf("benchmark,start,end\na,%s,%d\n", first, at)
		one := func(list, log string, keys ...string) [2]float64 {
			s, _, err := readLogs(readingRules(t, append(keys, "gap-steps", "1000")...), list, log)
			if err != nil || len(s.Runs) != 1 || s.Runs[0].Excluded != nil {
				rt.Fatalf("%v, %+v", err, s)
			}
			return [2]float64{*s.Runs[0].Metrics[0].Value, *s.Runs[0].Metrics[1].Value}
		}
		want := one("", plain+end, "marker", "phase")
		for name, got := range map[string][2]float64{
			"denser": one("", dense+end, "marker", "phase"), "moved": one("", moved+fmt.Sprintf("%d,,7\n", origin+at+2), "marker", "phase"),
			"listed": one(list, plain+end),
		} {
			for k := range want {
				if math.Abs(got[k]-want[k]) > 1e-6*want[k] {
					rt.Errorf("%s: %v, want %v", name, got, want)
				}
			}
		}
	})
}

// prev is the time of the last row.
func prev(log string) int {
	rows := strings.Split(strings.TrimSpace(log), "\n")
	var at int
	fmt.Sscanf(rows[len(rows)-1], "%d,", &at)
	return at
}
