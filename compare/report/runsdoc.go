package report

import (
	"fmt"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/english"
	"tunegate/compare/report/doc"
)

// RunsPage is runs as they were understood, and what reading them brought up.
type RunsPage struct {
	Series  []*compare.Series
	Policy  compare.Policy // states directions, beside columns and units
	Reading []string
}

// RunsDocument shows runs as they were understood: a table for each profile with a row
// for each metric and sitting. Runs that are set aside stand in brackets.
func RunsDocument(p RunsPage) doc.Document {
	var profiles []string
	counted, aside, missing := 0, 0, 0
	for _, s := range p.Series {
		if !slices.Contains(profiles, s.Profile) {
			profiles = append(profiles, s.Profile)
		}
		for i := range s.Len() {
			switch o := s.At(i); {
			case o.SetAside:
				aside++
			case o.Missing:
				missing++
			default:
				counted++
			}
		}
	}
	heading := fmt.Sprintf("Read: %s of %s", english.Count(counted, "value"), english.Count(len(profiles), "profile"))
	if aside > 0 {
		heading += fmt.Sprintf("; %d set aside, in brackets", aside)
	}
	if missing > 0 {
		heading += fmt.Sprintf("; %s", english.Count(missing, "empty cell"))
	}
	var blocks []doc.Block
	for _, name := range profiles {
		blocks = append(blocks, p.profileTable(name))
	}
	d := doc.Document{Heading: doc.Line{Text: heading, Tone: doc.Strong}, Sections: []doc.Section{{Kind: doc.Numbers, Blocks: blocks}},
		Page: doc.Head{Headline: heading}}
	notes := slices.Clone(p.Reading)
	if open := p.undirected(); len(open) > 0 {
		notes = append(notes, "neither unit nor column nor policy says whether more is better: "+compare.List(open, 20))
	}
	for _, reason := range setAsideReasons(p.Series) {
		notes = append(notes, "set aside: "+reason)
	}
	if len(notes) > 0 {
		d.Sections = append(d.Sections, doc.Section{Kind: doc.Notes, Title: "Notes", Blocks: []doc.Block{doc.List{Items: doc.Lines(notes)}}})
	}
	return d
}

// sittingOfRun is what the runs in one row of the table have in common.
type sittingOfRun struct{ machine, block, session string }

func (p RunsPage) profileTable(profile string) doc.Table {
	t := doc.Table{Title: "Profile " + Clean(profile), Head: []string{"benchmark", "unit", "better", "sitting", "runs"}}
	for _, s := range p.Series {
		if s.Profile != profile {
			continue
		}
		better := string(p.better(s))
		if better == "" {
			better = "?"
		}
		var order []sittingOfRun
		runs := map[sittingOfRun][]string{}
		for i := range s.Len() {
			o := s.At(i)
			k := sittingOfRun{o.Machine, o.Block, o.Session}
			if runs[k] == nil {
				order = append(order, k)
			}
			runs[k] = append(runs[k], runText(&o))
		}
		name, unit := s.ID().Name(), s.Unit
		for _, k := range order {
			sitting := strings.Join(slices.DeleteFunc([]string{k.machine, k.block, k.session}, func(s string) bool { return s == "" }), ", ")
			t.Rows = append(t.Rows, textCells(Clean(name), Clean(unit), better, Clean(sitting), strings.Join(runs[k], "  ")))
		}
	}
	return t
}

func runText(o *compare.Observation) string {
	text := "-"
	if !o.Missing {
		text = compare.Decimal(o.Value, 12)
	}
	if o.SetAside {
		return "(" + text + ")"
	}
	return text
}

// better is the direction in force, empty for none.
func (p RunsPage) better(s *compare.Series) compare.Better {
	m, err := p.Policy.Resolve(s.Benchmark, s.Metric, s.Unit, s.Better)
	if err != nil {
		return ""
	}
	return m.Better
}

// undirected lists the metrics without a direction, each once.
func (p RunsPage) undirected() []string {
	var names []string
	for _, s := range p.Series {
		if name := Clean(s.ID().Name()); p.better(s) == "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

// setAsideReasons are the places and reasons of the runs set aside, each once.
func setAsideReasons(series []*compare.Series) []string {
	var out []string
	for _, s := range series {
		for i := range s.Len() {
			if o := s.At(i); o.SetAside {
				if text := Clean(fmt.Sprintf("%s, %v: %s", s.Profile, compare.Value{At: o.At}.Line(), o.Reason)); !slices.Contains(out, text) {
					out = append(out, text)
				}
			}
		}
	}
	return out
}
