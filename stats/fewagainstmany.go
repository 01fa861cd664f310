package stats

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// leastTransformed is the p that transformed gives at least: its error is far below that.
const leastTransformed = 1e-12

// transformable says whether few values stand against many, so that transformed holds its
// accuracy and takes less than counting: up to some 5 milliseconds, which is 6 values
// against 3,700 or 20 against 900. Beyond that the normal distribution serves, as it does
// for sides of like size, so that what a test takes does not grow without end.
func transformable(m, n int) bool {
	few, many := float64(min(m, n)), float64(max(m, n))
	return few*few <= 4*(few+many) && few*many*(few+60) <= 1.5e6
}

// transformed is the distribution of 2U that permutationCounts counts, as chances, for m
// values against many more, of which the pooled values come in groups of so many tied
// ones. With c(r) values of the doubled midrank r, and p_i(w) the sum of c(r) w^(i r), the
// sums of k of them have the generating function
//
//	e_k(w) = 1/k sum_{i=1}^k (-1)^(i-1) e_{k-i}(w) p_i(w)
//
// (Newton's identities). At the roots of unity p_1 is the discrete Fourier transform of
// c, p_i is p_1 at every i-th root, and e_m transformed back is the distribution. It is held
// as a share of C(N, k), so that nothing overflows; what the sum loses to cancellation
// grows as exp(m^2 / N), which transformable bounds. The chances are within 1e-15 of the
// true ones, sums of them within 1e-13.
func transformed(m int, tied []int) []float64 {
	n := -m
	for _, t := range tied {
		n += t
	}
	all, length := m+n, smoothLength(2*m*n+1)
	ranks := make([]float64, length)
	seen := 0
	for _, t := range tied {
		ranks[(2*seen+t+1)%length] += float64(t)
		seen += t
	}
	fft := fourier.NewFFT(length)
	power := fft.Coefficients(nil, ranks)
	// weights[k][i] is C(N, k-i) / C(N, k) / k, with the sign of the term.
	weights := make([][]float64, m+1)
	for k := 1; k <= m; k++ {
		w := 1 / float64(all-k+1)
		for i := 1; i <= k && math.Abs(w) > 1e-20; i++ {
			weights[k] = append(weights[k], w)
			w *= -float64(k-i) / float64(all-k+i+1)
		}
	}
	e, p := make([]complex128, m+1), make([]complex128, m+1)
	last := make([]complex128, len(power)) // e_m
	for f := range power {
		for i, at := 1, 0; i <= m; i++ {
			if at += f; at >= length {
				at -= length
			}
			if 2*at <= length {
				p[i] = power[at]
			} else { // the transform of real numbers is its own mirror image
				p[i] = complex(real(power[length-at]), -imag(power[length-at]))
			}
		}
		e[0] = 1
		for k := 1; k <= m; k++ {
			var re, im float64
			for i, w := range weights[k] {
				term := e[k-i-1] * p[i+1]
				re, im = re+w*real(term), im+w*imag(term)
			}
			e[k] = complex(re, im)
		}
		last[f] = e[m]
	}
	sums := fft.Sequence(ranks, last)
	out := make([]float64, 2*m*n+1)
	for u := range out { // the sum of doubled midranks is 2mn + m (m + 1) - 2U
		out[u] = sums[(2*m*n+m*(m+1)-u)%length] / float64(length)
	}
	return out
}

// smoothLength is the least length from n on without a prime factor above 5, for which
// the transform is fast.
func smoothLength(n int) int {
	for ; ; n++ {
		rest := n
		for _, factor := range [...]int{2, 3, 5} {
			for rest%factor == 0 {
				rest /= factor
			}
		}
		if rest == 1 {
			return n
		}
	}
}
