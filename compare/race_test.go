//go:build race

package compare

// raceEnabled shrinks simulations under the race detector, which makes them
// about ten times slower.
const raceEnabled = true
