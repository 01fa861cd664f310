package numeric

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2, to its three
// decimals (from memory).
func TestStudentQuantileAgainstTheHandbook(t *testing.T) {
	for _, c := range []struct{ p, df, want float64 }{
		{0.90, 1, 3.078}, {0.975, 1, 12.706}, {0.975, 2, 4.303}, {0.95, 5, 2.015}, {0.999, 5, 5.893},
		{0.975, 10, 2.228}, {0.99, 30, 2.457}, {0.975, 100, 1.984}, {0.025, 10, -2.228}, {0.5, 7, 0},
	} {
		if got := StudentQuantile(c.p, c.df); math.Abs(got-c.want) > 0.0006 {
			t.Errorf("t(%v, %v) = %v, want %v", c.p, c.df, got, c.want)
		}
	}
}

func TestStudentQuantileInvertsTheDistribution(t *testing.T) {
	for _, df := range []float64{1, 1.3, 2, 2.7, 3, 4.99, 5, 9.5, 40, 1000} {
		student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
		for _, tail := range []float64{1e-12, 1e-7, 1e-4, 0.0004, 0.003, 0.025, 0.1, 0.3, 0.49, 0.4999} {
			got := StudentQuantile(tail, df)
			if back := student.CDF(got); math.Abs(back/tail-1) > 1e-10 {
				t.Errorf("df %v: quantile %v of %v has %v below it", df, got, tail, back)
			}
			if upper := StudentQuantile(1-tail, df); tail > 1e-3 && math.Abs(upper/-got-1) > 1e-9 {
				t.Errorf("df %v: %v and %v at %v", df, got, upper, tail)
			}
		}
	}
	if got, want := StudentQuantile(0.975, 1e6), 1.959966; math.Abs(got-want) > 1e-6 {
		t.Errorf("t with 1e6 degrees of freedom: %v, want %v, nearly normal", got, want)
	}
	if got := StudentQuantile(0, 3); !math.IsInf(got, -1) {
		t.Errorf("quantile of 0: %v", got)
	}
}

// Against gonum's distribution function; the last of each row of degrees of freedom is out
// of the bounds, and has to say so.
func TestNearStudentTail(t *testing.T) {
	for _, df := range []float64{10, 10.3, 12, 17.5, 29, 58, 400, 1e5} {
		for x := 0.001; ; x *= 1.003 {
			want := 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(-x)
			got, ok := NearStudentTail(x, df)
			if ok != (got >= 1e-8) || ok && math.Abs(got/want-1) > TailError {
				t.Fatalf("NearStudentTail(%v, %v) = %v, %v, want %v", x, df, got, ok, want)
			}
			if !ok {
				break
			}
		}
	}
	if p, ok := NearStudentTail(2, 9.9); ok {
		t.Errorf("NearStudentTail(2, 9.9) = %v, want no answer", p)
	}
}

func BenchmarkStudentQuantile(b *testing.B) {
	b.Run("here", func(b *testing.B) {
		for b.Loop() {
			StudentQuantile(0.995, 7.3)
		}
	})
	b.Run("root finder", func(b *testing.B) {
		for b.Loop() {
			distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 7.3}.Quantile(0.995)
		}
	})
}
