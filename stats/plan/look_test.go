package plan

import (
	"math"
	"testing"
)

func TestLookConfidence(t *testing.T) {
	// O'Brien-Fleming type spending, two looks at 5 %: z = 2.963 and 1.969
	// (widely printed table, from memory); 2 (1 - Phi(z)) = 0.00305 and 0.0490.
	if c := LookConfidence(0.95, 1, 2); math.Abs(1-c-0.00305) > 2e-5 {
		t.Errorf("first of two looks needs p of %.5f", 1-c)
	}
	if c := LookConfidence(0.95, 2, 2); math.Abs(1-c-0.0490) > 2e-4 {
		t.Errorf("second of two looks needs p of %.5f", 1-c)
	}
}
