package intake

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

// smallPart is a part as report.Part writes it, of two runs a side.
const smallPart = `{"format":"tunegate-part-1","terms":{"before":"factory","after":"boost-lift","resamples":1000,"seed":18446744073709551615,"policy":{"confidence":0.95,"correction":"holm"}},"only":["tile-*"],"readings":[[{"file":"runs.csv","notes":["a"]}]],"metrics":[
{"benchmark":"tile-render","metric":"score","before":{"profile":"factory","first":{"file":"runs.csv","value":1},"unit":"s","values":[4.1,4.2,null],"sessions":["F1","","F2"],"set_aside":[{"value":2,"run":"1","reason":"crash"}],"checked":{"values":2}},"after":{"profile":"boost-lift","first":{"file":"runs.csv","value":4},"unit":"s","values":[3.9,4],"checked":{"values":2}},"measured":{"change":0.05,"shift":-0.05,"test":"mann-whitney","u":0,"p":0.3333333333333333,"p_verdict":0.3333333333333333,"p_floor":0.3333333333333333,"method":"exact","superiority":1,"unit_of_replication":"run","replicates":[2,2]}},
{"benchmark":"mesh-solve","metric":"score","after":{"profile":"boost-lift","first":{"file":"runs.csv","value":6},"values":[]}}
]}
`

func TestPart(t *testing.T) {
	p, err := Part(strings.NewReader(smallPart), "p.json")
	if err != nil {
		t.Fatal(err)
	}
	if p.Terms.Seed != 1<<64-1 || p.Only[0] != "tile-*" || p.Readings[0][0].Notes[0] != "a" || p.Name != "p.json" || len(p.Metrics) != 2 || p.Metrics[0].Line != 2 || p.Metrics[1].Line != 3 {
		t.Errorf("%+v", p)
	}
	if diff := cmp.Diff([]string{"F1", "", "F2"}, p.Metrics[0].Before.Sessions); diff != "" {
		t.Error(diff)
	}
	if p.Metrics[0].Measured.P != 1.0/3 || p.Metrics[1].Before != nil {
		t.Errorf("%+v", p.Metrics)
	}
}

// Whatever is changed in a part, the error has its place: the line and the
// column of the first character that cannot be.
func TestPartErrors(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`"change":0.05`, `"change":"0.05"`, `p.json:2:`},
		{`"change":0.05`, `"change":0.0.5`, `p.json:2:397: this is no JSON`},
		{`[3.9,4]`, `[3.9,"4"]`, `p.json:2:`},
		{`"benchmark":"mesh-solve",`, `"benchmark":"mesh-solve"`, `p.json:3:26: this is no JSON`},
		{`"benchmark":"mesh-solve","metric":"score",`, `"benchmark":"mesh-solve","metric":"score","verdict":1,`, `unknown field "verdict"`},
		{"}}\n]}", "}}\n}", `p.json:4:1: `},
		{"}}\n]}", "}},\n]}", `p.json:4:1: `},
		{"}}\n]}", "}}\n]", `p.json:4:2: the file breaks off`},
		{"}}\n]}\n", "}}\n]}\n{}", `p.json:5:1: found more behind the part`},
		{`"only":["tile-*"],`, `"only":["tile-*"] `, `p.json:1:`},
		{`"only":["tile-*"],`, `"only":["tile-*"],"only":[],`, `the key "only" stands twice`},
		{`"readings":[[{"file":"runs.csv","notes":["a"]}]],`, ``, `p.json:5:1: the key "readings" is missing`},
		{`"tunegate-part-1"`, `"tunegate-gate-1"`, `p.json:1:2: this is of the form "tunegate-gate-1", not a part`},
		{`{"benchmark":"mesh-solve","metric":"score","after":{"profile":"boost-lift","first":{"file":"runs.csv","value":6},"values":[]}}`, `{"benchmark":"mesh-solve"}`, `p.json:3: a metric has runs on neither side`},
	} {
		in := strings.Replace(smallPart, c.old, c.new, 1)
		if in == smallPart {
			t.Fatalf("%q is not in the part", c.old)
		}
		_, err := Part(strings.NewReader(in), "p.json")
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "p.json:") {
			t.Errorf("%q for %q: %v, want %q", c.new, c.old, err, c.want)
		}
	}
	for n := range smallPart { // cut off anywhere
		if n >= len(smallPart)-1 {
			continue
		}
		if _, err := Part(strings.NewReader(smallPart[:n]), "p.json"); err == nil || !strings.HasPrefix(err.Error(), "p.json") {
			t.Errorf("cut at %d: %v", n, err)
		}
	}
}

// Any bytes give a part or an error at a place, and what can be read can be
// joined or is refused.
func FuzzPart(f *testing.F) {
	f.Add(smallPart)
	f.Add(`{"format":"tunegate-comparison-1"}`)
	f.Add(strings.Replace(smallPart, `"replicates":[2,2]`, `"replicates":[2]`, 1))
	f.Add(strings.Replace(smallPart, `"u":0,`, ``, 1))
	f.Fuzz(func(t *testing.T, in string) {
		p, err := Part(strings.NewReader(in), "f")
		if err != nil {
			var placed *compare.PlacedError
			if !errors.As(err, &placed) || placed.At.File != "f" || placed.At.Line > 1+strings.Count(in, "\n") {
				t.Errorf("error without a place in the file: %v", err)
			}
			return
		}
		if p.Terms.Resamples > 10_000 || len(in) > 1<<14 {
			return
		}
		if c, _, err := compare.Join([]*compare.Part{p}, nil); err == nil && len(c.Results) == 0 {
			t.Error("nothing was compared, and no error")
		}
	})
}
