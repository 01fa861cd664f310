//go:build race

package report

// raceEnabled shortens long tests under the race detector, which makes them about
// ten times slower.
const raceEnabled = true
