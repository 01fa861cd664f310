package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// parts are the least that a workbook of one sheet is made of.
func parts(sheet string) map[string]string {
	return map[string]string{
		"_rels/.rels": `<Relationships><Relationship Id="r1" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml": `<workbook xmlns:r="r"><sheets><sheet name="runs" sheetId="1" r:id="r1"/>` +
			`<sheet name="old" sheetId="2" state="hidden" r:id="r1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r1" Type="x/worksheet" Target="worksheets/sheet1.xml"/>` +
			`<Relationship Id="r2" Type="x/sharedStrings" Target="/xl/sharedStrings.xml"/>` +
			`<Relationship Id="r3" Type="x/styles" Target="styles.xml"/></Relationships>`,
		"xl/sharedStrings.xml": `<sst><si><t>benchmark</t></si><si><r><t>tile</t></r><r><t xml:space="preserve">-render </t></r>` +
			`<rPh><t>hint</t></rPh></si></sst>`,
		"xl/styles.xml": `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="0.0&quot; s&quot;"/>` +
			`<numFmt numFmtId="165" formatCode="[h]:mm:ss.0"/></numFmts><cellStyleXfs><xf numFmtId="9"/></cellStyleXfs>` +
			`<cellXfs><xf numFmtId="0"/><xf numFmtId="164"/><xf numFmtId="165"/><xf numFmtId="10"/><xf numFmtId="14"/><xf numFmtId="22"/>` +
			`</cellXfs>` +
			`</styleSheet>`,
		"xl/worksheets/sheet1.xml": `<worksheet><cols><col min="2" max="3" hidden="1"/></cols><sheetData>` + sheet + `</sheetData></worksheet>`,
	}
}

func pack(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range parts {
		w, err := z.Create(name)
		if err == nil {
			_, err = io.WriteString(w, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// readAll reads the first sheet: a line a row, with each cell's kind, text and suffix.
func readAll(data []byte) ([]string, error) {
	book, err := Open(data)
	if err != nil {
		return nil, err
	}
	rows, err := book.Rows(book.Sheets[0])
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for {
		row, err := rows.Next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		line := fmt.Sprint(row.Number)
		if row.Hidden {
			line += " hidden"
		}
		for _, c := range row.Cells {
			line += fmt.Sprintf(" %d:%s", c.Kind, c.Text)
			if c.Suffix != "" {
				line += "+" + c.Suffix
			}
		}
		out = append(out, line)
	}
}

func TestCells(t *testing.T) {
	got, err := readAll(pack(t, parts(`<row r="2"><c r="A2" t="s"><v>0</v></c><c r="C2" t="s"><v>1</v></c></row>`+
		`<row r="4" hidden="1"><c><v>412.40000000000003</v></c><c s="1"><v>412.4</v></c><c s="2"><v>0.004773148148148148</v></c>`+
		`<c s="3"><v>0.021</v></c><c s="4"><v>46328</v></c><c s="5"><v>46328.375</v></c></row>`+
		`<row><c t="inlineStr"><is><t>in</t><t>line</t></is></c><c t="b"><v>1</v></c><c t="b"><v>0</v></c><c t="e"><v>#DIV/0!</v></c>`+
		`<c><f>1+1</f></c><c t="str"><f>A1</f><v>made</v></c><c><f>1+1</f><v>2</v></c><c t="d"><v>2026-11-02T09:00:00Z</v></c></row>`)))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"2 1:benchmark 0: 1:tile-render ",
		// 46328 is 2 November 2026 in LibreOffice 7.4 (run).
		"4 hidden 2:412.4 2:412.4+s 4:6:52.4 3:2.1 % 5:2026-11-02 5:2026-11-02T09:00:00",
		"5 1:inline 6:yes 7:no 8:#DIV/0! 9: 1:made 2:2 5:2026-11-02T09:00:00"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
}

