//go:build race

package main

// raceEnabled shrinks what runs the program many times under the race detector,
// which makes it about ten times slower.
const raceEnabled = true
