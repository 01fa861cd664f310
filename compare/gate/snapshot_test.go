package gate

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestDifferences(t *testing.T) {
	for _, c := range []struct {
		a, b map[string]string
		want []string
	}{
		{nil, nil, []string{}},
		{map[string]string{"lift": "auto"}, map[string]string{"lift": "auto"}, []string{}},
		{map[string]string{"lift": "auto", "memory.pace": "5270"}, map[string]string{"lift": "two notches", "draw-limit": "151"},
			[]string{"draw-limit: -, 151", "lift: auto, two notches", "memory.pace: 5270, -"}},
		{map[string]string{"driver": ""}, nil, []string{"driver: , -"}},
		{nil, map[string]string{"fan": "", "fan.ramp": "2", "fan-stop": "1"}, []string{"fan-stop: -, 1", "fan.ramp: -, 2", "fan: -, "}},
	} {
		if d := cmp.Diff(c.want, differ(Differences(c.a, c.b))); d != "" {
			t.Errorf("%v against %v (-want +got)\n%s", c.a, c.b, d)
		}
	}
}
