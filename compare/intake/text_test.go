package intake

import (
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

func TestEncoding(t *testing.T) {
	const (
		zero = `: found a zero byte, so this is UTF-16 or no text at all, expected UTF-8; save the file as "CSV UTF-8"`
		not  = ` is no UTF-8; save the file as "CSV UTF-8"`
	)
	runCases(t, []readCase{
		{name: "byte-order mark", in: "\xEF\xBB\xBFbenchmark,value\na,1\n", values: []string{"2:3 a=1"}},
		{name: "byte-order mark alone", in: "\xEF\xBB\xBF", err: "runs.csv: the file is empty, expected " + wantHeader},
		{name: "lone carriage returns", in: "benchmark,value\ra,1\r\rb,2\r", values: []string{"2:3 a=1", "4:3 b=2"}},
		{name: "carriage returns and line feeds", in: "benchmark,value\r\na,1\r\nb,2\r\n", values: []string{"2:3 a=1", "3:3 b=2"}},
		{name: "UTF-16 without mark", in: "b\x00e\x00n\x00", err: "runs.csv:1:2" + zero},
		{name: "zero byte further down", in: "benchmark,value\na,1\né\x00,2\n", values: []string{"2:3 a=1"}, err: "runs.csv:3:2" + zero},
		{name: "Windows-1252 behind UTF-8", in: "benchmark,unit,value\né,s,1\na,\xB0C,41\n", values: []string{"2:5 é=1 s"},
			err: "runs.csv:3:3: byte 0xB0" + not},
		{name: "no character of a code page", in: "a\x81,b\n", err: "runs.csv:1:2: byte 0x81" + not},
		{name: "character cut at the end", in: "benchmark,value\na,1\n\xE2\x82", values: []string{"2:3 a=1"},
			err: "runs.csv:3:1: byte 0xE2" + not},
		{name: "old workbook", in: "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1",
			err: "runs.csv:1:1: this is a workbook in the old binary form (.xls), or one with a password; save it as .xlsx without one"},
	})
}

// Chunks end anywhere: inside a character, between CR and LF.
func TestTextAcrossChunks(t *testing.T) {
	for _, unit := range []string{"é\r\n", "猫\r", "x𝄞\n", "\r\r\n"} {
		in := strings.Repeat(unit, 3*chunkSize/len(unit))
		want := strings.ReplaceAll(strings.ReplaceAll(in, "\r\n", "\n"), "\r", "\n")
		for shift := range 5 {
			pad := strings.Repeat("p", shift)
			src := newText(strings.NewReader(pad+in), "runs.csv")
			src.budget = len(in) + 2*chunkSize
			got, err := io.ReadAll(src)
			if err != nil {
				t.Fatalf("%q: %v", unit, err)
			}
			if s := strings.ReplaceAll(string(got), "\r\n", "\n"); s != pad+want {
				t.Errorf("%q, shifted by %d: text changed", unit, shift)
			}
		}
		src := newText(iotest.HalfReader(strings.NewReader(in+"\x80")), "runs.csv")
		src.budget = len(in) + 2*chunkSize
		_, err := io.ReadAll(src)
		wantAt := compare.Place{File: "runs.csv", Line: 1 + strings.Count(want, "\n"), Column: 1}
		if err == nil || !strings.HasPrefix(err.Error(), wantAt.String()+": byte 0x80") {
			t.Errorf("%q: %v, want it at %v", unit, err, wantAt)
		}
	}
}

func TestQuotes(t *testing.T) {
	never := func(line string) string {
		return "runs.csv:" + line + ": the quote that opens on this line is never closed; close it, or delete it"
	}
	goesOn := func(open, line, col string) string {
		return "runs.csv:" + open + ": the quote that opens on this line closes at line " + line + ", column " + col +
			", where a separator or a line end should follow; close the cell there, or double a quote that belongs to it"
	}
	long := "benchmark,value,reason\na,1,\nb,2,\"" + strings.Repeat("word\n", maxLine/5) + "\"\n"
	runCases(t, []readCase{
		{name: "never closed", in: "benchmark,value\na,1\nb,\"2\nc,3\n", values: []string{"2:3 a=1"}, err: never("3")},
		{name: "never closed, no line end", in: "benchmark,value\na,1\nb,\"2\nc,3", values: []string{"2:3 a=1"}, err: never("3")},
		{name: "never closed, first cell", in: "benchmark,value\n\n\"b,2\nc,3\n", err: never("3")},
		{name: "never closed, behind a cell of two lines", in: "sep=,\nreason,benchmark,value\n\"x\ny\",\"b,2\nc,3\n", err: never("4")},
		{name: "never closed, header", in: "benchmark,\"value\na,1\n", err: never("1")},
		{name: "goes on", in: "benchmark,value\né,\"1\"x\nb,2\n", err: goesOn("2", "2", "5")},
		{name: "goes on at the end", in: "benchmark,value\na,\"1\"x", err: goesOn("2", "2", "5")},
		{name: "closed by the next quote", in: "benchmark,value\n\"a,1\n\"b\",2\n", err: goesOn("2", "3", "1")},
		{name: "inside a cell", in: "benchmark,value\né 5\" fan,1\n",
			err: `runs.csv:2:5: found a quote inside a cell that does not begin with one; put the cell in quotes and double the quote, as ` +
				`in "5"" fan"`},
		{name: "row over the limit", in: long, values: []string{"2:3 a=1"},
			err: "runs.csv:3: what begins on this line is one row of more than 1048576 bytes; is a quote here not closed?"},
		{name: "never closed, far over the limit", in: strings.TrimSuffix(long, "\"\n") + strings.Repeat("word\n", maxLine),
			values: []string{"2:3 a=1"}, err: "runs.csv:3: what begins on this line is one row of more than 1048576 bytes; is a quote " +
				"here not closed?"},
		{name: "never closed, far over the limit, first cell", in: "benchmark,value\n\"" + strings.Repeat("word\n", maxLine),
			err: "runs.csv:2: what begins on this line is one row of more than 1048576 bytes; is a quote here not closed?"},
		{name: "line over the limit", in: "benchmark,value\na,1\n\"" + strings.Repeat("x", maxLine) + "\",1\n", values: []string{"2:3 a=1"},
			err: "runs.csv:3: this line is longer than 1048576 bytes; a file of runs has one row a line"},
		{name: "line at the limit", in: "benchmark,value,reason\na,1," + strings.Repeat("x", maxLine-4) + "\n", values: []string{"2:3 a=1"}},
	})
}

// Whatever comes, a reader holds little of it.
func TestMemoryIsBounded(t *testing.T) {
	comparetest.FullTier(t, "reads 64 MiB")
	for _, c := range []struct{ head, repeated string }{
		{"benchmark,value\n\"", "word\n"},
		{"benchmark,value\n", "x"},
		{"{\"benchmark\":\"", "word"},
	} {
		const size = 64 << 20
		r := &counting{r: io.LimitReader(io.MultiReader(strings.NewReader(c.head), &repeating{text: c.repeated}), size)}
		if _, err := Read(r, "runs.csv", func(compare.Value) error { return nil }); err == nil {
			t.Errorf("%q for ever is no error", c.repeated)
		}
		if r.n > 3*maxLine {
			t.Errorf("%q: read %d bytes before giving up", c.repeated, r.n)
		}
	}
}

type counting struct {
	r io.Reader
	n int
}

func (c *counting) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += n
	return n, err
}

// repeating gives its text for ever.
type repeating struct {
	text string
	at   int
}

func (r *repeating) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = r.text[r.at]
		r.at = (r.at + 1) % len(r.text)
	}
	return len(p), nil
}

// A byte-order mark is skipped, also as shells spoil it. The bytes EF BB BF stand for
// these characters in the code pages 437, 850 and 1252 (iconv -f CP437 and so on).
func TestByteOrderMarkIsSkipped(t *testing.T) {
	for _, mark := range []string{"", "\uFEFF", "∩╗┐", "´╗┐", "ï»¿", "???"} {
		var names []string
		_, err := Read(strings.NewReader(mark+"benchmark,unit,value\ntile-render,s,412\n"), "runs.csv", func(v compare.Value) error {
			names = append(names, v.Benchmark)
			return nil
		})
		if err != nil || len(names) != 1 || names[0] != "tile-render" {
			t.Errorf("%q: %v, %v", mark, names, err)
		}
	}
}
