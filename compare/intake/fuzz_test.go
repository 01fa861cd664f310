package intake

import (
	"errors"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tunegate/compare"
)

// checkAnything holds a reader to what is true of any input: it ends, every
// value is finite and stands somewhere, the tally adds up, an error has a
// place, and the answer does not depend on how the bytes arrive.
func checkAnything(t *testing.T, in string) {
	read := func(pieces bool) (got []string, tally Tally, err error) {
		r := strings.NewReader(in)
		add := func(v compare.Value) error {
			if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
				t.Errorf("value %v", v.Value)
			}
			if v.Missing && v.Value != 0 {
				t.Errorf("missing, and yet %v", v.Value)
			}
			if v.Benchmark == "" || v.At.Line < 1 || v.At.Column < 0 || v.At.File != "f" {
				t.Errorf("%+v", v)
			}
			if v.SetAside != (v.Reason != "") {
				t.Errorf("set aside %v, reason %q", v.SetAside, v.Reason)
			}
			if strings.ContainsAny(v.Benchmark+v.Metric+v.Unit+v.Profile+v.Session+v.Block+v.Run, "\r\n") {
				t.Errorf("line break in a name: %+v", v)
			}
			got = append(got, show(v))
			return nil
		}
		if pieces {
			tally, err = Read(iotest.OneByteReader(r), "f", add)
		} else {
			tally, err = Read(r, "f", add)
		}
		return got, tally, err
	}
	got, tally, err := read(false)
	if n := tally.Values + tally.Missing + tally.SetAside; n != len(got) {
		t.Errorf("tally %+v for %d values", tally, len(got))
	}
	var p *compare.PlacedError
	if err != nil && (!errors.As(err, &p) || p.At.File != "f" || p.At.Line > 1+strings.Count(in, "\n")+strings.Count(in, "\r")) {
		t.Errorf("error without a place in the file: %v", err)
	}
	if err == nil && len(got) == 0 && len(tally.Notes) == 0 {
		t.Error("no value, no note, no error")
	}
	if len(in) > 1<<16 {
		return
	}
	again, tallyAgain, errAgain := read(true)
	if diff := cmp.Diff(got, again); diff != "" {
		t.Errorf("byte by byte (-once +again):\n%s", diff)
	}
	if diff := cmp.Diff(tally, tallyAgain, cmpopts.IgnoreUnexported(Tally{})); diff != "" {
		t.Errorf("byte by byte (-once +again):\n%s", diff)
	}
	if (err == nil) != (errAgain == nil) || err != nil && err.Error() != errAgain.Error() {
		t.Errorf("byte by byte: %v, at once: %v", errAgain, err)
	}
}

func FuzzLongCSV(f *testing.F) {
	for _, seed := range []string{
		"\na,1\nb,2.5\n", ";unit;time\na;1,5;s;2026-03-01T14:05:00Z\n", "\tvalid\treason\na\t6:52.3\tno\tx\n",
		",metric,unit,better,profile,session,block,run\r\na,1,power,W,lower,factory,x,b1,7\r\n", "\n\"a\nb\",1\n", "\na,\"1\n", "\n\"a\"x,1",
		"\n5\" a,1\n", "\na,1e999\n", "\na,\xB0\n", ",sesion\na,1,2\n", "\na,1,2\n", ",\n,,\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, rest string) {
		sep := ","
		if i := strings.IndexAny(rest, ",;\t"); i >= 0 {
			sep = rest[i : i+1]
		}
		checkAnything(t, "benchmark"+sep+"value"+rest)
	})
}

func FuzzWideCSV(f *testing.F) {
	for _, seed := range []string{
		"a [s],a power [W]\n1,2\n,3\n", "run;session;a [°C]\n1;x;41,5\n", "a,notes,b\n,x,1\n5,,2\n", "\"latency [ns, lower]\"\n5\n",
		"a: b [s],a c\n1,2\n",
		"a,a b,a b c\n1,2,3\n", "a\n6:52.3\n", "a,valid,reason\n,no,crash\n5,,\n", "sep=;\na;b\n1,5;2\n", "a [s\n1\n", "a,a\n", "\ufeffa\r1\r",
		"a\nx\n5\n", "run,a\nAverage,5\n1,5\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(checkAnything)
}

func FuzzSheet(f *testing.F) {
	for _, seed := range []string{
		",Run 2,Average\na,1,2,1.5\n", ",unit,#2\na,1,s,\n", ";unit;Run 2 [s]\na;1,5;;2\n", ",metric,better,session\na,1,power,lower,x\n",
		"\n,1\n", ",r1\na,1,2\n", ",Run A\na,1,2\n", "\na,6:52.3\nAverage,1\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, rest string) {
		sep := ","
		if i := strings.IndexAny(rest, ",;\t"); i >= 0 {
			sep = rest[i : i+1]
		}
		checkAnything(t, "benchmark"+sep+"Run 1"+rest)
		checkAnything(t, sep+"Run 1"+rest)
	})
}

func FuzzJSONLines(f *testing.F) {
	for _, seed := range []string{
		`"benchmark":"a","value":1}`, `"benchmark":"a","value":"6:52.3","unit":"s"}` + "\n\n" + `{"benchmark":"b","value":null}`,
		`"benchmark":"\"\\\u00e9","value":-1.5e3,"x":{"y":["}",{}]}}`,
		`"benchmark":"a","value":1,"valid":false,"reason":"r\n"}`, `}`, `"benchmark":"a","value":1}{`, `"a":1,"a":2}`,
		`"benchmark":"a","value":"\ud800","sesion":1}`, `"benchmark" : "a" , "value" : 1e999 }`, "\"benchmark\":\"a\",\n",
		`"benchmark":"a\u0000","value":"1\n"}`,
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, rest string) { checkAnything(t, "{"+rest) })
}

func FuzzParseNumbers(f *testing.F) {
	for _, seed := range []string{"412 409", "412, 409,", "412,3; 409,1", "412,3 409", "6:52.3", "1e999", "nan", "1\u00a0234", ";;", ",",
		"0x1p-2", "1_0", "\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		values, err := ParseNumbers(text, "--before")
		if (err == nil) != (len(values) > 0) {
			t.Errorf("%d values, error %v", len(values), err)
		}
		for _, v := range values {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("value %v", v)
			}
		}
		if err != nil && !strings.HasPrefix(err.Error(), "--before: ") {
			t.Errorf("error without its option: %v", err)
		}
	})
}
