package statstest

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// Answers reads one file of cases, one JSON object a line. Fewer than atLeast
// fail the test: a lost file must not pass for agreement.
func Answers[T any](t *testing.T, name string, atLeast int) []T {
	t.Helper()
	folder := filepath.Join("fixtures", "reference")
	for depth := 0; depth < 5; depth++ { // tests run in the folder of their package
		if _, err := os.Stat(folder); err == nil {
			break
		}
		folder = filepath.Join("..", folder)
	}
	data, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		t.Fatal(err)
	}
	var cases []T
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var c T
		strict := json.NewDecoder(bytes.NewReader(lines.Bytes()))
		strict.DisallowUnknownFields()
		if err := strict.Decode(&c); err != nil {
			t.Fatalf("%s:%d: %v", name, len(cases)+1, err)
		}
		cases = append(cases, c)
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if len(cases) < atLeast {
		t.Fatalf("%s holds %d cases, want at least %d", name, len(cases), atLeast)
	}
	return cases
}

// Near reports whether got lies within the share relative of want or within
// absolute of it.
func Near(got, want, relative, absolute float64) bool {
	return got == want || math.Abs(got-want) <= math.Max(relative*math.Abs(want), absolute)
}
