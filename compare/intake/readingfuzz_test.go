package intake

import (
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"strconv"
	"testing"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
	"tunegate/compare/readings"
)

// FuzzReadLogs holds the reader of logs to what is true of any input: it ends,
// an error has a place, and every run and figure is one that compare takes.
func FuzzReadLogs(f *testing.F) {
	for _, seed := range []string{
		"time,phase,power [W]\n0,,1\n1,a,100\n2,a,100\n3,,1\n", "time;phase;power [W]\n0,5;a #1;1,5\n1;a #1;N/A\n",
		"time,phase,power [W]\n23:59:59,a,1\n00:00:00,a,2\n",
		"date,time,phase,clock [MHz]\n2026-11-02,09:00:00.25,a,1\n2026-11-02,09:00:01,a,1\n",
		"time,phase,power [W]\n0,a,1\ntime,phase,power [W]\n0,a,2\n1,b,2",
		"time,phase,temperature [C],ambient [C]\n2026-11-02T09:00:00Z,a,60,20\n2026-11-02T09:00:01Z,a,61,20\n",
		"time [ms],phase,power [mW]\n-5,#1,0\n1e3,#1,1e12\n2e3,a#,-1\n", "time,phase,power [W]\n4e9,a,1\n-4e9,a,1\n",
		"time,phase,power [W]\n0,a,1\n0,a,2\n0,a,3\n", "\ufefftime,phase,\"power [W]\"\r\n\"0\",\"a\nb\",1\r\n",
		"time,phase,fan [rpm],fan [rpm]\n0,a,1,1\n", "sep=;\ntime;phase;power [W]\n1;a;1\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, log string) {
		for _, rules := range []readings.Rules{
			readingRules(t, "marker", "phase", "warm-up", "0.5", "percentile", "* = 95", "above", "* = 1",
				"below", "* = 1", "maximum", "*", "watt-hours", "true"),
			readingRules(t, "threshold", "power = 1", "benchmark", "a", "shortest-run", "0"),
		} {
			checkReadings(t, rules, "", log)
		}
		checkReadings(t, readings.DefaultRules(), "benchmark,start,end\na,0.5,1.5\nb,1.5,3\n", log)
		checkReadings(t, readings.DefaultRules(), log, "time,power [W]\n0,1\n1,2\n2,3\n")
	})
}

func checkReadings(t *testing.T, rules readings.Rules, list, log string) {
	got, _, err := readLogs(rules, list, log)
	if err != nil {
		var p *compare.PlacedError
		if !errors.As(err, &p) || got != nil {
			t.Errorf("error without a place: %v", err)
		}
		return
	}
	var runs compare.Runs
	for _, r := range got.Runs {
		if r.Label == "" || r.Benchmark == "" || r.Line < 1 || r.LastLine < r.Line ||
			!(r.Seconds >= 0) || !(r.Gap >= 0) || r.Counted > r.Seconds {
			t.Errorf("%+v", r)
		}
		for _, v := range r.Metrics {
			if v.Value == nil && r.ExcludedAs(v) == nil {
				t.Errorf("no value and no reason: %+v", v)
			}
			out := compare.Value{
				Benchmark: r.Benchmark, Metric: v.Metric, Unit: v.Unit, Better: v.Better,
				Run: r.LabelOf(v), SetAside: r.ExcludedAs(v) != nil,
			}
			if v.Value != nil {
				out.Value = *v.Value
				if math.IsNaN(out.Value) || math.IsInf(out.Value, 0) || v.Unit == compare.ShareOfTime && (out.Value < 0 || out.Value > 100) {
					t.Errorf("%s is %v", v.Metric, out.Value)
				}
				if !out.SetAside && compare.TraitsOf(v.Unit).Scale == compare.Ratio && out.Value <= 0 {
					t.Errorf("%s is %v %s on a ratio scale", v.Metric, out.Value, v.Unit)
				}
			}
			if err := runs.Add(out); err != nil {
				t.Errorf("%v", err)
			}
		}
	}
}

