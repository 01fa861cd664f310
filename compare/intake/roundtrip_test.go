package intake

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/compare"
)

// Whatever is written in a shape is read back the same.

var (
	anyName  = rapid.StringMatching(`[a-zé猫0-9"'_/.-]([a-z°µ0-9"',;:\t _/-]{0,10}[a-z猫0-9"])?`).Filter(plainName)
	anyUnit  = rapid.SampledFrom([]string{"", "s", "ms", "µs", "W", "°C", "MB/s", "points"})
	anyValue = rapid.OneOf(rapid.Float64Range(-maxMagnitude, maxMagnitude), rapid.Float64Range(0, 1000),
		rapid.Map(rapid.IntRange(-999, 999), func(i int) float64 { return float64(i) / 4 })).Filter(readable)
	anyTime = rapid.Map(rapid.Int64Range(86400*366, 9e9), func(s int64) time.Time { return time.Unix(s, 123456789).UTC() })
)

// plainName leaves out names with a meaning of their own in some shape, and the
// guard of a spreadsheet's formula. Names have no capitals: two that differ by
// case only are one.
func plainName(s string) bool {
	isRun := runHeadOf(s).number > 0
	_, known := columnNamed(s)
	_, word := columnWords[foldWord(s)]
	_, near := mistypedColumn(s, func(column) bool { return false })
	_, notNumber := parseNumber(s, true)
	return s == unguarded(strings.TrimSpace(s)) &&
		!isRun && !known && !word && !near && !isStatistic(s) && notNumber != nil && !strings.Contains(s+" ", ": ")
}

func anyLabel(t *rapid.T, what string) string {
	if rapid.Bool().Draw(t, what+" stated") {
		return anyName.Draw(t, what)
	}
	return ""
}

// csvForm is how a CSV file is written.
type csvForm struct {
	sep     rune
	mark    string
	crlf    bool
	bom     bool
	newline bool
}

func anyForm(t *rapid.T) csvForm {
	form := csvForm{sep: rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "separator"), mark: ".",
		crlf: rapid.Bool().Draw(t, "CRLF"), bom: rapid.Bool().Draw(t, "byte-order mark"), newline: rapid.Bool().Draw(t, "blank rows")}
	if form.sep != ',' && rapid.Bool().Draw(t, "decimal comma") {
		form.mark = ","
	}
	return form
}

func (f csvForm) number(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'g', -1, 64), ".", f.mark, 1)
}

// file writes rows. The separator is stated on the first line: a random
// header may hold more of another one.
func (f csvForm) file(rows [][]string) string {
	var b bytes.Buffer
	if f.bom {
		b.WriteString("\ufeff")
	}
	fmt.Fprintf(&b, "sep=%c\n", f.sep)
	w := csv.NewWriter(&b)
	w.Comma, w.UseCRLF = f.sep, f.crlf
	for _, row := range rows {
		w.Write(row)
		if f.newline {
			w.Write(make([]string, len(row)))
		}
	}
	w.Flush()
	return b.String()
}

// checkSame reads a file and compares all but the places.
func checkSame(t *rapid.T, file string, want []compare.Value) {
	var got []compare.Value
	tally, err := Read(strings.NewReader(file), "f", func(v compare.Value) error {
		if v.At.Line < 1 || v.At.Column < 1 {
			t.Errorf("%q stands at %v", v.Benchmark, v.At)
		}
		v.At = compare.Place{}
		got = append(got, v)
		return nil
	})
	if err != nil {
		t.Fatalf("%v in\n%s", err, file)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Fatalf("(-want +got):\n%s\n%s", diff, file)
	}
	if len(tally.Notes) > 0 {
		t.Fatalf("notes %q on\n%s", tally.Notes, file)
	}
}

// anyLong draws values with everything a long row can say.
func anyLong(t *rapid.T) []compare.Value {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) compare.Value {
		v := compare.Value{Benchmark: anyName.Draw(t, "benchmark"), Metric: anyLabel(t, "metric"), Unit: anyUnit.Draw(t, "unit"),
			Better:  rapid.SampledFrom([]compare.Better{"", compare.Higher, compare.Lower}).Draw(t, "better"),
			Profile: anyLabel(t, "profile"), Machine: anyLabel(t, "machine"), Look: rapid.IntRange(0, 2).Draw(t, "look"),
			Session: anyLabel(t, "session"), Block: anyLabel(t, "block"), Run: anyLabel(t, "run")}
		if rapid.Bool().Draw(t, "timed") {
			v.Time = anyTime.Draw(t, "time")
		}
		if rapid.IntRange(0, 4).Draw(t, "set aside") == 0 {
			v.SetAside, v.Reason = true, anyName.Draw(t, "reason")
		}
		if v.Missing = rapid.IntRange(0, 4).Draw(t, "missing") == 0; !v.Missing {
			v.Value = anyValue.Draw(t, "value")
		}
		return v
	}), 1, 8).Draw(t, "values")
}

func valid(v compare.Value) string {
	if v.SetAside {
		return "no"
	}
	return "yes"
}

func lookText(v compare.Value) string {
	if v.Look == 0 {
		return ""
	}
	return strconv.Itoa(v.Look)
}

