package doubts

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/stats/check"
)

// Copies are runs of one sitting that are equal in every value to runs of another, more
// of them than chance explains. A sitting is what one file holds of a session, or of a
// profile without sessions.
type Copies struct {
	Sides [2]Sitting
	Runs  int // of the second sitting that have their like in the first
	// P bounds the chance of so many, over all sittings and benchmarks that were
	// looked at.
	P float64
}

// Sitting is one of the two places of copies.
type Sitting struct {
	Profile, Block, Session, File string
	Lines                         []int // of the copies, ascending
}

func (s Sitting) String() string {
	out := s.Profile
	if s.Session != "" {
		out += " session " + s.Session
	}
	if s.Block != "" {
		out += " block " + s.Block
	}
	if s.File == "" {
		return out
	}
	out += " (" + s.File
	switch n := len(s.Lines); {
	case n == 0 || s.Lines[n-1] == 0:
	case n == 1:
		out += fmt.Sprintf(", line %d", s.Lines[0])
	case s.Lines[n-1]-s.Lines[0] == n-1:
		out += fmt.Sprintf(", lines %d to %d", s.Lines[0], s.Lines[n-1])
	default:
		out += fmt.Sprintf(", %d lines from %d to %d", n, s.Lines[0], s.Lines[n-1])
	}
	return out + ")"
}

// CopiesAmong finds copies among the runs that count of all series.
func CopiesAmong(series []*compare.Series) []Copies {
	if !severalSittings(series) {
		return nil
	}
	var b rowBook
	for _, s := range series {
		for i := range s.Observations {
			if o := &s.Observations[i]; !o.Missing && !o.SetAside {
				b.add(s.SeriesKey, o.Block, o.Session, o.Run, o.Value, o.At, true)
			}
		}
	}
	return b.copies()
}

// severalSittings reports whether the series do not all lie in one sitting.
func severalSittings(series []*compare.Series) bool {
	var first sittingKey
	for _, s := range series {
		for i := range s.Observations {
			o := &s.Observations[i]
			key := sittingKey{profile: s.Profile, block: o.Block, session: o.Session, file: o.At.Source()}
			if first == (sittingKey{}) {
				first = key
			}
			if key != first {
				return true
			}
		}
	}
	return false
}

// CopiesBetween finds copies of which at least one side is among the added rows; the
// known rows are those that were there before. Rows that are set aside count, too.
func CopiesBetween(known, added []compare.Value) []Copies {
	var b rowBook
	for k, rows := range [][]compare.Value{known, added} {
		for _, v := range rows {
			if !v.Missing {
				id := v.ID()
				b.add(compare.SeriesKey{Profile: v.Profile, Benchmark: id.Benchmark, Metric: id.Metric}, v.Block, v.Session, v.Run,
					v.Value, v.At, k == 1)
			}
		}
	}
	return b.copies()
}

// rowBook files values by run, and runs by sitting and benchmark.
type rowBook struct {
	sittings map[sittingKey]*sitting
	order    []*sitting
	last     *sitting // that a value was added to
}

type sittingKey struct {
	profile, block, session, file string
	added                         bool
}

type sitting struct {
	sittingKey
	index int
	runs  map[string]*benchmarkRuns
}

// benchmarkRuns are the runs of one benchmark in a sitting, in order.
type benchmarkRuns struct {
	rows []*row
	by   map[runKey]*row
	nth  map[string]int // values of a metric without a label so far
}

// runKey is the label of a run, or its number where it has none.
type runKey struct {
	label string
	nth   int
}

// row is one run: a value for each metric.
type row struct {
	values []rowValue
	place  int // among the runs of its benchmark and sitting
}

type rowValue struct {
	metric string
	value  float64
	line   int
}

// maxRows is how many runs of a benchmark in one sitting are looked at: a log of
// more has its copies among them, too.
const maxRows = 2000

func (b *rowBook) add(k compare.SeriesKey, block, session, run string, value float64, at compare.Place, added bool) {
	key := sittingKey{k.Profile, block, session, at.File, added}
	s := b.last
	if s == nil || s.sittingKey != key {
		s = b.sittings[key]
	}
	if s == nil {
		if b.sittings == nil {
			b.sittings = map[sittingKey]*sitting{}
		}
		s = &sitting{sittingKey: key, index: len(b.order), runs: map[string]*benchmarkRuns{}}
		b.sittings[key] = s
		b.order = append(b.order, s)
	}
	b.last = s
	r := s.runs[k.Benchmark]
	if r == nil {
		r = &benchmarkRuns{by: map[runKey]*row{}, nth: map[string]int{}}
		s.runs[k.Benchmark] = r
	}
	label := runKey{label: run}
	if run == "" {
		r.nth[k.Metric]++
		label.nth = r.nth[k.Metric]
	}
	of := r.by[label]
	if of == nil {
		if len(r.rows) == maxRows {
			return
		}
		of = &row{place: len(r.rows)}
		r.by[label] = of
		r.rows = append(r.rows, of)
	}
	of.values = append(of.values, rowValue{k.Metric, value, at.Line})
}

