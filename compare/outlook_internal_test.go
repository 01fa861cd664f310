package compare

import (
	"math"
	"testing"
)

// What is lost where: the size that is stated for a blind spot is the one that
// would be shown, for times, rates, costs and differences.
func TestBlindSpotIsAsShown(t *testing.T) {
	for _, c := range []struct {
		unit string
		loss float64
	}{{"s", 0.05}, {"fps", 0.05}, {"W", 0.05}, {"°C", 2}} {
		m, err := Policy{}.Resolve("tile-render", "score", c.unit, "")
		if err != nil {
			t.Fatal(err)
		}
		r := &Measurement{Pair: &Pair{Metric: m}}
		shift := r.LossShift(c.loss)
		if back := r.LossOf(shift); math.Abs(back-c.loss) > 1e-15 {
			t.Errorf("%s: %v there and back is %v", c.unit, c.loss, back)
		}
		// LossShift points away from better: down for a rate, up for the rest.
		turned := -shift
		if m.Better == Lower {
			turned = shift
		}
		if got := r.Gain(r.displayed(turned)); math.Abs(got+c.loss) > 1e-15 {
			t.Errorf("%s: a loss of %v is shown as a gain of %v", c.unit, c.loss, got)
		}
	}
}
