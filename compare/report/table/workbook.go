package table

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"tunegate/compare/report/doc"
)

// Book is a workbook: a document on the first sheet, then a sheet for each table, then
// how it was decided and what the columns mean.
type Book struct {
	Document doc.Document
	Pictures []Picture
	Tables   []Table // the first is that of the figures
	Method   []doc.Fact
}

// Picture is a PNG for the first sheet.
type Picture struct {
	Alt    string
	PNG    []byte
	Height float64 // on the sheet, in pixels of 1/96 inch
	Scale  float64 // of its own pixels to those
}

// maxRows is what a sheet holds below its head (ECMA-376: 1,048,576 rows in all).
const maxRows = 1<<20 - 1

// Workbook writes a workbook (.xlsx). The same book gives the same bytes. It is an error
// where a table has more rows than a sheet holds.
func Workbook(w io.Writer, b Book) error {
	x := &workbook{File: excelize.NewFile(), styles: map[style]int{}}
	defer x.Close()
	x.summary(b.Document, b.Pictures)
	for i, t := range b.Tables {
		if i > 0 {
			t = t.dense()
		}
		x.table(t)
	}
	x.table(methodTable(b.Method))
	if len(b.Tables) > 0 {
		x.table(meaningTable(b.Tables[0].Columns))
	}
	return x.pack(w, Clean(b.Document.Closing.Text))
}

// pack writes the file, so that the same sheets give the same bytes.
func (x *workbook) pack(w io.Writer, title string) error {
	x.check(x.SetDocProps(&excelize.DocProperties{Title: title, Creator: "tunegate", LastModifiedBy: "tunegate",
		Created: epoch.Format(time.RFC3339), Modified: epoch.Format(time.RFC3339)}))
	if x.err != nil {
		return x.err
	}
	x.SetZipWriter(func(w io.Writer) excelize.ZipWriter { return &packer{Writer: zip.NewWriter(w)} })
	return x.Write(w)
}

// packer packs files in the order of their names, all of the same time. The library
// hands over sheets, and lists types, in any order.
type packer struct {
	*zip.Writer
	files []*packed
}

type packed struct {
	name string
	bytes.Buffer
}

// contentType is an element of the list of types.
var contentType = regexp.MustCompile(`<(Default|Override) [^>]*></(Default|Override)>`)

// sort puts what a pattern matches in order, and leaves the rest where it is.
func (f *packed) sort(pattern *regexp.Regexp) {
	text := f.String()
	found := pattern.FindAllString(text, -1)
	slices.Sort(found)
	text = pattern.ReplaceAllStringFunc(text, func(string) (first string) {
		first, found = found[0], found[1:]
		return first
	})
	f.Reset()
	f.WriteString(text)
}

func (p *packer) Create(name string) (io.Writer, error) {
	p.files = append(p.files, &packed{name: name})
	return p.files[len(p.files)-1], nil
}

func (p *packer) Close() error {
	slices.SortFunc(p.files, func(a, b *packed) int { return strings.Compare(a.name, b.name) })
	for _, f := range p.files {
		if f.name == "[Content_Types].xml" {
			f.sort(contentType)
		}
		out, err := p.CreateHeader(&zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: epoch})
		if err != nil {
			return err
		}
		if _, err := f.WriteTo(out); err != nil {
			return err
		}
	}
	return p.Writer.Close()
}

// epoch is the time that every workbook states, so that the same input gives the same
// bytes: the earliest that a packed file can have.
var epoch = time.Date(1980, time.January, 1, 0, 0, 0, 0, time.UTC)

// dense is the table without the columns that hold nothing.
func (t Table) dense() Table {
	out := Table{Name: t.Name, Rows: make([][]Cell, len(t.Rows))}
	for k, c := range t.Columns {
		if !slices.ContainsFunc(t.Rows, func(row []Cell) bool { return row[k].value() != nil }) {
			continue
		}
		out.Columns = append(out.Columns, c)
		for i, row := range t.Rows {
			out.Rows[i] = append(out.Rows[i], row[k])
		}
	}
	return out
}

// methodTable says by which rule, with which command and version.
func methodTable(facts []doc.Fact) Table {
	t := Table{Name: "How it was decided", Columns: []Column{{Name: "what", Kind: Words}, {Name: "how", Kind: Words}}}
	for _, f := range facts {
		t.Rows = append(t.Rows, []Cell{Text(f.Term), Text(f.Text)})
	}
	return t
}

