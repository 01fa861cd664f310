package gate

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"tunegate/compare"
	"tunegate/compare/internal/executions"
	"tunegate/stats"
)

// maxChance is the chance of as many equal readings below which rows count as copied.
const maxChance = 1e-6

// maxCopied is how many readings a list may have to be looked at: among more, equal
// ones say nothing.
const maxCopied = 20000

// copiesOf finds rows that repeat others, value for value: new ones that repeat rows
// of others, or, where others is nil, earlier ones of their own. It gives both, and a
// bound of the chance that as many readings are equal by themselves; nil where that is
// not below maxChance.
//
// Two readings of a metric agree by chance as often as the readings of one list come
// close to each other, see agreement. Of n runs, k with a partner among m others are
// found by chance with at most binomial(n, k) (m q)^k, with a partner at the same place
// with at most binomial(n, k) q^k, with one in the same order, so many places further
// on, with n + m times that; and q of a run with several metrics is the product of
// theirs. All three are looked at, for whole runs and for each metric by itself.
func copiesOf(rows, others []compare.Value) (copied, of []compare.Value, chance float64, err error) {
	itself := others == nil
	mine, err := readRuns(rows)
	if err != nil {
		return nil, nil, 1, err
	}
	theirs := mine
	if !itself {
		if theirs, err = readRuns(others); err != nil {
			return nil, nil, 1, err
		}
	}
	equal := map[compare.MetricID]float64{} // log of the chance that two readings agree
	var shared []compare.MetricID
	for _, id := range mine.metrics {
		if x, y := mine.values[id], theirs.values[id]; len(x) > 0 && len(y) > 0 {
			equal[id] = math.Log(agreement(x, y, itself))
			shared = append(shared, id)
		}
	}
	best := math.Log(maxChance)
	sets := [][]compare.MetricID{shared}
	if len(shared) > 1 {
		for _, id := range shared {
			sets = append(sets, []compare.MetricID{id})
		}
	}
	for _, ids := range sets {
		found := matching(mine, theirs, itself, ids, equal)
		if logged := found.logChance + math.Log(float64(3*len(sets))); len(found.copied) > 0 && logged < best {
			best, copied, of = logged, found.copied, found.of
		}
	}
	return copied, of, math.Exp(best), nil
}

// runReadings are the valid values of rows by the run that each is of.
type runReadings struct {
	runs    []map[compare.MetricID]compare.Value
	metrics []compare.MetricID
	values  map[compare.MetricID][]float64
}

func readRuns(rows []compare.Value) (out runReadings, err error) {
	runs, err := collect("", rows)
	if err != nil {
		return out, err
	}
	out.values = map[compare.MetricID][]float64{}
	at, count := map[executions.Execution]int{}, executions.New()
	for _, s := range runs.Series() {
		out.metrics = append(out.metrics, s.ID())
		count.Each(s, func(id executions.Execution, o compare.Observation) {
			if o.Missing || o.SetAside {
				return
			}
			if _, met := at[id]; !met {
				at[id], out.runs = len(out.runs), append(out.runs, map[compare.MetricID]compare.Value{})
			}
			out.runs[at[id]][s.ID()] = rowOf(s, o)
			out.values[s.ID()] = append(out.values[s.ID()], o.Value)
		})
	}
	return out, nil
}

// agreement is the chance q that a reading of one list equals one of the other. Of the
// pairs within a list it takes so many of the nearest, with differences up to w: of all
// pairs their share is near 2 w q / step, whatever the shape of the noise. Half as much
// again allows for what few pairs can tell. Within one list that may hold copies, pairs
// of equal readings do not count, unless three are equal: then they repeat by
// themselves.
func agreement(x, y []float64, itself bool) float64 {
	const nearest, allowance, enough = 5, 1.5, 200
	step, total := stats.Resolution(x, y), 0
	var gaps []float64
	for _, list := range [][]float64{x, y} {
		list = list[:min(len(list), enough)]
		copies := itself && !thrice(list)
		for i, v := range list {
			for _, u := range list[:i] {
				if total++; !copies || u != v {
					gaps = append(gaps, math.Abs(u-v))
				}
			}
		}
	}
	if len(gaps) == 0 {
		return 1
	}
	slices.Sort(gaps)
	w := math.Max(gaps[min(nearest, len(gaps))-1], step/2)
	within := sort.SearchFloat64s(gaps, w*(1+1e-9))
	return math.Min(1, allowance*step*float64(within)/(2*w*float64(total)))
}

