package claims

import (
	"slices"

	"tunegate/compare"
)

// family is everything that is corrected together on a page; each list is of one
// pair of profiles.
type family struct {
	results  [][]*compare.Result // as compare judged them
	measured [][]*compare.Measurement
	claimed  map[*compare.Result]bool
}

// family lists what compare judges together for the pairs of the page, and what else
// is claimed.
func (p *Page) family(about map[*Held]*compare.Result) family {
	f := family{claimed: map[*compare.Result]bool{}}
	for _, r := range about {
		f.claimed[r] = true
	}
	for _, pair := range p.Pairs {
		var of []*compare.Result
		var measured []*compare.Measurement
		for _, r := range pair.Judged() {
			if f.claimed[r] || r.InFamily() {
				of, measured = append(of, r), append(measured, r.Measurement)
			}
		}
		f.results, f.measured = append(f.results, of), append(f.measured, measured)
	}
	return f
}

// judge gives what is claimed its verdict among the family.
func (f family) judge(t compare.Terms, policy compare.Policy) map[*compare.Result]*compare.Result {
	out := map[*compare.Result]*compare.Result{}
	for i, judged := range t.Judge(f.measured...) {
		for k, j := range judged {
			if r := f.results[i][k]; f.claimed[r] {
				out[r] = t.Rejudged(r, j, policy)
			}
		}
	}
	return out
}

// with is the family with one measurement in the place of another.
func (f family) with(old, new *compare.Measurement) family {
	measured := make([][]*compare.Measurement, len(f.measured))
	for i, list := range f.measured {
		measured[i] = slices.Clone(list)
		for k, m := range list {
			if m == old {
				measured[i][k] = new
			}
		}
	}
	f.measured = measured
	return f
}

// largestOf is among how many scores of its pair a score changed most, in the
// direction in which it changed; 0 where another changed more, and for what is no
// score of a benchmark.
func (f family) largestOf(r *compare.Result) int {
	for _, list := range f.results {
		if r.Role != compare.Score || r.Parts != nil || !slices.Contains(list, r) {
			continue
		}
		n := 0
		for _, other := range list {
			if other.Role != compare.Score || other.Parts != nil || other.Scale != r.Scale {
				continue
			}
			n++
			if r.Change >= 0 && other.Change > r.Change || r.Change < 0 && other.Change < r.Change {
				return 0
			}
		}
		return n
	}
	return 0
}