// endless writes a log row by row as it is read: no file is as long.
type endless struct {
	rows, at int
	pending  string
	row      func(i int) string
}

func (e *endless) Read(p []byte) (int, error) {
	for e.pending == "" {
		if e.at == e.rows {
			return 0, io.EOF
		}
		e.pending = e.row(e.at)
		e.at++
	}
	n := copy(p, e.pending)
	e.pending = e.pending[n:]
	return n, nil
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }

// clockText is i tenths of a second behind three in the afternoon.
func clockText(i int) string {
	tenths := (15*36_000 + i) % 864_000
	return fmt.Sprintf("%02d:%02d:%02d.%d", tenths/36_000, tenths/600%60, tenths/10%60, tenths%10)
}

// A day at ten readings a second: what is held does not grow with the log, and
// the figures are those that calculus gives.
func TestLogOfADay(t *testing.T) {
	comparetest.FullTier(t, "864,000 rows")
	const rows = 864_000
	const period, level, swing = 600.0, 180.0, 20.0 // s, W
	power := func(i int) float64 { return level + swing*math.Sin(2*math.Pi*float64(i)/10/period) }
	log := &endless{rows: rows + 3, row: func(i int) string {
		switch {
		case i == 0:
			return "time,phase,power [W],temperature [°C],clock [MHz]\n"
		case i == 1 || i == rows+2:
			return clockText(i) + ",,1,40,1200\n"
		}
		return clockText(i) + ",day," + decimal(power(i)) + "," + decimal(70+float64(i%13)/10) + "," + decimal(4400+float64(i%17)) + "\n"
	}}
	rules := readingRules(t, "marker", "phase", "percentile", "power = 95", "maximum", "power")
	c, err := readings.NewCollector(rules)
	if err != nil {
		t.Fatal(err)
	}
	peak := uint64(0)
	plain := log.row
	log.row = func(i int) string {
		if i%50_000 == 0 {
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			peak = max(peak, m.HeapAlloc)
		}
		return plain(i)
	}
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before := m.HeapAlloc
	s := &sink{noted: map[string]bool{}, pool: newPool(), names: newNames(), options: &options{}}
	if err := readLog(newSource(log), "day", s, rules, unknownForm, c); err != nil {
		t.Fatal(err)
	}
	if grown := int64(peak) - int64(before); grown > 8<<20 {
		t.Errorf("%d bytes held while reading, expected less than 8 MiB", grown)
	}
	out, err := c.Result()
	if err != nil {
		t.Fatal(err)
	}
	const seconds = float64(rows-1) / 10
	whole := func(x float64) float64 { return -swing * period / (2 * math.Pi) * math.Cos(2*math.Pi*x/period) }
	energy := level*seconds + whole(float64(rows+1)/10) - whole(0.2)              // rows 2 to rows + 1
	bound := 0.01/12*seconds*swing*math.Pow(2*math.Pi/period, 2) + 0.5e-3*seconds // the rule's, and the rounding of the log
	p95 := level + swing*math.Sin(math.Pi*(0.95-0.5))
	for _, want := range []struct {
		metric     string
		value, off float64
	}{
		{"power", energy / seconds, bound / seconds}, {"energy", energy, bound}, {"power maximum", level + swing, 0.001},
		{"power p95", p95, 0.1},
	} {
		found := false
		for _, v := range out.Runs[0].Metrics {
			if v.Metric != want.metric {
				continue
			}
			found = true
			if math.Abs(*v.Value-want.value) > want.off+v.Within || v.Within > 0.00025*2*swing {
				t.Errorf("%s = %v within %v, want %v within %v", v.Metric, *v.Value, v.Within, want.value, want.off)
			}
		}
		if !found {
			t.Errorf("no %s", want.metric)
		}
	}
}
