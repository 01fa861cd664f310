package compare

import (
	"math"
	"testing"
)

// The rule of JCGM 100:2008 (GUM), 7.2.6: an uncertainty has at most two
// significant digits, and a value ends at the same decimal. Worked by hand: of
// 0.00035 that is the fifth decimal, of 0.027 the third, of 28.05 the units.
func TestDigitsByHand(t *testing.T) {
	for _, c := range []struct {
		value, uncertainty float64
		want               string
	}{
		{100.02147, 0.00035, "100.02147"},
		{100.0214731, 0.00035, "100.02147"},
		{10.05762, 0.027, "10.058"},
	} {
		if got := Decimal(c.value, Places(c.uncertainty)); got != c.want {
			t.Errorf("%v with u = %v: %s, want %s", c.value, c.uncertainty, got, c.want)
		}
	}
	if got := Decimal(0.00035, Places(0.00035)); got != "0.00035" {
		t.Errorf("u itself: %s", got)
	}
	if got := Decimal(28.05, Places(28.05)); got != "28" {
		t.Errorf("u = 28.05: %s, want 28", got)
	}
}

// An uncertainty is never quoted to more than two significant digits, and
// never to so few that rounding moves it by more than a tenth.
func TestPlacesSignificantDigits(t *testing.T) {
	for exponent := -9; exponent <= 0; exponent++ {
		for lead := 1.0; lead < 10; lead += 0.01 {
			u := lead * math.Pow(10, float64(exponent))
			places := Places(u)
			step := math.Pow(10, -float64(places))
			rounded := math.Round(u/step) * step
			if rounded/step > 99.5 {
				t.Errorf("u = %v to %d places has three significant digits", u, places)
			}
			if math.Abs(rounded-u) > 0.1*u {
				t.Errorf("u = %v to %d places becomes %v", u, places, rounded)
			}
		}
	}
	for _, c := range []struct {
		u    float64
		want int
	}{
		{1, 1}, {0.1, 2}, {0.01, 3}, {0.001, 4}, {1e-6, 7}, // powers of ten
		{0.0494, 3}, {0.0496, 2}, {0.99, 1}, {4.9, 1}, {5, 0},
		{12, 0}, {350, 0}, {1e9, 0}, // before the decimal point nothing is rounded away
		{-0.35, 2}, // the sign of an uncertainty says nothing
		{0, 12}, {math.NaN(), 12}, {math.Inf(1), 12}, {1e-20, 12},
	} {
		if got := Places(c.u); got != c.want {
			t.Errorf("Places(%v) = %d, want %d", c.u, got, c.want)
		}
	}
}

func TestDecimal(t *testing.T) {
	for _, c := range []struct {
		v      float64
		places int
		want   string
	}{
		{2.456, 2, "2.46"}, {-2.456, 1, "-2.5"}, {-0.004, 2, "0.00"}, {-0.4, 0, "0"}, {0, 3, "0.000"},
		{412, 0, "412"}, {412.5, 12, "412.5"}, {0.1, 12, "0.1"}, {1e-7, 12, "0.0000001"}, {-10, 0, "-10"},
	} {
		if got := Decimal(c.v, c.places); got != c.want {
			t.Errorf("Decimal(%v, %d) = %s, want %s", c.v, c.places, got, c.want)
		}
	}
}
