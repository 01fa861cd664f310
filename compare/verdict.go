package compare

// Verdict is what the runs say about a change.
type Verdict string

// The verdicts. A metric whose role is info has none.
const (
	Uplift     Verdict = "uplift"
	SlightGain Verdict = "slight gain"
	Level      Verdict = "level"
	Noise      Verdict = "noise"
	SlightLoss Verdict = "slight loss"
	Regression Verdict = "regression"
)

// judge applies the rule. gain and its interval are turned so that plus is
// better; tolerance is 0 where none is stated; canLevel says that the smallest
// reachable p of untied values is within the bar.
func judge(real bool, gain, lo, hi, tolerance float64, canLevel bool) Verdict {
	switch {
	case real && gain > tolerance:
		return Uplift
	case real && gain > 0:
		return SlightGain
	case real && gain < -tolerance:
		return Regression
	case real && gain < 0:
		return SlightLoss
	case tolerance > 0 && canLevel && -tolerance <= lo && hi <= tolerance:
		return Level
	}
	return Noise
}

// Settled reports whether the verdict is anything but noise.
func (v Verdict) Settled() bool { return v != Noise && v != "" }
