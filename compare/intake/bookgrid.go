package intake

import (
	"errors"
	"strings"

	"tunegate/compare"
	"tunegate/compare/intake/internal/workbook"
)

// bookGrid reads the rows of a sheet of a workbook.
type bookGrid struct {
	file, sheet string
	rows        *workbook.Rows
	number      int // of the row in hand
	hidden      int // hidden rows that hold something
	cells       []string
	typed       []workbook.Cell
	merges      *workbook.Merges // nil until they are needed
}

// joined looks through the sheet for merged cells where it is asked first.
func (g *bookGrid) joined(at compare.Place) bool {
	if g.merges == nil {
		g.merges = g.rows.Merges()
	}
	return g.merges.Joined(at.Line, at.Column)
}

func (g *bookGrid) separator() byte { return 0 }

func (g *bookGrid) next() (gridRow, error) {
	before := g.number
	for {
		row, err := g.rows.Next()
		if err != nil {
			return gridRow{}, g.explain(err)
		}
		g.cells, g.typed = g.cells[:0], row.Cells
		blank := true
		for _, c := range row.Cells {
			g.cells = append(g.cells, c.Text)
			blank = blank && (c.Kind == workbook.Empty || c.Kind == workbook.Text && strings.TrimSpace(c.Text) == "")
		}
		if blank {
			continue
		}
		if row.Hidden {
			g.hidden++
		}
		g.number = row.Number
		return gridRow{cells: g.cells, typed: g.typed, lines: 1, afterBlank: before > 0 && row.Number > before+1}, nil
	}
}

func (g *bookGrid) place(i int) compare.Place {
	return compare.Place{File: g.file, Sheet: g.sheet, Line: g.number, Column: i + 1}
}

// explain gives an error of a workbook its place.
func (g *bookGrid) explain(err error) error {
	var broken *workbook.FormatError
	if errors.As(err, &broken) {
		return placed(compare.Place{File: g.file, Sheet: g.sheet}, "%v", err)
	}
	return err
}