// meaningTable says what each column of the figures holds.
func meaningTable(columns []Column) Table {
	t := Table{Name: "Columns", Columns: []Column{{Name: "column", Kind: Words}, {Name: "kind", Kind: Words}, {Name: "meaning", Kind: Words}}}
	for _, c := range columns {
		t.Rows = append(t.Rows, []Cell{Text(c.Name), Text(string(c.Kind)), Text(c.Meaning)})
	}
	return t
}

// workbook writes sheets and keeps the first error.
type workbook struct {
	*excelize.File
	styles map[style]int
	sheets int
	err    error
}

func (x *workbook) check(err error) {
	if x.err == nil {
		x.err = err
	}
}

// newSheet begins a sheet; the file comes with one.
func (x *workbook) newSheet(name string) {
	if x.sheets == 0 {
		x.check(x.SetSheetName("Sheet1", name))
	} else {
		_, err := x.NewSheet(name)
		x.check(err)
	}
	x.sheets++
}

// style is how a cell looks; the zero value is plain.
type style struct {
	colour, fill, number string
	size                 float64 // 0 for the usual one
	bold, wrap, right    bool
	indent               int
	below                bool // a line below it
	boxed                bool // lines around it
	open                 bool // can be typed into where a sheet is locked
}

func (x *workbook) style(s style) int {
	if id, ok := x.styles[s]; ok {
		return id
	}
	of := &excelize.Style{Font: &excelize.Font{Family: "Calibri", Size: 11, Bold: s.bold, Color: s.colour},
		Alignment: &excelize.Alignment{Vertical: "top", WrapText: s.wrap}}
	if s.size > 0 {
		of.Font.Size = s.size
	}
	if s.indent > 0 {
		of.Alignment.Horizontal, of.Alignment.Indent = "left", s.indent
	}
	if s.right {
		of.Alignment.Horizontal = "right"
	}
	if s.fill != "" {
		of.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{s.fill}}
	}
	if s.below {
		of.Border = []excelize.Border{{Type: "bottom", Style: 1, Color: doc.Palette["edge"].Light}}
	}
	if s.boxed {
		for _, side := range []string{"left", "right", "top", "bottom"} {
			of.Border = append(of.Border, excelize.Border{Type: side, Style: 1, Color: doc.Palette["grid"].Light})
		}
	}
	if s.open {
		of.Protection = &excelize.Protection{Locked: false}
	}
	if s.number != "" {
		of.CustomNumFmt = &s.number
	}
	id, err := x.NewStyle(of)
	x.check(err)
	x.styles[s] = id
	return id
}

var headStyle = style{bold: true, indent: 1, fill: doc.Palette["band"].Light, below: true, wrap: true}

// styleOf is how a cell of a table looks.
func (c Cell) style() style {
	s := style{colour: c.tone.Colour(), bold: c.tone.Bold()}
	if c.number != nil {
		s.number = c.format.code(*c.number)
	}
	return s
}

// code is the format of a number in the language of spreadsheets (ECMA-376, 18.8.31).
func (f Format) code(v float64) string {
	places := f.Places
	if places < 0 {
		if !f.Percent && f.Unit == "" {
			return ""
		}
		if f.Percent {
			v *= 100
		}
		places = placesOf(v)
	}
	code := "0"
	if places > 0 {
		code += "." + strings.Repeat("0", places)
	}
	switch {
	case f.Percent:
		code += ` %`
	case f.Unit != "":
		code += ` "` + strings.ReplaceAll(Clean(f.Unit), `"`, "'") + `"`
	}
	if f.Signed {
		return "+" + code + ";-" + code + ";" + code
	}
	return code
}

// placesOf is how many places a number was written with, at most six.
func placesOf(v float64) int {
	s := strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)
	_, behind, _ := strings.Cut(s, ".")
	return len(behind)
}

// value is what a spreadsheet keeps of a cell; nil for an empty one.
func (c Cell) value() any {
	switch {
	case c.number != nil:
		return *c.number
	case c.text != "":
		return c.text
	}
	return nil
}

