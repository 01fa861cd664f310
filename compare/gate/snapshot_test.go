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
		{map[string]string{"boost": "auto"}, map[string]string{"boost": "auto"}, []string{}},
		{map[string]string{"boost": "auto", "memory.speed": "6000"}, map[string]string{"boost": "+200", "power-limit": "170"},
			[]string{"boost: auto, +200", "memory.speed: 6000, -", "power-limit: -, 170"}},
		{map[string]string{"driver": ""}, nil, []string{"driver: , -"}},
		{nil, map[string]string{"fan": "", "fan.curve": "2", "fan-stop": "1"}, []string{"fan-stop: -, 1", "fan.curve: -, 2", "fan: -, "}},
	} {
		if d := cmp.Diff(c.want, differ(Differences(c.a, c.b))); d != "" {
			t.Errorf("%v against %v (-want +got)\n%s", c.a, c.b, d)
		}
	}
}