func timeText(v compare.Value) string {
	if v.Time.IsZero() {
		return ""
	}
	return v.Time.Format(time.RFC3339Nano)
}

func TestLongCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anyLong(t)
		form := anyForm(t)
		order := rapid.Permutation([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13}).Draw(t, "columns")
		rows := [][]string{columnNames[:]}
		for _, v := range want {
			value := ""
			if !v.Missing {
				value = form.number(v.Value)
			}
			rows = append(rows, []string{v.Benchmark, value, v.Metric, v.Unit, string(v.Better), v.Profile, v.Machine, v.Session, v.Block,
				v.Run, timeText(v), valid(v), v.Reason, lookText(v)})
		}
		for i, row := range rows {
			ordered := make([]string, len(row))
			for to, from := range order {
				ordered[to] = row[from]
			}
			rows[i] = ordered
		}
		checkSame(t, form.file(rows), want)
	})
}

func TestJSONLinesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anyLong(t)
		var file bytes.Buffer
		for _, v := range want {
			object := map[string]any{"benchmark": v.Benchmark, "value": nil}
			for key, text := range map[string]string{"metric": v.Metric, "unit": v.Unit, "better": string(v.Better), "profile": v.Profile,
				"machine": v.Machine, "session": v.Session, "block": v.Block, "run": v.Run, "time": timeText(v), "reason": v.Reason,
				"look": lookText(v)} {
				if text != "" {
					object[key] = text
				}
			}
			if v.SetAside || rapid.Bool().Draw(t, "valid stated") {
				object["valid"] = !v.SetAside
			}
			if !v.Missing {
				object["value"] = v.Value
				if rapid.Bool().Draw(t, "value as text") {
					object["value"] = strconv.FormatFloat(v.Value, 'g', -1, 64)
				}
			}
			line, err := json.Marshal(object)
			if err != nil {
				t.Fatal(err)
			}
			file.Write(line)
			file.WriteString(rapid.SampledFrom([]string{"\n", "\r\n", "\n\n"}).Draw(t, "line end"))
		}
		checkSame(t, file.String(), want)
	})
}

func TestWideCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		form := anyForm(t)
		type metric struct{ Benchmark, Metric, Unit string }
		metrics := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) metric {
			return metric{anyName.Draw(t, "benchmark"), anyName.Draw(t, "metric"),
				anyUnit.Filter(func(u string) bool { return u != "" }).Draw(t, "unit")}
		}), 1, 4, func(m metric) string { return m.Benchmark + "\x00" + m.Metric }).Draw(t, "metrics")
		head := []string{"run", "session", "valid", "reason"}
		for _, m := range metrics {
			head = append(head, fmt.Sprintf("%s: %s [%s]", m.Benchmark, m.Metric, m.Unit))
		}
		rows := [][]string{head}
		var want []compare.Value
		labelled := rapid.Bool().Draw(t, "runs stated") // all of them: a row without a label may be one of means
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			base := compare.Value{Session: anyName.Draw(t, "session")}
			if labelled {
				base.Run = anyName.Draw(t, "run")
			}
			if rapid.IntRange(0, 4).Draw(t, "set aside") == 0 {
				base.SetAside, base.Reason = true, anyName.Draw(t, "reason")
			}
			row := []string{base.Run, base.Session, valid(base), base.Reason}
			for _, m := range metrics {
				v := base
				v.Benchmark, v.Metric, v.Unit = m.Benchmark, m.Metric, m.Unit
				cell := ""
				// A row without a number below an empty one is a remark.
				if v.Missing = len(row) > 3 && rapid.IntRange(0, 4).Draw(t, "missing") == 0; !v.Missing {
					v.Value = anyValue.Draw(t, "value")
					cell = form.number(v.Value)
				}
				row = append(row, cell)
				want = append(want, v)
			}
			rows = append(rows, row)
		}
		checkSame(t, form.file(rows), want)
	})
}

func TestSheetRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		form := anyForm(t)
		runs := rapid.IntRange(1, 6).Draw(t, "runs")
		heading := rapid.SampledFrom([]string{"Run %d", "run%d", "R%d", "#%d", "%d"}).Draw(t, "heading")
		first := rapid.SampledFrom([]string{"benchmark", ""}).Draw(t, "first header")
		head := []string{first, "unit", "metric"}
		for i := range runs {
			head = append(head, fmt.Sprintf(heading, i+1))
		}
		rows := [][]string{head}
		var want []compare.Value
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			base := compare.Value{Benchmark: anyName.Draw(t, "benchmark"), Unit: anyUnit.Draw(t, "unit"), Metric: anyLabel(t, "metric")}
			row := []string{base.Benchmark, base.Unit, base.Metric}
			for range runs {
				v := base
				cell := ""
				// A row without a number below an empty one is a remark.
				if v.Missing = len(row) > 3 && rapid.IntRange(0, 4).Draw(t, "missing") == 0; !v.Missing {
					v.Value = anyValue.Draw(t, "value")
					cell = form.number(v.Value)
				}
				row = append(row, cell)
				want = append(want, v)
			}
			rows = append(rows, row)
		}
		checkSame(t, form.file(rows), want)
	})
}

// readable says whether a number is large enough to be read.
func readable(v float64) bool { return v == 0 || math.Abs(v) >= 1/maxMagnitude }
