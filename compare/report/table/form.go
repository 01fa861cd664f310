package table

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"tunegate/compare/report/doc"
)

// Form is a table to be filled in: only its inputs can be typed into.
type Form struct {
	Table
	Inputs []Input
}

// Input is the cells of a column that somebody types into, and what belongs there.
type Input struct {
	Column string
	Rows   []int // from 0; nil for all
	Title  string
	Help   string // shown beside the cell in hand

	Choices []string // to pick from
	Free    bool     // other texts than the choices are taken, too
	Number  bool
	Above   *float64 // a number has to be above this
	// Usual are numbers outside which a spreadsheet asks whether they are meant; nil for
	// none.
	Usual *[2]float64
}

// FormWorkbook writes a form as a workbook (.xlsx), its sheet the first: a head that
// stays in sight and is printed on every page, and cells that are locked but for the
// inputs, without a password. Behind it stands what the form is for, where of is not
// nil: the document, the figures and what their columns mean. The same form gives the
// same bytes.
func FormWorkbook(w io.Writer, f Form, of *Book) error {
	if len(f.Rows) > maxRows {
		return fmt.Errorf("the sheet has %d rows, more than the %d that a workbook holds; other forms hold them", len(f.Rows), maxRows)
	}
	x := &workbook{File: excelize.NewFile(), styles: map[style]int{}}
	defer x.Close()
	x.form(f)
	if of != nil {
		x.summary(of.Document, of.Pictures)
		for _, t := range of.Tables {
			x.table(t)
		}
		x.table(meaningTable(of.Tables[0].Columns))
	}
	return x.pack(w, f.Name)
}

// form writes the sheet.
func (x *workbook) form(f Form) {
	x.newSheet(f.Name)
	typed, open := map[string]bool{}, map[[2]int]bool{} // columns, and cells by row and column
	for _, in := range f.Inputs {
		typed[in.Column] = true
		k := f.column(in)
		for _, i := range f.rows(in) {
			open[[2]int{i, k}] = true
		}
	}
	for i, width := range f.widths() {
		name, err := excelize.ColumnNumberToName(i + 1)
		x.check(err)
		if typed[f.Columns[i].Name] {
			width = max(width, 14)
		}
		x.check(x.SetColWidth(f.Name, name, name, width))
	}
	x.page(f.Name)
	for i, c := range f.Columns {
		as := headStyle
		as.right = c.Kind == Number || c.Kind == Whole
		x.cell(f.Name, i+1, 1, Text(c.Name), as)
	}
	for i, row := range f.Rows {
		for k, c := range row {
			as := c.style()
			as.boxed = true
			if c.number == nil {
				as.indent = 1
			}
			if open[[2]int{i, k}] {
				as.open, as.fill = true, doc.Palette["band"].Light
			}
			x.cell(f.Name, k+1, i+2, c, as)
		}
	}
	for _, in := range f.Inputs {
		x.input(f, in)
	}
	x.check(x.SetPanes(f.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	x.check(x.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: f.Name, RefersTo: "'" + f.Name + "'!$1:$1"}))
	x.check(x.ProtectSheet(f.Name, &excelize.SheetProtectionOptions{SelectLockedCells: true, SelectUnlockedCells: true,
		FormatColumns: true, FormatRows: true, FormatCells: true}))
}

// cell writes a cell; column and row count from 1.
func (x *workbook) cell(sheet string, column, row int, c Cell, as style) {
	at, err := excelize.CoordinatesToCellName(column, row)
	x.check(err)
	switch {
	case c.number != nil:
		x.check(x.SetCellFloat(sheet, at, *c.number, -1, 64))
	case c.text != "":
		x.check(x.SetCellStr(sheet, at, c.text))
	}
	x.check(x.SetCellStyle(sheet, at, at, x.style(as)))
}

// input says what belongs into the cells of an input.
func (x *workbook) input(f Form, in Input) {
	cells := f.cellsOf(in)
	if cells == "" {
		return
	}
	v := excelize.NewDataValidation(true)
	v.Sqref = cells
	v.SetInput(in.Title, in.Help)
	switch {
	case in.Choices != nil:
		x.check(v.SetDropList(in.Choices))
		if in.Free {
			v.ShowErrorMessage = false
		} else {
			v.SetError(excelize.DataValidationErrorStyleStop, in.Title, "Pick one of: "+strings.Join(in.Choices, ", ")+".")
		}
	case in.Usual != nil:
		x.check(v.SetRange(in.Usual[0], in.Usual[1], excelize.DataValidationTypeDecimal, excelize.DataValidationOperatorBetween))
		v.SetError(excelize.DataValidationErrorStyleWarning, in.Title, fmt.Sprintf("Far from the runs until now (%s to %s). Is it meant?",
			strconv.FormatFloat(in.Usual[0], 'g', 4, 64), strconv.FormatFloat(in.Usual[1], 'g', 4, 64)))
	case in.Number && in.Above != nil:
		x.check(v.SetRange(*in.Above, *in.Above, excelize.DataValidationTypeDecimal, excelize.DataValidationOperatorGreaterThan))
		v.SetError(excelize.DataValidationErrorStyleStop, in.Title, fmt.Sprintf("A number above %v is expected here.", *in.Above))
	case in.Number:
		const most = 1e30
		x.check(v.SetRange(-most, most, excelize.DataValidationTypeDecimal, excelize.DataValidationOperatorBetween))
		v.SetError(excelize.DataValidationErrorStyleStop, in.Title, "A number is expected here.")
	}
	x.check(x.AddDataValidation(f.Name, v))
}

// column is the place of an input's column; -1 where there is none of that name.
func (f Form) column(in Input) int {
	return slices.IndexFunc(f.Columns, func(c Column) bool { return c.Name == in.Column })
}

// rows are the rows of an input.
func (f Form) rows(in Input) []int {
	if in.Rows != nil {
		return in.Rows
	}
	all := make([]int, len(f.Rows))
	for i := range all {
		all[i] = i
	}
	return all
}

// cellsOf are the cells of an input as ranges, such as "I2:I5 I8:I8".
func (f Form) cellsOf(in Input) string {
	column, _ := excelize.ColumnNumberToName(f.column(in) + 1)
	rows := f.rows(in)
	var out []string
	for i := 0; i < len(rows); {
		last := i
		for last+1 < len(rows) && rows[last+1] == rows[last]+1 {
			last++
		}
		out = append(out, fmt.Sprintf("%s%d:%s%d", column, rows[i]+2, column, rows[last]+2))
		i = last + 1
	}
	return strings.Join(out, " ")
}
