package plan

// The questions about each layout in one call.

func blindSpot(before, after []float64, margin float64, design Design) (loss float64, ok bool) {
	return New(Samples(before, after), design).BlindSpot(margin)
}

func sizeToCatch(before, after []float64, loss, margin float64, design Design) (n int, ok bool) {
	return New(Samples(before, after), design).Size(loss, margin)
}

func needed(before, after []float64, loss float64, design Design) (n int, ok bool) {
	return sizeToCatch(before, after, loss, 0, design)
}

func blocksBlindSpot(differences []float64, margin float64, design Design) (loss float64, ok bool) {
	return New(Blocks(differences, len(differences) < 6), design).BlindSpot(margin)
}

func blocksNeeded(differences []float64, loss float64, design Design) (n int, ok bool) {
	return New(Blocks(differences, len(differences) < 6), design).Size(loss, 0)
}
