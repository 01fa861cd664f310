package comparetest

import (
	"fmt"
	"slices"

	"tunegate/compare"
)

// SixSessions are values of a benchmark around a level, one run in each of six
// sessions, scattered by about 0.25 %. The sessions are labelled with a letter
// and a number.
func SixSessions(benchmark, unit, letter string, level float64) []compare.Value {
	var out []compare.Value
	for i, scatter := range []float64{0.9975, 0.9990, 0.9995, 1.0005, 1.0010, 1.0025} {
		out = append(out, compare.Value{Benchmark: benchmark, Unit: unit, Session: fmt.Sprint(letter, i+1), Value: level * scatter})
	}
	return out
}

// Tiles are six sessions of tile-render, in seconds.
func Tiles(letter string, level float64) []compare.Value {
	return SixSessions("tile-render", "s", letter, level)
}

// Meshes are six sessions of mesh-solve, in seconds.
func Meshes(letter string, level float64) []compare.Value {
	return SixSessions("mesh-solve", "s", letter, level)
}

// InRunFiles puts the values that have no place yet into the runs files of a
// profile: one file for each first letter of a session, one line each.
func InRunFiles(profile string, values ...[]compare.Value) []compare.Value {
	out := slices.Concat(values...)
	last, line := "", 0
	for i, v := range out {
		if v.At.File != "" {
			continue
		}
		file := fmt.Sprintf("profiles/%s/runs/%.1s.csv", profile, v.Session)
		if file != last {
			last, line = file, 1
		}
		line++
		out[i].At = compare.Place{File: file, Line: line, Column: 2}
	}
	return out
}
