package report

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"tunegate/compare"
)

// pairsPicture shows how the changes of all pairs are spread, a panel for each
// metric.
func pairsPicture(confidence float64, name string, results []*compare.Result) *Picture {
	p := &Picture{Name: name, Head: []string{"benchmark", "pairs", "of them better", "lowest", "middle", "highest"}}
	type panel struct {
		result  *compare.Result
		changes []float64
	}
	var panels []panel
	thinned := false
	for _, r := range results {
		changes, thin := r.Changes()
		if len(changes) < 2 {
			continue
		}
		thinned = thinned || thin
		panels = append(panels, panel{r, changes})
		p.Rows = append(p.Rows, []string{Clean(r.Name()), fmt.Sprint(len(changes)), betterShare(r, changes),
			signed(r, changes[0]), signed(r, r.Change), signed(r, changes[len(changes)-1])})
		if len(panels) == maxPanels {
			break
		}
	}
	if len(panels) == 0 {
		return nil
	}
	var agree []string
	for _, x := range panels {
		if x.changes[0] > 0 || x.changes[len(x.changes)-1] < 0 {
			agree = append(agree, Clean(x.result.Name()))
		}
	}
	switch {
	case len(agree) == 0:
		p.Title = "In no score do all pairs say the same"
	case len(agree) > 3:
		p.Title = fmt.Sprintf("In %d of %d scores all pairs say the same", len(agree), len(panels))
	default:
		p.Title = fmt.Sprintf("All pairs say the same in %s", andList(agree))
	}
	p.Caption = pairedWords(panels[0].result) + fmt.Sprintf(
		"The change that is stated is the middle of all of them, the line below it the interval at %s %%. "+
			"Left of 0 the change is for the worse, right of it for the better.", confidencePercent(confidence))
	if slices.ContainsFunc(panels, func(x panel) bool { return slices.Contains(x.changes, 0) }) {
		p.Caption += " A grey bar about 0 holds pairs that are equal, or nearly."
	}
	if thinned {
		p.Caption += " Of very many values 500 a side, evenly spaced in order, are drawn."
	}
	p.columns = 2
	for _, x := range panels {
		desc := pairsWords(x.result, x.changes) + "; interval " + intervalText(x.result) + "."
		p.parts = append(p.parts, panelPart(x.result, desc, func(d *drawing) { drawPairs(d, x.result, x.changes) }))
	}
	return p
}

// pairedWords say what is paired and drawn.
func pairedWords(r *compare.Result) string {
	switch {
	case r.Replication == compare.ByBlock:
		return "In each block, each session before is paired with each session after; bars count the pairs. "
	case paired(r):
		return "Each machine before is paired with itself after; bars count the pairs. "
	}
	return fmt.Sprintf("Each %s before is paired with each %s after; bars count the pairs. ", r.Replication, r.Replication)
}

// betterShare is "36 of 36" pairs in which after is better.
func betterShare(r *compare.Result, changes []float64) string {
	better := 0
	for _, v := range changes {
		if r.Gain(v) > 0 {
			better++
		}
	}
	return fmt.Sprintf("%d of %d", better, len(changes))
}

// pairsWords is "36 of 36 pairs are faster; middle +2.46 %".
func pairsWords(r *compare.Result, changes []float64) string {
	up, _ := direction(r)
	same := 0
	for _, v := range changes {
		if v == 0 {
			same++
		}
	}
	text := fmt.Sprintf("%s pairs are %s", betterShare(r, changes), up)
	if same > 0 {
		text += fmt.Sprintf(", %d equal", same)
	}
	return text + "; middle " + signed(r, r.Change)
}

func drawPairs(d *drawing, r *compare.Result, changes []float64) {
	unit, factor := percentOr(r)
	d.words(0, 14, 13, "ink", "start", fitted(Clean(r.Name()), d.width, 13, true)).bold = true
	foot := 15.0
	for _, l := range wrappedTo(pairsWords(r, changes), d.width, 12, false) {
		foot += 17
		d.words(0, foot, 12, "muted", "start", l)
	}
	// Pairs far out are few: the axis holds the middle 99 % and the interval.
	in := endsOf(r)
	lo, hi := math.Min(in[0], quantileOf(changes, 0.005)), math.Max(in[1], quantileOf(changes, 0.995))
	lo, hi = math.Min(lo, 0)*factor, math.Max(hi, 0)*factor
	if hi == lo {
		lo, hi = lo-1, hi+1
	}
	pad := (hi - lo) * 0.05
	x := axis{lo: lo - pad, hi: hi + pad, a: 8, b: d.width - 8}
	top, base, line := foot+12, foot+92, foot+106
	bins := int(math.Max(9, math.Min(31, 2*math.Cbrt(float64(len(changes)))*2)))
	width := (x.hi - x.lo) / float64(bins)
	// Bins begin at 0, so that none holds better and worse pairs; where pairs are
	// equal, one lies about 0 and is neither.
	shift := 0.0
	if slices.Contains(changes, 0) {
		shift = 0.5
	}
	counts := map[int]int{}
	most := 0
	for _, v := range changes {
		at := v*factor/width + shift
		k := int(math.Floor(at))
		if v < 0 && at == math.Floor(at) {
			k-- // the edge belongs to the side further out
		}
		counts[k]++
		most = max(most, counts[k])
	}
	marks := ticks(x.lo, x.hi, int(math.Max(3, (x.b-x.a)/62)))
	for _, k := range slices.Sorted(maps.Keys(counts)) {
		a, b := (float64(k)-shift)*width, (float64(k)+1-shift)*width
		if b <= x.lo || a >= x.hi {
			continue
		}
		fill := "better"
		switch {
		case a < 0 && b > 0:
			fill = "open"
		case r.Gain(a+b) < 0:
			fill = "worse"
		}
		height := (base - top) * float64(counts[k]) / float64(most)
		bar := d.box(paint{stroke: "panel", fill: fill, width: 1}, x.at(math.Max(a, x.lo)), base-height, x.at(math.Min(b, x.hi)), base)
		bar.role, bar.of = "pairs", fmt.Sprint(counts[k])
	}
	d.line(paint{stroke: "edge", width: 1}, point{x.a, base}, point{x.b, base})
	d.line(paint{stroke: "ink", width: 1.5}, point{x.at(0), top - 4}, point{x.at(0), line + 10})
	drawInterval(d, r, x, factor, line)
	drawTicks(d, x, marks, line+12, "change in "+cmp.Or(unit, "its unit"))
	d.height = line + 54
}

// quantileOf is a quantile of ascending values.
func quantileOf(x []float64, q float64) float64 {
	return x[int(math.Round(q*float64(len(x)-1)))]
}
