package intake

import (
	"slices"
	"strings"
)

// stemViews are the tables of a sheet whose runs are headed by more than a number:
// Factory 1, Factory 2, Boost 1, Boost 2 are two runs of two profiles each; Time 1,
// Time 2, Power 1, Power 2 of two metrics.
func stemViews(heads []headCell, below []placedRow, separator byte) []view {
	type stem struct {
		head    headCell
		columns []int
		numbers map[int]bool
	}
	var stems []*stem
	byName := map[string]*stem{}
	first := len(heads)
	for i, cell := range heads {
		if cell.run.number == 0 || cell.err != nil {
			continue
		}
		if cell.run.strong || cell.run.stem == "" || isStatistic(cell.run.stem) {
			return nil
		}
		s := byName[cell.run.stem]
		if s == nil {
			s = &stem{head: cell, numbers: map[int]bool{}}
			byName[cell.run.stem] = s
			stems = append(stems, s)
		}
		s.columns, s.numbers[cell.run.number] = append(s.columns, i), true
		first = min(first, i)
	}
	stems = slices.DeleteFunc(stems, func(s *stem) bool { return len(s.columns) < 2 || len(s.columns) != len(s.numbers) })
	if len(stems) < 2 {
		return nil
	}
	names, metrics := colProfile, 0
	for _, s := range stems {
		switch {
		case sittingWords[s.head.run.stem]:
			return nil
		case quantityWords[s.head.run.stem] || s.head.unit != stems[0].head.unit:
			metrics++
		}
	}
	if metrics > 0 {
		names = colMetric
	}
	of := map[int]*stem{} // by column
	for _, s := range stems {
		for _, i := range s.columns {
			of[i] = s
		}
	}
	var views []view
	for _, s := range stems {
		v := view{label: stemText(s.head), names: names}
		var own []headCell
		var last *stem
		for i := range heads {
			if of[i] != nil {
				last = of[i]
			}
			if i < first || of[i] == s || of[i] == nil && last == s {
				v.columns, own = append(v.columns, i), append(own, heads[i])
			}
		}
		if v.headings = headingsOf(own, v.columns, below, separator); v.shape != sheetShape {
			return nil
		}
		views = append(views, v)
	}
	return views
}

// stemText is the header of a run without the number of the run.
func stemText(head headCell) string {
	name := strings.TrimRight(strings.TrimRight(head.name, ".)"), "0123456789")
	return strings.TrimRight(name, " _.#-")
}
