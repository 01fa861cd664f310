//go:build !race

package statstest

// RaceEnabled says whether the race detector is on.
const RaceEnabled = false
