package claims

// Finding is what arithmetic or the runs say about a figure of a claim: a fault or
// a note. Which fields are filled depends on its cause; package report puts it into
// words.
type Finding struct {
	Kind  string // one of the constants
	Cause Cause
	Made  Made // what the figures, steps or list make
	// Right is the change that the claim should state: in per cent, plus in the
	// claimed direction, to so many decimals.
	Right  float64
	Places int
	// Inverse says that the percentage is one of time where speed is claimed, or
	// the other way round.
	Inverse bool
	Lo, Hi  float64 // between what rounded figures, or the runs, allow the change
	Count   int     // of a list's values above zero
	Side    int     // 0 before, 1 after
	// Found is what stands in the sentence, Expected the key that it differs from.
	Found, Expected string
}

// Kinds of faults of arithmetic.
const (
	FaultBase      = "wrong base"
	FaultDirection = "wrong direction"
	FaultChange    = "wrong change"
	FaultAdded     = "added, not multiplied"
	FaultProduct   = "wrong product"
	FaultAverage   = "not the average"
	FaultDegrees   = "percentage without a zero"
	FaultDigits    = "too many digits"
)

// Kinds of notes.
const (
	NoteFigures = "figures" // the claim states the change of the runs, not of the two figures
	NoteMean    = "mean"    // the arithmetic and the geometric mean of a list
	NoteBase    = "base"    // understated by the choice of the base
	NoteFigure  = "figure"  // a figure that no run reaches
	NoteLargest = "largest" // the largest change of the page
)

// Cause says what is found.
type Cause string

// The causes. Figures are the two that a change is between.
const (
	NoZero           Cause = "no zero"           // a percentage on a scale without a true zero
	ChangeOfFigures  Cause = "change of figures" // the figures make another change
	OtherDirection   Cause = "other direction"   // the change is right, its word is not
	SidesSwapped     Cause = "sides swapped"     // the change from the second figure to the first
	OtherSide        Cause = "other side"        // a percentage of the second figure
	OtherProfile     Cause = "other profile"     // a percentage of the second profile, by the runs
	WhatIsLeft       Cause = "what is left"      // not what is gone
	NotAPercentage   Cause = "not a percentage"  // the difference in the unit
	OfTheMean        Cause = "of the mean"       // a percentage of the mean of both figures
	DigitsOfFigures  Cause = "digits of figures" // more than the figures carry
	DigitsOfRuns     Cause = "digits of runs"    // more than the interval carries
	MiddleOfAllPairs Cause = "middle of pairs"   // the change of the runs is the middle of all pairs
	SumOfSteps       Cause = "sum of steps"      // steps multiply
	ProductOfSteps   Cause = "product of steps"  // the steps make another total
	MeanOfGains      Cause = "mean of gains"     // of the list's values above zero only
	MedianOfList     Cause = "median of list"    //
	SumOfList        Cause = "sum of list"       //
	MeanOfList       Cause = "mean of list"      // the list has another mean
	BeyondRuns       Cause = "beyond all runs"   // no summary of the runs lies there
	LargestOfPage    Cause = "largest"           // of Count scores
)

// What a sentence says otherwise than its keys.
const (
	OtherNumber         Cause = "other number"
	OtherBound          Cause = "other bound" // the key says "at least"
	OtherProfileNamed   Cause = "other profile named"
	OtherBenchmarkNamed Cause = "other benchmark named"
	SidesSwappedInText  Cause = "sides swapped in the text"
	OtherDirectionWord  Cause = "other direction word"
)

// What of a sentence is not checked.
const (
	NumberWithoutKey   Cause = "number without a key"
	WordsWithoutKey    Cause = "words without a key"
	KeyNotInText       Cause = "key not in the text"
	AfterNotInText     Cause = "after not in the text" // the text names the profile before alone
	BenchmarkNotInText Cause = "benchmark not in the text"
	NoRunsNamed        Cause = "no runs named" // the claim is held against arithmetic alone
)

// Made is what figures that a claim lists make.
type Made struct {
	Of      Listed
	Change  float64 // in per cent or in the unit; plus in the direction of the form
	Places  int     // decimals to quote it with
	Unit    string  // of the change: "%" or that of the figures
	Form    Form
	Product float64 // of the steps' ratios
	Mean    float64 // the list's arithmetic mean, in per cent; Change is the geometric one of its ratios
}

// Listed says what a claim lists.
type Listed string

// What a claim may list.
const (
	OfFigures Listed = "figures" // the two that the change is between
	OfSteps   Listed = "steps"   // percentages that follow each other
	OfList    Listed = "list"    // percentages that are averaged
)