// content is what a row says, whatever the order of its metrics.
func (r *row) content() string {
	slices.SortStableFunc(r.values, func(a, b rowValue) int { return cmp.Compare(a.metric, b.metric) })
	var out strings.Builder
	for _, v := range r.values {
		out.WriteString(v.metric)
		out.Write(binary.LittleEndian.AppendUint64([]byte{0}, math.Float64bits(v.value)))
	}
	return out.String()
}

// metricChances are the chances that two readings of each metric of a benchmark are the
// same.
func (b *rowBook) metricChances(benchmark string) map[string]float64 {
	lists := map[string][][]float64{}
	for _, s := range b.order {
		own := map[string][]float64{}
		if r := s.runs[benchmark]; r != nil {
			for _, row := range r.rows {
				for _, v := range row.values {
					own[v.metric] = append(own[v.metric], v.value)
				}
			}
		}
		for metric, x := range own {
			lists[metric] = append(lists[metric], x)
		}
	}
	out := map[string]float64{}
	for metric, x := range lists {
		out[metric] = check.EqualByChance(x)
	}
	return out
}

// filedRow is a row and where it stands.
type filedRow struct {
	*row
	sitting *sitting
}

// shared is what two sittings have in common.
type shared struct {
	a, b  *sitting
	equal map[string]*[2]int // pairs of equal runs of a benchmark: anywhere, and in place
	pairs [][2]*row
}

// copies lists the pairs of sittings whose equal rows chance does not explain.
func (b *rowBook) copies() []Copies {
	var benchmarks []string
	held := map[string]int{} // sittings that hold a benchmark
	for _, s := range b.order {
		for name := range s.runs {
			if held[name]++; held[name] == 2 {
				benchmarks = append(benchmarks, name)
			}
		}
	}
	slices.Sort(benchmarks)
	found := map[[2]int]*shared{}
	chances := map[string]float64{} // that two runs of a benchmark are equal
	for _, name := range benchmarks {
		chances[name] = b.findEqual(name, found)
	}
	var pairs []*shared
	for _, s := range found {
		pairs = append(pairs, s)
	}
	slices.SortFunc(pairs, func(x, y *shared) int { return cmp.Or(x.a.index-y.a.index, x.b.index-y.b.index) })
	known := 0
	for _, s := range b.order {
		if !s.added {
			known++
		}
	}
	compared := float64(len(b.order)*(len(b.order)-1)-known*(known-1)) / 2
	var out []Copies
	for _, s := range pairs {
		var overlaps []check.Overlap
		for _, name := range benchmarks { // those without an equal row count as well
			x, y := s.a.runs[name], s.b.runs[name]
			if x == nil || y == nil || chances[name] == 0 {
				continue
			}
			o := check.Overlap{N: len(x.rows), M: len(y.rows), Chance: chances[name]}
			if equal := s.equal[name]; equal != nil {
				o.Equal, o.InPlace = equal[0], equal[1]
			}
			overlaps = append(overlaps, o)
		}
		if p := min(1, compared*check.CopiesP(overlaps)); p <= copiesLevel {
			out = append(out, s.copies(p))
		}
	}
	return out
}

// findEqual adds the pairs of equal rows of a benchmark to those that are found, by
// the sittings that they lie in, and returns the chance that two rows are equal. Rows
// that are likely to be equal say nothing, and are left out; it returns 0 where no
// others are.
func (b *rowBook) findEqual(benchmark string, found map[[2]int]*shared) (equal float64) {
	const tooLikely = 0.5
	chances := b.metricChances(benchmark)
	byContent := map[string][]filedRow{}
	for _, s := range b.order {
		if s.runs[benchmark] == nil {
			continue
		}
		for _, r := range s.runs[benchmark].rows {
			// Metrics of one run go together, so that the finest alone counts.
			chance := 1.0
			for _, v := range r.values {
				chance = min(chance, chances[v.metric])
			}
			if chance > tooLikely {
				continue
			}
			equal = max(equal, chance)
			content := r.content()
			same := byContent[content]
			for _, x := range same {
				if x.sitting == s || !x.sitting.added && !s.added {
					continue
				}
				at := [2]int{x.sitting.index, s.index}
				pair := found[at]
				if pair == nil {
					pair = &shared{a: x.sitting, b: s, equal: map[string]*[2]int{}}
					found[at] = pair
				}
				if pair.equal[benchmark] == nil {
					pair.equal[benchmark] = new([2]int)
				}
				pair.equal[benchmark][0]++
				if x.place == r.place {
					pair.equal[benchmark][1]++
				}
				pair.pairs = append(pair.pairs, [2]*row{x.row, r})
			}
			byContent[content] = append(same, filedRow{r, s})
		}
	}
	return equal
}

// copies names the runs of both sittings that are equal.
func (s *shared) copies(p float64) Copies {
	of := [2]*sitting{s.a, s.b}
	out := Copies{P: p}
	for k := range out.Sides {
		seen := map[*row]bool{}
		side := Sitting{Profile: of[k].profile, Block: of[k].block, Session: of[k].session, File: of[k].file}
		for _, pair := range s.pairs {
			if r := pair[k]; !seen[r] {
				seen[r] = true
				for _, v := range r.values {
					side.Lines = append(side.Lines, v.line)
				}
			}
		}
		slices.Sort(side.Lines)
		side.Lines = slices.Compact(side.Lines)
		out.Sides[k], out.Runs = side, len(seen)
	}
	return out
}