// table writes a table to a sheet of its own, under a head that stays in sight.
func (x *workbook) table(t Table) {
	if len(t.Rows) > maxRows {
		x.check(fmt.Errorf("%s has %d rows, more than the %d of a sheet; other forms hold them", t.Name, len(t.Rows), maxRows))
		return
	}
	x.newSheet(t.Name)
	if x.err != nil {
		return
	}
	last, err := excelize.CoordinatesToCellName(len(t.Columns), len(t.Rows)+1)
	x.check(err)
	x.check(x.AutoFilter(t.Name, "A1:"+last, nil))
	widths, keep := t.widths(), 1+slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == "metric" })
	x.tablePage(t.Name, widths, keep)
	out, err := x.NewStreamWriter(t.Name) // writes what the sheet has until now
	if x.check(err); err != nil {
		return
	}
	for i, n := range widths {
		x.check(out.SetColWidth(i+1, i+1, n))
	}
	corner, err := excelize.CoordinatesToCellName(keep+1, 2)
	x.check(err)
	panes := &excelize.Panes{Freeze: true, XSplit: keep, YSplit: 1, TopLeftCell: corner, ActivePane: "bottomLeft"}
	if keep > 0 {
		panes.ActivePane = "bottomRight"
	}
	x.check(out.SetPanes(panes))
	head := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		as := headStyle
		as.right = c.Kind == Number || c.Kind == Whole
		head[i] = excelize.Cell{StyleID: x.style(as), Value: c.Name}
	}
	x.check(out.SetRow("A1", head))
	for i, row := range t.Rows {
		cells, lines := make([]any, len(row)), 1.0
		for k, c := range row {
			s := c.style()
			if c.number == nil {
				n := math.Ceil(wide(c.text) / (widths[k] - 1))
				s.indent = 1
				s.wrap, lines = n > 1, math.Max(lines, n)
			}
			cells[k] = excelize.Cell{StyleID: x.style(s), Value: c.value()}
		}
		x.check(out.SetRow("A"+strconv.Itoa(i+2), cells, excelize.RowOpts{Height: lineHeight * math.Min(lines, maxLines)}))
	}
	x.check(out.Flush())
}

// page lays a sheet out for paper: across, as wide as one page, whatever its format.
func (x *workbook) page(sheet string) {
	landscape, wide, high, fit := "landscape", 1, 0, true
	x.check(x.SetPageLayout(sheet, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &wide, FitToHeight: &high}))
	x.check(x.SetSheetProps(sheet, &excelize.SheetPropsOptions{FitToPage: &fit}))
	x.check(x.SetHeaderFooter(sheet, &excelize.HeaderFooterOptions{OddFooter: "&L&A&R&P / &N"}))
}

// The smallest scale at which a table is read on paper, in per cent, and how many
// columns of text a page holds at that: A4 or letter, across, has 10 inches and more.
const (
	paperScale = 65
	paperWidth = 205
)

// tablePage lays a table out for paper. One that is too wide for a page at paperScale
// goes over several, row by row, each with the columns to keep; all have the head.
func (x *workbook) tablePage(sheet string, widths []float64, keep int) {
	x.page(sheet)
	total := 0.0
	for _, n := range widths {
		total += n
	}
	titles := "'" + sheet + "'!$1:$1"
	if total > paperWidth {
		fit, scale, order := false, uint(paperScale), "overThenDown"
		x.check(x.SetSheetProps(sheet, &excelize.SheetPropsOptions{FitToPage: &fit}))
		x.check(x.SetPageLayout(sheet, &excelize.PageLayoutOptions{AdjustTo: &scale, PageOrder: &order}))
		if last, err := excelize.ColumnNumberToName(max(keep, 1)); keep > 0 {
			x.check(err)
			titles = "'" + sheet + "'!$A:$" + last + "," + titles
		}
	}
	x.check(x.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: sheet, RefersTo: titles}))
}

// The least and the most columns of text of a sheet's column, and the most where there
// are few; a row is at most maxLines high.
const (
	minWidth = 7
	maxWidth = 60
	fewWidth = 110
	maxLines = 25
)

// widths are those of the columns, in characters.
func (t Table) widths() []float64 {
	most := maxWidth
	if len(t.Columns) <= 3 {
		most = fewWidth
	}
	out := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		longest := utf8.RuneCountInString(c.Name) + 1 // bold, and in one line
		for _, row := range t.Rows {
			longest = max(longest, row[i].length())
		}
		out[i] = float64(min(max(longest, minWidth), most)) + 3
	}
	return out
}

// length is about how many characters a cell shows.
func (c Cell) length() int {
	if c.number == nil {
		return utf8.RuneCountInString(c.text)
	}
	whole := len(strconv.FormatFloat(math.Trunc(*c.number), 'f', -1, 64))
	if c.format.Places < 0 && !c.format.Percent {
		return min(len(strconv.FormatFloat(*c.number, 'g', 10, 64)), 11) + utf8.RuneCountInString(c.format.Unit)
	}
	return whole + 2 + max(c.format.Places, 1) + 2 + utf8.RuneCountInString(c.format.Unit)
}
