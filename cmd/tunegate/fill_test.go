package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// fillSheet writes values into the empty cells of one profile in a run sheet, as
// somebody at the bench does: fill FILE PROFILE NAME=VALUE... Each name is that of a
// metric, such as "tile-render power"; what is not named is near 100. Values scatter by
// up to 0.2 %.
func fillSheet(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: fill FILE PROFILE NAME=VALUE...")
	}
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	cell := func(row []string, name string) *string { return &row[slices.Index(rows[0], name)] }
	near := map[string]float64{}
	for _, arg := range args[2:] {
		name, value, _ := strings.Cut(arg, "=")
		near[name], err = strconv.ParseFloat(value, 64)
		ts.Check(err)
	}
	noise := rand.New(rand.NewPCG(uint64(len(rows)), uint64(len(args[1]))))
	for _, row := range rows[1:] {
		if *cell(row, "profile") != args[1] || *cell(row, "value") != "" || *cell(row, "run") == "warm-up" {
			continue
		}
		value, named := near[strings.TrimSuffix(*cell(row, "benchmark")+" "+*cell(row, "metric"), " score")]
		if !named {
			value = 100
		}
		*cell(row, "value") = fmt.Sprintf("%.3f", value*(1+0.002*(2*noise.Float64()-1)))
	}
	var out bytes.Buffer
	ts.Check(csv.NewWriter(&out).WriteAll(rows))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), out.Bytes(), 0o644))
}
