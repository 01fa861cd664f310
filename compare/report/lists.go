package report

// each makes a list of another; empty, never null.
func each[A, B any](from []A, to func(A) B) []B {
	out := make([]B, len(from))
	for i, v := range from {
		out[i] = to(v)
	}
	return out
}

func orEmpty(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// groupsOf puts values with the same key together, in order of appearance.
func groupsOf[K comparable, V any](values []V, key func(V) K) [][]V {
	var out [][]V
	at := map[K]int{}
	for _, v := range values {
		k := key(v)
		i, known := at[k]
		if !known {
			i = len(out)
			at[k] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], v)
	}
	return out
}
