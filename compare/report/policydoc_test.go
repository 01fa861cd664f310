package report

import (
	"encoding/json"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"

	"tunegate/compare/report/doc"
)

// studio is a policy with an entry of every kind, and the metrics it applies to.
func studio(t *testing.T) InForce {
	t.Helper()
	required := true
	p := compare.Policy{Source: "tunegate.toml", Confidence: 0.9, FewestSessions: 5, WidestBlindSpot: number(2), Entries: []compare.Entry{
		{Benchmark: "*", Tolerance: number(0.5), From: "tunegate.toml:6"},
		{Benchmark: "tile-*", Tolerance: number(0.3), Weight: number(2), Class: "rendering", Required: &required, From: "tunegate.toml:10"},
		{Benchmark: "*", Metric: "temperature", Cap: number(93), Tolerance: number(2), From: "tunegate.toml:17"},
	}}
	f := InForce{Policy: p, Stated: map[string]bool{"fewest-sessions": true, "set-aside-allowed": true}}
	for _, m := range []struct{ benchmark, metric, unit string }{
		{"tile-render", "score", "s"},
		{"mesh-solve", "score", "s"},
		{"archive-pack", "score", "s"},
		{"tile-render", "temperature", "°C"},
		{"tile-render", "power", "W"},
	} {
		r, err := p.Resolve(m.benchmark, m.metric, m.unit, "")
		if err != nil {
			t.Fatal(err)
		}
		f.Metrics = append(f.Metrics, r)
	}
	return f
}

func TestPolicyText(t *testing.T) {
	want := `In force: tunegate.toml
  confidence         90 %    tunegate.toml
  correction         joint   default
  burden             harm    default
  fewest-runs        0       default
  fewest-sessions    5       tunegate.toml
  set-aside-allowed  0       tunegate.toml
  removed            review  default
  widest-blind-spot  2 %     tunegate.toml
  suite-tolerance    0.5 %   default
  suite-decides      true    default

tile-render
  role               score      the unit
  unit               s          the data
  better             lower      the unit
  scale              ratio      the unit
  tolerance          0.3 %      tunegate.toml:10
  cap                none       default
  weight             2          tunegate.toml:10
  class              rendering  tunegate.toml:10
  required           true       tunegate.toml:10
  widest-blind-spot  2 %        tunegate.toml

archive-pack, mesh-solve
  role               score  the unit
  unit               s      the data
  better             lower  the unit
  scale              ratio  the unit
  tolerance          0.5 %  tunegate.toml:6
  cap                none   default
  weight             1      default
  class              none   default
  required           false  default
  widest-blind-spot  2 %    tunegate.toml

tile-render temperature
  role               cost       the unit
  unit               °C         the data
  better             lower      the unit
  scale              interval   the unit
  tolerance          2 °C       tunegate.toml:17
  cap                93 °C      tunegate.toml:17
  weight             1          default
  class              none       default
  required           false      default
  widest-blind-spot  no demand  default

tile-render power (not named by the policy: shown, not judged)
  role               cost       the unit
  unit               W          the data
  better             lower      the unit
  scale              ratio      the unit
  tolerance          none       default
  cap                none       default
  weight             1          default
  class              none       default
  required           false      default
  widest-blind-spot  no demand  default

Caution: stay within the maker's limits and back up first. Speed shows nothing
about stability: test that apart.
`
	got := textOf(t, PolicyDocument(studio(t)), doc.TextOptions{Width: 80})
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	none := textOf(t, PolicyDocument(InForce{}), doc.TextOptions{Width: 80})
	if !strings.HasPrefix(none, "In force: no policy: the defaults\n  confidence         95 %       default\n") {
		t.Errorf("without a policy:\n%s", none)
	}
}

func TestPolicyJSON(t *testing.T) {
	s := schemaOf(t, "policy")
	hostile := studio(t)
	hostile.Policy.Source = hostileName
	hostile.Metrics[0].Benchmark, hostile.Metrics[0].Class = hostileName, hostileName
	for name, f := range map[string]InForce{"studio": studio(t), "none": {}, "hostile": hostile} {
		out := rendered(t, func(w io.Writer) error { return PolicyJSON(w, f) })
		holds(t, s, out)
		var got struct {
			Source  string
			Metrics []struct {
				Benchmark, Metric string
				Named             bool
				Settings          []settingJSON
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(name, err)
		}
		if got.Source != f.Policy.Source || len(got.Metrics) != len(f.Metrics) {
			t.Errorf("%s: %+v", name, got)
		}
		for i, m := range f.Metrics {
			own := got.Metrics[i]
			d := cmp.Diff(settingsJSON(settingsOf(m)), own.Settings)
			if d != "" || own.Benchmark != m.Benchmark || own.Named != m.Named {
				t.Errorf("%s: %+v %s", name, got.Metrics[i], d)
			}
		}
	}
	text := textOf(t, PolicyDocument(hostile), doc.TextOptions{Width: 80})
	if strings.ContainsAny(text, "\x1b\x00\r\u202e") {
		t.Errorf("%q", text)
	}
}
