package numeric

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// NormalQuantile is the standard normal quantile.
func NormalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// NormalCDF is the standard normal distribution function.
func NormalCDF(z float64) float64 { return distuv.UnitNormal.CDF(z) }

// StudentQuantile is the quantile of Student's t for df from 1 on: Hill's approximation
// (Communications of the ACM 13:617-620, 1970), and Newton's steps on the logarithm of the
// tail until it is one of the distribution function; a general root finder takes several
// times as long.
func StudentQuantile(p, df float64) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	tail := math.Min(p, 1-p)
	if !(tail > 0) || df < 1 {
		return t.Quantile(p)
	}
	x, last := hill(2*tail, df), math.Inf(1)
	for {
		beyond := t.CDF(-x)
		step := math.Log(beyond/tail) * beyond / t.Prob(x)
		if !(math.Abs(step) < last/2) { // as near as the distribution function is exact
			return math.Copysign(x, p-0.5)
		}
		if x, last = x+step, math.Abs(step); last < 1e-7*x { // the next is its square
			return math.Copysign(x, p-0.5)
		}
	}
}

// hill is roughly the value that |t| exceeds with chance p.
func hill(p, df float64) float64 {
	a := 1 / (df - 0.5)
	b := 48 / (a * a)
	c := ((20700*a/b-98)*a-16)*a + 96.36
	d := ((94.5/(b+c)-3)/b + 1) * math.Sqrt(a*math.Pi/2) * df
	y := math.Pow(d*p, 2/df)
	if y <= 0.05+a {
		y = ((1/(((df+6)/(df*y)-0.089*d-0.822)*(df+2)*3)+0.5/(df+4))*y-1)*(df+1)/(df+2) + 1/y
		return math.Sqrt(df * y)
	}
	x := NormalQuantile(p / 2)
	y = x * x
	if df < 5 {
		c += 0.3 * (df - 4.5) * (x + 0.6)
	}
	c += (((0.05*d*x-5)*x-7)*x-2)*x + b
	y = (((((0.4*y+6.3)*y+36)*y+94.5)/c-y-3)/b + 1) * x
	return math.Sqrt(df * math.Expm1(a*y*y))
}

// TailError is how far, as a share, NearStudentTail is from the chance at most.
const TailError = 2e-4

// NearStudentTail is the chance that |t| is exceeded, by Hill's approximation
// (Communications of the ACM 13:617-619, 1970), in a tenth of the time of the distribution
// function; not ok below 10 degrees of freedom and for chances below 1e-8, where
// it is further off than TailError.
func NearStudentTail(t, df float64) (p float64, ok bool) {
	a := df - 0.5
	b, y := 48*a*a, a*math.Log1p(t*t/df)
	y = (((((-0.4*y-3.3)*y-24)*y-85.5)/(0.8*y*y+100+b)+y+3)/b + 1) * math.Sqrt(y)
	p = math.Erfc(y / math.Sqrt2)
	return p, df >= 10 && p >= 1e-8
}

// Inside reports whether p lies strictly between 0 and 1.
func Inside(p float64) bool { return p > 0 && p < 1 }
