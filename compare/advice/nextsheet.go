package advice

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tunegate/compare"
)

// The reasons why no sheet can go on from a pilot.
var (
	errMachines   = errors.New("several machines count once each, so that more sessions of the same ones settle little; measure more machines")
	errSameName   = errors.New("both sides have one name, so that no row could say which it is of; name the profiles in a column profile")
	errTaken      = errors.New("both looks are taken; a third raises false alarms")
	ErrOneProfile = errors.New("a sheet needs the runs of two profiles")
	errNothing    = errors.New("nothing that decides is open and can be settled by it")
)

// Pilot is what a sheet goes on from: the series of both sides, those of a profile
// each. Values makes rows of the pilot's own values as well, where they stand in no
// file.
type Pilot struct {
	Before, After []*compare.Series
	Profiles      [2]string
	Values        bool
}

// Sheet writes the order of work of a choice, so that its runs count with the pilot's:
// profiles, benchmarks, units and directions are the pilot's, as are blocks and the
// machine, and new labels of sessions go on from the pilot's. Every metric of a
// benchmark that is run is written down. The order is that of Sheet: which profile
// comes first is balanced, the order of benchmarks is drawn for each pair of sessions.
func (n *Next) Sheet(c *Choice, p Pilot, seed uint64) ([]SheetRow, error) {
	switch {
	case n.Look == 0:
		return nil, errTaken
	case n.Unit == compare.ByMachine:
		return nil, errMachines
	case p.Profiles[0] == p.Profiles[1] || p.Before[0].Profile == p.After[0].Profile:
		return nil, errSameName
	case c == nil:
		return nil, errNothing
	}
	metrics, names := map[string][]compare.Metric{}, []string{}
	for _, m := range p.metrics() {
		if c.More[m.Benchmark] == 0 {
			continue
		}
		if metrics[m.Benchmark] == nil {
			names = append(names, m.Benchmark)
		}
		metrics[m.Benchmark] = append(metrics[m.Benchmark], m)
	}
	sides := [2][]*compare.Series{p.Before, p.After}
	var sessions [2]func() string
	used := map[string]bool{}
	var labels [2][]string
	for i, side := range sides {
		labels[i] = labelsOf(side, func(o compare.Observation) string { return o.Session })
		for _, l := range labels[i] {
			used[l] = true
		}
	}
	for i := range sides {
		sessions[i] = newLabels(labels[i], used, "session")
	}
	blocks := func() string { return "" }
	if n.Unit == compare.ByBlock {
		old, used := labelsOf(slices.Concat(p.Before, p.After), func(o compare.Observation) string { return o.Block }), map[string]bool{}
		for _, l := range old {
			used[l] = true
		}
		blocks = newLabels(old, used, "block")
	}
	var rows []SheetRow
	if p.Values {
		rows = p.valueRows()
	}
	g := rand.New(rand.NewPCG(seed, 0))
	var square [][]int
	runs := 0
	for k := range c.Sessions {
		if k%2 == 0 {
			square = latinSquare(g, 2)
		}
		order := thereAndBack(square[k%2], n.Spells)
		drawn := g.Perm(len(names))
		block := blocks()
		for _, side := range order {
			session := SheetRow{Block: block, Session: sessions[side](), Profile: sides[side][0].Profile, Machine: machineOf(sides[side]),
				Look: n.Look}
			for _, b := range drawn {
				if name := names[b]; c.More[name] > k {
					rows = session.appendRuns(rows, &runs, metrics[name], n.WarmUps, c.Runs)
				}
			}
		}
	}
	return rows, nil
}

// metrics are those that both sides measure, in order of appearance. A direction is
// written where the unit does not say it.
func (p Pilot) metrics() (out []compare.Metric) {
	for _, b := range p.Before {
		i := slices.IndexFunc(p.After, func(a *compare.Series) bool { return a.ID() == b.ID() })
		if i < 0 || b.Derived != nil {
			continue
		}
		a := p.After[i]
		m := compare.Metric{Benchmark: b.Benchmark, Metric: b.Metric, Unit: b.Unit, Better: b.Better}
		if m.Unit == "" {
			m.Unit = a.Unit
		}
		if m.Better == "" {
			m.Better = a.Better
		}
		out = append(out, m)
	}
	return out
}

// valueRows are rows of the pilot's own values.
func (p Pilot) valueRows() (rows []SheetRow) {
	for _, side := range [][]*compare.Series{p.Before, p.After} {
		for _, s := range side {
			for i, o := range s.All() {
				value := o.Value
				rows = append(rows, SheetRow{Profile: s.Profile, Run: strconv.Itoa(i + 1), Value: &value,
					Metric: compare.Metric{Benchmark: s.Benchmark, Metric: s.Metric, Unit: s.Unit, Better: s.Better}})
			}
		}
	}
	return rows
}

// machineOf is the machine that a side states; empty where it states none.
func machineOf(side []*compare.Series) string {
	for _, s := range side {
		if m := s.Machines(); len(m) == 1 {
			return m[0]
		}
	}
	return ""
}

// labelsOf lists the labels that are in use, in order of appearance.
func labelsOf(series []*compare.Series, label func(compare.Observation) string) (out []string) {
	met := map[string]bool{"": true}
	for _, s := range series {
		for _, o := range s.All() {
			if l := label(o); !met[l] {
				met[l] = true
				out = append(out, l)
			}
		}
	}
	return out
}

var numbered = regexp.MustCompile(`^(\p{L}[\p{L} _-]*)([0-9]+)$`)

// months begin words that spreadsheets take for a month, so that "Mar 7" becomes a
// date. Those of English, German, French, Spanish, Italian and Dutch.
var months = []string{"jan", "feb", "fév", "ene", "gen", "mar", "mrt", "mär", "apr", "avr", "abr", "may", "mai", "mag", "mei", "jun",
	"jui", "giu", "jul", "lug", "aug", "aoû", "ago", "sep", "set", "oct", "okt", "ott", "nov", "dec", "dez", "déc", "dic"}

// newLabels makes labels that go on from those in use: A7 after A1 to A6. Where these do
// not share a word and a number, or a spreadsheet would take it for a date, the
// word given takes their place. No label is given twice.
func newLabels(old []string, used map[string]bool, word string) func() string {
	prefix, width, last := word+" ", 0, len(old)
	shared := ""
	for i, label := range old {
		m := numbered.FindStringSubmatch(label)
		if m == nil || i > 0 && m[1] != shared {
			shared = ""
			break
		}
		shared = m[1]
	}
	start := strings.ToLower(strings.TrimSpace(shared))
	if shared != "" && !slices.ContainsFunc(months, func(m string) bool { return strings.HasPrefix(start, m) }) {
		prefix, last = shared, 0
		for _, label := range old {
			digits := strings.TrimPrefix(label, shared)
			if number, err := strconv.Atoi(digits); err == nil {
				last = max(last, number)
			}
			if strings.HasPrefix(digits, "0") {
				width = len(digits)
			}
		}
	}
	return func() string {
		for {
			last++
			if label := fmt.Sprintf("%s%0*d", prefix, width, last); !used[label] {
				used[label] = true
				return label
			}
		}
	}
}
