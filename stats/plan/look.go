package plan

// LookConfidence is the confidence that a test needs at one of several
// looks, after equal shares of all runs, so that all of them together keep the
// given one (spending of O'Brien-Fleming type, Lan and DeMets 1983).
func LookConfidence(confidence float64, look, looks int) float64 {
	fractions := make([]float64, looks)
	for i := range fractions {
		fractions[i] = float64(i+1) / float64(looks)
	}
	_, nominal := SpendingBoundaries(1-confidence, fractions)
	return 1 - nominal[look-1]
}
