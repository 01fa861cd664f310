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
		{nil, nil, nil},
		{map[string]string{"boost": "auto"}, map[string]string{"boost": "auto"}, nil},
		{map[string]string{"boost": "auto", "memory.speed": "6000"}, map[string]string{"boost": "+200", "power-limit": "170"},
			[]string{"boost: auto before, +200 now", "memory.speed: 6000 before, not set now", "power-limit: not set before, 170 now"}},
		{map[string]string{"driver": ""}, nil, []string{"driver: empty before, not set now"}},
	} {
		if d := cmp.Diff(c.want, Differences(c.a, c.b)); d != "" {
			t.Errorf("%v against %v (-want +got)\n%s", c.a, c.b, d)
		}
	}
}