// thrice reports whether a value is there three times.
func thrice(x []float64) bool {
	count := map[float64]int{}
	for _, v := range x {
		if count[v]++; count[v] == 3 {
			return true
		}
	}
	return false
}

type match struct {
	copied, of []compare.Value
	logChance  float64
}

// matching pairs runs with earlier ones, or with others', that agree in all metrics of
// ids that they have.
func matching(mine, theirs runReadings, itself bool, ids []compare.MetricID, equal map[compare.MetricID]float64) match {
	content := func(run map[compare.MetricID]compare.Value) (key string, logQ float64, rows []compare.Value) {
		var b strings.Builder
		for i, id := range ids {
			if v, ok := run[id]; ok {
				b.WriteString(strconv.Itoa(i) + ":" + strconv.FormatFloat(v.Value, 'x', -1, 64) + " ")
				logQ += equal[id]
				rows = append(rows, v)
			}
		}
		return b.String(), logQ, rows
	}
	contents := func(of runReadings) (keys []string, logQs []float64, rows [][]compare.Value) {
		for _, run := range of.runs {
			if key, logQ, r := content(run); key != "" {
				keys, logQs, rows = append(keys, key), append(logQs, logQ), append(rows, r)
			}
		}
		return keys, logQs, rows
	}
	keys, logQs, rows := contents(mine)
	others, _, sources := contents(theirs)
	at := map[string][]int{} // where a content stands among the others
	for i, key := range others {
		at[key] = append(at[key], i)
	}
	partner, shifts := map[int]int{}, map[int][]int{} // runs by how much further on an equal one stands
	for i, key := range keys {
		for _, k := range at[key] {
			if itself && k >= i {
				continue
			}
			if _, found := partner[i]; !found {
				partner[i] = k
			}
			shifts[k-i] = append(shifts[k-i], i)
		}
	}
	chance := func(runs []int, places float64) float64 {
		n, k := float64(len(keys)), float64(len(runs))
		a, _ := math.Lgamma(n + 1)
		b, _ := math.Lgamma(k + 1)
		c, _ := math.Lgamma(n - k + 1)
		sum := a - b - c
		for _, i := range runs {
			sum += math.Min(0, logQs[i]+math.Log(places))
		}
		return sum
	}
	runs := slices.Sorted(maps.Keys(partner))
	out := match{logChance: chance(runs, float64(len(others)))}
	for _, shift := range slices.Sorted(maps.Keys(shifts)) {
		p := chance(shifts[shift], 1)
		if shift != 0 {
			p += math.Log(float64(len(keys) + len(others)))
		}
		if p < out.logChance {
			out.logChance, runs = p, shifts[shift]
			for _, i := range runs {
				partner[i] = i + shift
			}
		}
	}
	for _, i := range runs {
		out.copied, out.of = slices.Concat(out.copied, rows[i]), slices.Concat(out.of, sources[partner[i]])
	}
	return out
}

// checkCopies looks for new rows that repeat others: old rows of the profile, those of
// another profile, or each other.
func (g *judging) checkCopies(j *Judgement, added []compare.Value, old *Profile) {
	if !hasRuns(added) {
		return
	}
	look := func(of string, others []compare.Value) bool {
		if len(added)+len(others) > maxCopied {
			return false
		}
		copied, source, chance, err := copiesOf(added, others)
		if err != nil || len(copied) == 0 { // an error is told when the rows are judged
			return false
		}
		g.add(j, Reason{Kind: ReasonCopies, Rows: copied, Copies: source, Chance: chance, Detail: of})
		return true
	}
	if look(j.Profile, nil) || old != nil && hasRuns(old.Values) && look(j.Profile, old.Values) {
		return
	}
	was := cmp.Or(j.Before, j.Profile)
	for _, name := range g.base.names() {
		if rows := g.base.rowsOf(name); name != was && hasRuns(rows) && look(name, rows) {
			return
		}
	}
	for _, name := range g.head.names() {
		if p := g.head.Profiles[name]; name < j.Profile && hasRuns(p.Values) && g.before(name) == nil && look(name, p.Values) {
			return
		}
	}
}
