package intake

import (
	"bytes"
	"fmt"
	"testing"

	"tunegate/compare"
)

// The benchmarks read 100,000 rows; the target is a million in about a second.
const benchRows = 100_000

func benchRead(b *testing.B, file []byte, values int) {
	b.Helper()
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		var sum float64
		_, err := Read(bytes.NewReader(file), "bench.csv", func(v compare.Value) error {
			n++
			sum += v.Value
			return nil
		})
		if err != nil || n != values {
			b.Fatalf("%d values, %v", n, err)
		}
	}
	b.ReportMetric(float64(values)*float64(b.N)/b.Elapsed().Seconds(), "values/s")
}

func BenchmarkLongCSV(b *testing.B) {
	var f bytes.Buffer
	f.WriteString("profile,benchmark,metric,unit,session,run,value\n")
	for i := range benchRows {
		fmt.Fprintf(&f, "factory,tile-render,score,s,%d,%d,%.3f\n", i/5, i%5+1, 400+float64(i%997)/7)
	}
	benchRead(b, f.Bytes(), benchRows)
}

func BenchmarkLongCSVWithTimes(b *testing.B) {
	var f bytes.Buffer
	f.WriteString("benchmark;unit;time;valid;value\n")
	for i := range benchRows {
		fmt.Fprintf(&f, "tile-render;°C;2026-03-01T%02d:%02d:%02d+01:00;yes;%d,%d\n", i/3600%24, i/60%60, i%60, 40+i%30, i%10)
	}
	benchRead(b, f.Bytes(), benchRows)
}

func BenchmarkWideCSV(b *testing.B) {
	var f bytes.Buffer
	f.WriteString("session,tile-render [s],tile-render power [W],mesh-solve [s]\n")
	for i := range benchRows {
		fmt.Fprintf(&f, "%d,%.3f,%.1f,%.3f\n", i/5, 400+float64(i%997)/7, 200+float64(i%31), 90+float64(i%89)/9)
	}
	benchRead(b, f.Bytes(), 3*benchRows)
}

func BenchmarkSheet(b *testing.B) {
	var f bytes.Buffer
	f.WriteString("benchmark,unit,session,Run 1,Run 2,Run 3,Average\n")
	for i := range benchRows {
		v := 400 + float64(i%997)/7
		fmt.Fprintf(&f, "tile-render,s,%d,%.3f,%.3f,%.3f,%.2f\n", i, v, 401.5, 402.25, (v+401.5+402.25)/3)
	}
	benchRead(b, f.Bytes(), 3*benchRows)
}

func BenchmarkJSONLines(b *testing.B) {
	var f bytes.Buffer
	for i := range benchRows {
		fmt.Fprintf(&f, `{"profile":"factory","benchmark":"tile-render","unit":"s","session":%d,"value":%.3f}`+"\n", i/5, 400+float64(i%997)/7)
	}
	benchRead(b, f.Bytes(), benchRows)
}