func TestFormats(t *testing.T) {
	for code, want := range map[string]format{
		"General": {}, "Standard": {}, "0.00": {}, "#,##0": {}, "@": {}, "0.00E+00": {},
		"0%": {shown: percent}, "0.0%;[Red]-0.0%": {shown: percent},
		"DD.MM.YYYY": {shown: dateOnly}, "yyyy\\-mm\\-dd hh:mm": {shown: dateTime}, "[$-409]d-mmm": {shown: dateOnly},
		"[h]:mm:ss": {shown: duration}, "mm:ss.0": {shown: duration}, "[mm]:ss": {shown: duration}, "h:mm AM/PM": {shown: duration},
		`0.0" s"`: {suffix: "s"}, `0.0\ "MB/s"`: {suffix: "MB/s"},
		`0.0" s";-0.0" x"`: {suffix: "s"}, `"about "0`: {}, `[Red]0.0 "dB"`: {suffix: "dB"},
		`0" days"`: {suffix: "days"}, `"open`: {}, `[open`: {},
	} {
		if got := formatOf(code); got != want {
			t.Errorf("formatOf(%q) = %+v, want %+v", code, got, want)
		}
	}
}

func TestDamagedBooks(t *testing.T) {
	many := strings.Repeat(`<c><v>1</v></c>`, MaxColumns+1)
	for _, c := range []struct {
		name  string
		sheet string
		other map[string]string
		want  string
	}{
		{"wrong shared text", `<row><c t="s"><v>7</v></c></row>`, nil, `has a cell in row 1 with the shared text "7", and there are 2`},
		{"shared text below zero", `<row><c t="s"><v>-1</v></c></row>`, nil, `the shared text "-1"`},
		{"no number", `<row><c><v>4x</v></c></row>`, nil, `with the number "4x"`},
		{"infinite", `<row><c><v>1e999</v></c></row>`, nil, `with the number "1e999"`},
		{"too many columns", `<row>` + many + `</row>`, nil, "has more than 16384 columns"},
		{"a column far out", `<row><c r="ZZZZZ1"><v>1</v></c></row>`, nil, `has a cell named "ZZZZZ1" in row 1`},
		{"columns backwards", `<row><c r="C1"><v>1</v></c><c r="A1"><v>1</v></c></row>`, nil, `has a cell named "A1"`},
		{"rows backwards", `<row r="5"/><row r="4"/>`, nil, `has a row numbered "4" behind row 5`},
		{"a row far out", `<row r="99999999"/>`, nil, `has a row numbered "99999999"`},
		{"cut", `<row><c>`, map[string]string{"xl/worksheets/sheet1.xml": `<worksheet><sheetData><row><c>`}, "breaks off"},
		{"no end", ``, map[string]string{"xl/worksheets/sheet1.xml": `<worksheet><sheetData>`}, "breaks off"},
		{"no XML", ``, map[string]string{"xl/worksheets/sheet1.xml": `<<<`}, "XML syntax error"},
		{"no sheet", ``, map[string]string{"xl/workbook.xml": `<workbook/>`}, "it has no sheet"},
		{"no part", ``, map[string]string{"xl/_rels/workbook.xml.rels": `<Relationships/>`}, `its part "" is missing`},
		{"a document", ``, map[string]string{"word/document.xml": ``}, "this is a text document"},
		{"another form", ``, map[string]string{"content.xml": ``}, "this is an OpenDocument file; save it as .xlsx"},
		{"a binary one", ``, map[string]string{"xl/workbook.bin": ``}, "this is a binary workbook (.xlsb)"},
	} {
		p := parts(c.sheet)
		for name, text := range c.other {
			p[name] = text
		}
		_, err := readAll(pack(t, p))
		var format *FormatError
		if !errors.As(err, &format) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := readAll([]byte("PK\x03\x04 and nothing behind")); err == nil || !strings.Contains(err.Error(), "the workbook is damaged") {
		t.Errorf("no archive: %v", err)
	}
	if _, err := readAll(pack(t, map[string]string{"a.txt": "x"})); err == nil || !strings.Contains(err.Error(), "no workbook; unpack it") {
		t.Errorf("another archive: %v", err)
	}
}

// What unpacks to gigabytes takes neither the memory nor the time for them.
func TestBombs(t *testing.T) {
	long := strings.Repeat("x", 1<<20)
	p := parts("")
	p["xl/sharedStrings.xml"] = "<sst>" + strings.Repeat("<si><t>"+long+"</t></si>", 50) + "</sst>"
	shared := pack(t, p)
	p = parts(`<row><c t="inlineStr"><is><t>` + strings.Repeat(long, 3) + `</t></is></c></row>`)
	cell := pack(t, p)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for _, data := range [][]byte{shared, cell} {
		if _, err := readAll(data); err == nil || !strings.Contains(err.Error(), "the workbook is damaged") {
			t.Error(err)
		}
	}
	runtime.ReadMemStats(&after)
	if took := int(after.HeapSys-before.HeapSys) >> 20; took > 200 {
		t.Errorf("took %d MB", took)
	}
}

func FuzzBook(f *testing.F) {
	files, err := filepath.Glob("../../../../fixtures/sheets/*.xlsx")
	if err != nil || len(files) == 0 {
		f.Fatal("no workbooks to begin with", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		_, err := readAll(data)
		var format *FormatError
		if err != nil && !errors.As(err, &format) {
			t.Errorf("%T: %v", err, err)
		}
	})
}

// The parts of a workbook, whatever they hold: fuzzing a packed file mostly breaks
// the packing.
func FuzzParts(f *testing.F) {
	p := parts(`<row r="2"><c r="A2" t="s"><v>0</v></c><c s="2"><v>0.5</v></c></row>`)
	f.Add(p["xl/worksheets/sheet1.xml"], p["xl/sharedStrings.xml"], p["xl/styles.xml"], p["xl/workbook.xml"])
	f.Fuzz(func(t *testing.T, sheet, shared, styles, book string) {
		p := parts("")
		p["xl/worksheets/sheet1.xml"], p["xl/sharedStrings.xml"], p["xl/styles.xml"], p["xl/workbook.xml"] = sheet, shared, styles, book
		_, err := readAll(pack(t, p))
		var format *FormatError
		if err != nil && !errors.As(err, &format) {
			t.Errorf("%T: %v", err, err)
		}
	})
}

// What a workbook makes the reader hold at once is bounded, whatever it holds between
// the cells.
func TestLongTokens(t *testing.T) {
	long := strings.Repeat(" ", 3*maxToken)
	for _, sheet := range []string{"<row>" + long + "</row>", "<!--" + long + "--><row></row>",
		"<row a=\"" + long + "\"></row>", "<row " + long + "></row>"} {
		_, err := readAll(pack(t, parts(sheet)))
		if err == nil || !strings.Contains(err.Error(), "one element or text of it is longer than is taken") {
			t.Errorf("%.10s...: %v", sheet, err)
		}
	}
}

func TestMerges(t *testing.T) {
	files := parts("")
	for name, content := range files {
		files[name] = strings.Replace(content, "</sheetData>", `</sheetData><mergeCells><mergeCell ref="A2:B4"/><mergeCell ref="A6:A7"/>`+
			`<mergeCell ref="C1:D1"/><mergeCell ref="A9"/><mergeCell ref="9:A"/><mergeCell ref="B9:A10"/></mergeCells>`, 1)
	}
	book, err := Open(pack(t, files))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := book.Rows(book.Sheets[0])
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	m := rows.Merges()
	for row := 1; row <= 11; row++ {
		for column := 1; column <= 4; column++ {
			want := column <= 2 && (row == 3 || row == 4) || column == 1 && row == 7
			if got := m.Joined(row, column); got != want {
				t.Errorf("row %d, column %d: %v, want %v", row, column, got, want)
			}
		}
	}
}
