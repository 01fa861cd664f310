// Package doc is a document without a form, and the forms that print it: text for a
// terminal, Markdown, and a page. Forms know nothing of commands, and the code that
// builds a document knows nothing of forms. A section states its kind, and each
// form prints the kinds that it needs.
package doc

// Tone is the meaning of a text, such as a gain or a loss. Forms choose the colour
// by it, and draw a sign for the tones of verdicts.
type Tone int

// The tones. The zero value is plain text.
const (
	Plain Tone = iota
	Strong
	Faint
	BigGain
	SmallGain
	Level
	Hint // not settled, but unusual
	Open
	SmallLoss
	BigLoss
	BigRise // of a cost, for the worse
	SmallRise
	SmallFall // of a cost, for the better
	BigFall
	Good
	Bad
	Undecided
	Unsettled // of what needs more data
	Unjudged  // found, but no verdict
)

// Line is a text with its tone.
type Line struct {
	Text string
	Tone Tone
}

// Arrow stands for an arrow in any text: each form draws its own.
const Arrow = "\uE001"

// Document is what a command has to say. Texts may hold any characters: forms
// make them harmless.
type Document struct {
	Heading  Line   // what it is about, or the outcome
	Subject  string // below the heading, where that is the outcome
	Basis    string // what everything below rests on
	Sections []Section
	Parts    []Part
	Caution  string
	Closing  Line   // the line to read first: a screen ends with it
	Next     string // the command to type next, as it is typed; a screen shows it below
	Page     Head
	// Dense leaves out free lines and colours of titles on a terminal, because the
	// document stands beside other output.
	Dense bool
	// Whole keeps Markdown from cutting what is longer than a comment.
	Whole bool
}

// Head is the beginning of a page, where it differs from the other forms.
type Head struct {
	Title    string // of the window
	Kicker   string // above the headline
	Headline string
	Lead     []string
}

// Part is a document within a document, such as one profile of several.
type Part struct {
	Heading  Line
	Lead     string   // what was asked
	Basis    string   // what its sections rest on
	Warnings []string // before its sections
	Folded   string   // what Markdown folds its sections under; empty: not folded
	Sections []Section
	Name     string // for the titles of a page
}

// Kind is what a section is for. Each form prints some kinds, in the order of the
// document.
type Kind int

// The kinds of sections.
const (
	Numbers    Kind = iota // tables of results, and lines below them
	Reasons                // what speaks for an outcome
	NotSettled             // what is open
	Notes                  // what else to know
	Findings               // what was found, where a page shows pictures
	Tests                  // for experts
	Summary                // the result in short, for a page
	Pictures               // for a page
	Method                 // how it was judged, for a page
	Data                   // the data, and what there is about them, for a page
	Origin                 // how to make it again, for a page
)

// Section is some blocks under a title; the title may be empty.
type Section struct {
	Kind   Kind
	Title  string
	Tone   Tone // of the title on a terminal; Plain for Strong
	Apart  bool // a free line before it on a terminal, although it has no title
	Blocks []Block
}

// Block is a Paragraph, List, Assessment, Changes, Grid, Timeline, Table, Facts or Figures.
type Block interface{ isBlock() }

// Paragraph is running text.
type Paragraph struct {
	Line
	Indent int  // levels of two columns
	Flush  bool // its lines begin alike; else all but the first are indented
}

// List is some lines, each a point of its own.
type List struct {
	Title    string
	Class    string // of a page's style
	Items    []Item
	Numbered bool
	Max      int // points that a comment takes; 0 for all
}

// Item is a point of a list: a name, if there is one, and a text.
type Item struct {
	Name string
	Line
	Detail bool // for experts
}

// text is the item with its name.
func (i Item) text() string {
	if i.Name == "" {
		return i.Text
	}
	return i.Name + ": " + i.Text
}

// Facts are terms, each with a text.
type Facts []Fact

// Fact is one of them.
type Fact struct {
	Term, Text string
	Code       bool // the text is to be typed
}

// Figures makes pictures. It is slow, so only a form that shows them calls it.
type Figures func() []Figure

// Figure is a picture with the numbers behind it.
type Figure struct {
	Title, Caption string
	Numbers        Table
	Grid, Single   bool // several parts side by side, or a single one
	// Draw makes the picture's SVG elements, the n-th picture of its page.
	Draw func(n int) []string
}

// Table is a plain table.
type Table struct {
	Title string
	Label string // for screen readers; empty for Title
	Head  []string
	Right []int // columns whose cells stand to the right
	Rows  [][]Cell
	// Headless leaves the head out on a terminal, where it says nothing new.
	Headless bool
	Indent   int // further levels of two columns on a terminal
}

// Cell is a cell of a table or a grid: its second line is of less weight.
type Cell struct {
	Line
	Below string
	Sign  bool // draw the tone's sign before it
	Tight bool // not to be wrapped
	// Unsigned leaves the place of the sign empty, because the tone is no verdict.
	Unsigned bool
}

func (Paragraph) isBlock() {}
func (List) isBlock()      {}
func (Facts) isBlock()     {}
func (Figures) isBlock()   {}
func (Table) isBlock()     {}

// Lines makes points of plain texts.
func Lines(texts []string) []Item {
	out := make([]Item, len(texts))
	for i, t := range texts {
		out[i].Text = t
	}
	return out
}

// plain are the items that are not for experts alone.
func plain(items []Item) []Item {
	var out []Item
	for _, i := range items {
		if !i.Detail {
			out = append(out, i)
		}
	}
	return out
}

// of are the sections of these kinds, in their order.
func of(sections []Section, kinds ...Kind) []Section {
	var out []Section
	for _, s := range sections {
		for _, k := range kinds {
			if s.Kind == k && len(s.Blocks) > 0 {
				out = append(out, s)
			}
		}
	}
	return out
}
