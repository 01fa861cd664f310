package ladder

import (
	"fmt"
	"strconv"
	"strings"
)

// ParseMix takes "rendering=70,interactive=30": classes and their shares of the
// work, in any measure; the parts returned sum to 1.
func ParseMix(s string) ([]Share, error) {
	var out []Share
	total := 0.0
	for _, part := range strings.Split(s, ",") {
		class, number, ok := strings.Cut(part, "=")
		class = strings.TrimSpace(class)
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(number), "%")), 64)
		if !ok || class == "" || err != nil || !(v > 0 && v < 1e9) {
			return nil, fmt.Errorf("%q is no part of a mix; expected for instance rendering=70,interactive=30", part)
		}
		for _, other := range out {
			if other.Class == class {
				return nil, fmt.Errorf("the mix names %q twice", class)
			}
		}
		out = append(out, Share{class, v})
		total += v
	}
	for i := range out {
		out[i].Part /= total
	}
	return out, nil
}
