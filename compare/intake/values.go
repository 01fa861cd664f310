package intake

import (
	"fmt"
	"strconv"
	"strings"

	"tunegate/compare"
	"tunegate/compare/ladder"
)

// parseConfidence takes 95 or 0.95 and returns 0.95. From 0.5 up: below it a
// verdict would be a coin toss.
func parseConfidence(v float64) (float64, error) {
	c := v
	if c >= 1 {
		c /= 100
	}
	if !(c >= 0.5 && c < 1) {
		return 0, fmt.Errorf("%v is not a confidence; expected 50 to below 100 (per cent), or 0.5 to below 1", v)
	}
	return c, nil
}

// ParseConfidence is parseConfidence for text, with or without a % sign.
func ParseConfidence(s string) (float64, error) {
	t := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	v, err := strconv.ParseFloat(t, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a confidence; expected a number such as 95 or 0.95", s)
	}
	return parseConfidence(v)
}

// ParseCorrection takes the name of a correction.
func ParseCorrection(s string) (compare.Correction, error) {
	switch c := compare.Correction(strings.ToLower(strings.TrimSpace(s))); c {
	case compare.JointCorrection, compare.Holm, compare.BenjaminiHochberg, compare.NoCorrection:
		return c, nil
	}
	return "", fmt.Errorf("%q is unknown; expected joint, holm, benjamini-hochberg or none", s)
}

// ParseTolerance takes "0.5", "0.5%" or "0.5 %" for every score, or
// "tile-render=0.3" for one benchmark's score or, with the metric's name behind
// the benchmark's, for one metric. Names may be patterns: "tile-*=3" for scores,
// "tile-* power=3" for costs.
func ParseTolerance(s string) (compare.Override, error) {
	name, number := "", s
	if i := strings.LastIndex(s, "="); i >= 0 {
		name, number = strings.TrimSpace(s[:i]), s[i+1:]
		if name == "" {
			return compare.Override{}, fmt.Errorf("%q names no benchmark before the =; expected a number, or benchmark=number", s)
		}
		if err := compare.ValidGlob(name); err != nil {
			return compare.Override{}, err
		}
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(number), "%")), 64)
	if err != nil || !(v >= 0 && v < 1e9) {
		return compare.Override{}, fmt.Errorf("%q is not a tolerance; expected a number such as 0.5 (per cent on a ratio scale, else in "+
			"the metric's unit), or benchmark=0.5", s)
	}
	return compare.Override{Name: name, Tolerance: v}, nil
}

// ParseLook takes "1/2" or "2/2", the first or second of two planned looks.
func ParseLook(s string) (look int, err error) {
	looks := 0
	if n, err := fmt.Sscanf(s, "%d/%d", &look, &looks); err != nil || n != 2 || fmt.Sprintf("%d/%d", look, looks) != strings.TrimSpace(s) ||
		look < 1 || look > looks {
		return 0, fmt.Errorf("%q is no look; expected 1/2 or 2/2, the first or second of two planned looks", s)
	}
	return look, CheckLooks(looks)
}

// CheckLooks refuses a number of planned looks other than one or two.
func CheckLooks(looks int) error {
	if looks < 1 || looks > 2 {
		return fmt.Errorf("expected 1 or 2 planned looks, found %d; every look takes from the others, and the level that two share is "+
			"the only one that was proven", looks)
	}
	return nil
}

// ParseMix takes "rendering=70,interactive=30": classes and their shares of the
// work, in any measure; the parts returned sum to 1.
func ParseMix(s string) ([]ladder.Share, error) {
	var out []ladder.Share
	total := 0.0
	for _, part := range strings.Split(s, ",") {
		class, number, ok := strings.Cut(part, "=")
		class = strings.TrimSpace(class)
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(number), "%")), 64)
		if !ok || class == "" || err != nil || !(v > 0 && v < 1e9) {
			return nil, fmt.Errorf("%q is no part of a mix; expected for instance rendering=70,interactive=30", part)
		}
		for _, other := range out {
			if other.Class == class {
				return nil, fmt.Errorf("the mix names %q twice", class)
			}
		}
		out = append(out, ladder.Share{Class: class, Part: v})
		total += v
	}
	for i := range out {
		out[i].Part /= total
	}
	return out, nil
}
