package compare

import (
	"fmt"
	"testing"
)

// Whoever waits hears of the beginning, of every piece of work and of the end,
// never less than before, from the commands' every entry.
func TestProgressRisesToItsEnd(t *testing.T) {
	side := func(shift float64) []*Series {
		var r Runs
		for k := range 6 {
			for _, benchmark := range []string{"tile-render", "mesh-solve", "shader-build"} {
				v := Value{Profile: "factory", Benchmark: benchmark, Unit: "s", Session: fmt.Sprint(k), Value: 400 + shift + float64(k*k)}
				if err := r.Add(v); err != nil {
					t.Fatal(err)
				}
			}
		}
		return r.Series()
	}
	before, after := side(0), side(3)
	names := [2]string{"factory", "boost-lift"}
	profile := func(values []*Series, baseline string) *Profile {
		p := &Profile{Settings: map[string]string{"boost": baseline}, Baseline: baseline}
		for _, s := range values {
			for _, o := range s.Observations {
				p.Values = append(p.Values, o.row(s))
			}
		}
		return p
	}
	policy, proposed := Policy{Confidence: 0.95}, Policy{Confidence: 0.9}
	head := Snapshot{Name: "head", Policy: &proposed, Profiles: map[string]*Profile{"factory": profile(before, ""), "boost-lift": profile(after, "factory")}}
	for name, p := range head.Profiles {
		p.Name = name
	}
	for name, work := range map[string]func(Options) error{
		"compare": func(o Options) error { _, err := Compare(before, after, names, Policy{}, o); return err },
		"reruns": func(o Options) error {
			_, err := PlanReruns(before, after, names[:], Policy{}, RerunsWish{}, o)
			return err
		},
		"vet": func(o Options) error { _, err := Vet(before, Policy{}, o); return err },
		"gate": func(o Options) error {
			_, err := JudgeGate(Snapshot{Name: "base", Policy: &policy}, head, o)
			return err
		},
	} {
		calls, last, total := 0, -1, 0
		tell := func(done, of int) {
			if done < last || done > of || calls > 0 && of != total {
				t.Errorf("%s: %d of %d after %d of %d", name, done, of, last, total)
			}
			calls, last, total = calls+1, done, of
		}
		if err := work(Options{Resamples: 1000, Vet: true, Progress: tell}); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if calls < 4 || last != total {
			t.Errorf("%s: told %d times, %d of %d last", name, calls, last, total)
		}
	}
}
