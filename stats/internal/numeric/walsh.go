package numeric

// KthWalsh returns the k-th smallest (from 1) of the n(n+1)/2 Walsh averages
// (d_i + d_j)/2, i <= j, for d in ascending order. As KthDifference; time n log n,
// memory n.
func KthWalsh(d []float64, k int) float64 {
	n := len(d)
	all := n * (n + 1) / 2
	r := newRows(new([]int), n)
	for i := range n {
		r.lo[i], r.hi[i] = i, n
	}
	r.value = func(i, j int) float64 { return Mid(d[i], d[j]) }
	r.count = func(v float64, to []int, orEqual bool) int {
		total, j := 0, n // the columns below v end no later in the next row
		for i, a := range d {
			for j > 0 && !(Mid(a, d[j-1]) < v || orEqual && Mid(a, d[j-1]) == v) {
				j--
			}
			to[i] = max(i, j)
			total += to[i] - i
		}
		return total
	}
	return r.kth(k, all, max(256, 4*n))
}

// MiddleWalsh is the median of the Walsh averages of values in ascending order.
func MiddleWalsh(d []float64) float64 {
	all := len(d) * (len(d) + 1) / 2
	low := KthWalsh(d, (all+1)/2)
	if all%2 == 1 {
		return low
	}
	return Mid(low, KthWalsh(d, all/2+1))
}
