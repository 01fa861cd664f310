package numeric

// TieSizes returns how often each distinct value occurs, in ascending order
// of the values, and how many pairs are tied.
func TieSizes(x []float64) (sizes []int, tied int) {
	s := Sorted(x)
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		sizes = append(sizes, j-i)
		tied += (j - i) * (j - i - 1) / 2
		i = j
	}
	return sizes, tied
}
