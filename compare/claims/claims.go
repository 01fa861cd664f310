// Package claims checks sentences with numbers, such as "renders 2.4 % faster",
// before a page with them is published: against the runs that they name, and
// against arithmetic.
//
// A Claim is one sentence. Hold checks the claims of a page together, since they
// share one correction, and returns a Page with a Verdict for each: supported,
// understated, not settled, overstated, contradicted, wrong arithmetic, or a sentence
// that differs from the keys beside it. A page may be published unless a verdict Fails.
//
// Stable are the words of Verdict, Form and the faults of arithmetic.
package claims

import (
	"math"

	"tunegate/compare"
)

// Form says in which words a page claims a change; the word holds the
// sign. Speed and time are told apart, since 5 % faster is 4.76 % less time.
type Form string

// The forms.
const (
	Faster   Form = "faster"    // of a score: plus is better
	Slower   Form = "slower"    // of a score
	LessTime Form = "less-time" // of a score that is a time or a rate
	MoreTime Form = "more-time"
	More     Form = "more" // of the quantity as it is measured, whatever is better
	Less     Form = "less"
	AsLevel  Form = "level" // no change larger than stated
)

// Opposite is the form of the same change that goes the other way.
func (f Form) Opposite() Form {
	return map[Form]Form{Faster: Slower, Slower: Faster, LessTime: MoreTime, MoreTime: LessTime, More: Less, Less: More}[f]
}

// OfSpeed reports whether the form speaks of speed or time, and not of the
// quantity as it is measured.
func (f Form) OfSpeed() bool {
	return f == Faster || f == Slower || f == LessTime || f == MoreTime
}

// Falls reports whether the form takes its percentage off.
func (f Form) Falls() bool { return f == Slower || f == LessTime || f == Less }

// fraction turns a ratio after/before, of speed for a form that speaks of
// speed or time, else of the quantity, into what the form says: 1.05 is 0.05
// faster, 0.0476 less time, -0.05 slower.
func (f Form) fraction(ratio float64) float64 {
	switch f {
	case LessTime:
		return 1 - 1/ratio
	case MoreTime:
		return 1/ratio - 1
	case Slower, Less:
		return 1 - ratio
	}
	return ratio - 1
}

// Figure is a number as a page prints it.
type Figure struct {
	Value float64
	Half  float64 // half a unit of its last digit
	Unit  string  // "%" for per cent; empty where none is written
	Text  string  // as written
}

// percent reports whether the figure is one of per cent.
func (f Figure) percent() bool { return f.Unit == "%" }

// near reports whether v rounds to the figure, to the digits it is written in.
func (f Figure) near(v float64) bool { return math.Abs(v-f.Value) <= f.Half*(1+1e-9)+1e-12 }

// meets reports whether the figure, unrounded, may lie within [lo, hi].
func (f Figure) meets(lo, hi float64) bool {
	slip := f.Half*1e-9 + 1e-12
	return f.Value+f.Half >= lo-slip && f.Value-f.Half <= hi+slip
}

// places is to how many decimals the figure is written.
func (f Figure) places() int {
	return min(max(0, int(math.Round(-math.Log10(2*f.Half)))), 11)
}

// Claim is one sentence of a page with its numbers.
type Claim struct {
	Text          string
	Before, After string // profiles
	// One of Benchmark (with Metric, empty for its score), Class and Suite says
	// which runs it is held against; none of them: against arithmetic alone.
	Benchmark, Metric, Class string
	Suite                    bool

	Form    Form    // empty: From and To are all that is claimed
	Change  *Figure // above zero; nil for "level" within the tolerance in force
	AtLeast bool    // "at least 2 %"

	From, To  *Figure  // the figures that the change is between
	Steps     []Figure // percentages that follow each other and make Change
	AverageOf []Figure // percentages whose mean is Change

	At     compare.Place
	Places map[string]compare.Place // of the keys
}

// NamesRuns reports whether the claim is held against runs.
func (c *Claim) NamesRuns() bool { return c.Benchmark != "" || c.Class != "" || c.Suite }

func (c *Claim) fail(key, format string, args ...any) error {
	at, ok := c.Places[key]
	if !ok {
		at = c.At
	}
	return compare.ErrorAt(at, format, args...)
}

// formKey is the key under which the change is stated.
func (c *Claim) formKey() string {
	if c.Form == "" {
		return "from"
	}
	return string(c.Form)
}

// Verdict is what the runs and arithmetic say about a claim.
type Verdict string

// The verdicts on claims. See judgeClaim for the rule.
const (
	Supported       Verdict = "supported"
	Understated     Verdict = "understated"
	NotSettled      Verdict = "not settled"
	Overstated      Verdict = "overstated"
	Contradicted    Verdict = "contradicted"
	WrongArithmetic Verdict = "wrong arithmetic"
	SentenceDiffers Verdict = "sentence differs" // from its keys
)

// Fails reports whether a page with such a claim must not be published.
func (v Verdict) Fails() bool {
	return v == Overstated || v == Contradicted || v == WrongArithmetic || v == SentenceDiffers
}
