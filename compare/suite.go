package compare

import (
	"math"
	"slices"
)

// Suite is a pool and what became of it: several scores judged as one.
type Suite struct {
	*Pool
	*Result
	LeftOut []Omission // scores that are not in it
}

// Suites works out what follows for pools that are judged. settled says whether a
// part is settled by itself, for the notes; nil for none.
func (t Terms) Suites(pools []*Pool, judged []Judgement, policy Policy, settled func(*Measurement) bool) []*Suite {
	measured := make([]*Measurement, len(pools))
	for i, p := range pools {
		measured[i] = p.Measured
	}
	out := make([]*Suite, len(pools))
	for i, r := range t.Results(measured, judged, policy, nil) {
		if settled != nil {
			r.Notes = pools[i].notes(r, slices.ContainsFunc(r.Parts, settled))
		}
		out[i] = &Suite{pools[i], r, nil}
	}
	return out
}

// pool pools a comparison's scores: all of them, and those of each workload
// class. There is no suite where fewer than two can be pooled.
func (m *Measured) pool() {
	scores, names, byClass, _ := m.poolable()
	pool := func(of PoolOf, parts []*Measurement) *Pool {
		pool, note := m.Pool(of, parts, m.policy)
		if note != nil {
			m.notes = append(m.notes, *note)
		}
		return pool
	}
	if m.suite = pool(PoolOf{Name: WholeSuite, Whole: true}, scores); m.suite == nil {
		return
	}
	if len(names) == 1 && len(byClass[names[0]]) == len(scores) {
		names = nil // the only class is the suite
	}
	for _, name := range names {
		if p := pool(PoolOf{Name: name}, byClass[name]); p != nil {
			m.classes = append(m.classes, p)
		}
	}
}

// leftOut lists the scores that are not in the suite; absent are those that the
// policy names and not both sides have.
func (m *Measured) leftOut(absent []string) []Omission {
	_, _, _, out := m.poolable()
	for _, o := range m.Unpaired {
		if o.Score {
			out = append(out, o)
		}
	}
	for _, name := range absent {
		if !slices.ContainsFunc(out, func(o Omission) bool { return o.Name == name }) {
			out = append(out, Omission{Name: name, Score: true, Why: MissingBoth})
		}
	}
	return out
}

// poolable lists the scores that can be in a suite, and by workload class in
// order of appearance, and those that cannot.
func (m *Measured) poolable() (scores []*Measurement, names []string, byClass map[string][]*Measurement, leftOut []Omission) {
	byClass = map[string][]*Measurement{}
	for _, r := range m.all {
		switch {
		case !r.Scored():
			continue
		case r.Scale != Ratio:
			leftOut = append(leftOut, Omission{Name: r.Name(), Score: true, Why: NoRatio, Unit: r.Unit})
			continue
		}
		scores = append(scores, r)
		if r.Class == "" {
			continue
		}
		if byClass[r.Class] == nil {
			names = append(names, r.Class)
		}
		byClass[r.Class] = append(byClass[r.Class], r)
	}
	return scores, names, byClass, leftOut
}

// notes states what a careful reader would ask about a suite; settled says that
// one of its scores is settled by itself.
func (p *Pool) notes(r *Result, settled bool) []Note {
	out, several := noteList{}, len(r.Parts) > 1
	if several && !settled && r.Real {
		out = append(out, Note{Kind: NoteTogether})
	} else {
		out.addIf(p.Pooling == BySuiteBlock && len(r.Blocks) < p.maxBlocks(),
			Note{Kind: NoteIncompleteBlocks, Count: len(r.Blocks), Of: p.maxBlocks()})
	}
	left := Note{Count: p.Incomplete, Of: p.Rows, Kind: map[Pooling]NoteKind{BySuiteSession: NoteIncompleteSessions,
		BySuiteMachine: NoteIncompleteMachines, BySuitePass: NoteIncompletePasses}[p.Pooling]}
	if p.Pooling == BySuitePass {
		out.addIf(several, Note{Kind: NotePasses})
		out.addIf(r.IntervalMethod == IntervalWelch, Note{Kind: NoteFewPasses, Count: minPasses})
	}
	out.addIf(p.Pooling != BySuiteBlock && p.Incomplete > 0, left)
	places := p.Places()
	differs := func(change float64) bool { return math.Abs(100*(p.Arithmetic-change)) > math.Pow10(-places) }
	out.addIf(places >= 0 && several && differs(p.geometric()) && differs(r.Change),
		Note{Kind: NoteArithmetic, Values: [2]float64{p.Arithmetic, r.Change}, Places: places})
	return out
}

// geometric is the weighted geometric mean of the scores' own changes; Change
// is near it, but made from sessions where there are some.
func (p *Pool) geometric() float64 {
	log, total := 0.0, 0.0
	for i, part := range p.Measured.Parts {
		log += p.Weights[i] * math.Log1p(part.Change)
		total += p.Weights[i]
	}
	return math.Expm1(log / total)
}

func (p *Pool) maxBlocks() int {
	n := 0
	for _, part := range p.Measured.Parts {
		n = max(n, len(part.Blocks))
	}
	return n
}

// Places is to how many decimals of a per cent the change is quoted; -1 where
// there is no interval.
func (p *Pool) Places() int {
	in := p.Measured.Interval
	if in == nil {
		return -1
	}
	return min(Places((in[1]-in[0])/2*100), 4)
}
