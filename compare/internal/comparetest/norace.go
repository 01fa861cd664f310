//go:build !race

package comparetest

// RaceEnabled says whether the race detector is on.
const RaceEnabled = false
