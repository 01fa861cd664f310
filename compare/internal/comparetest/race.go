//go:build race

package comparetest

// RaceEnabled shrinks simulations under the race detector, which makes them
// about ten times slower.
const RaceEnabled = true
