package intake

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"
	textunicode "golang.org/x/text/encoding/unicode"
	"pgregory.net/rapid"

	"tunegate/compare"
	"tunegate/compare/history"
)

// testPast is a past that reads what it is given instead of a repository.
func testPast() *past {
	return &past{loader: &loader{names: lenientNames(), words: Words{}, rows: &compare.Rows{}}, growing: map[string]*growing{}}
}

// someFile makes the header and the rows of a file of runs in one of the forms.
type someFile struct {
	head string
	row  func(g *rand.Rand, i int) string
}

func someFiles() map[string]someFile {
	number := func(g *rand.Rand) string { return fmt.Sprintf("%.3f", 400+g.NormFloat64()) }
	return map[string]someFile{
		"long": {"benchmark,metric,unit,session,run,value,valid,reason", func(g *rand.Rand, i int) string {
			valid := "yes,"
			if g.IntN(40) == 0 {
				valid = "no,\"the fan, it\nstopped\""
			}
			return fmt.Sprintf("tile-render,,s,s%d,%d,%s,%s", i/5, i, number(g), valid)
		}},
		"long with a column of its own": {"benchmark,unit,variant,value", func(g *rand.Rand, i int) string {
			variant := "wide"
			if i > 2710 && g.IntN(4) == 0 { // an error from then on
				variant = "narrow"
			}
			return fmt.Sprintf("mesh-solve,s,%s,%s", variant, number(g))
		}},
		"wide": {"session,tile-render [s],mesh-solve [s],tile-render power [W],remark,ray-preview: frames", func(g *rand.Rand, i int) string {
			late := ""
			if i > 1700 {
				late = number(g)
			}
			return fmt.Sprintf("s%d,%s,%s,%s,%s,%s", i/4, number(g), []string{number(g), ""}[g.IntN(30)/29], number(g),
				[]string{"", "warm", "door open"}[g.IntN(3)], late)
		}},
		"wide with decimal commas": {"run;tile-render [s];mesh-solve [s]", func(g *rand.Rand, i int) string {
			return strings.ReplaceAll(fmt.Sprintf("%d;%s;%.2f", i+1, number(g), 200+g.NormFloat64()), ".", ",")
		}},
		"benchmarks down": {"benchmark,unit,Run 1,Run 2,Run 3", func(g *rand.Rand, i int) string {
			return fmt.Sprintf("scene-%03d,s,%s,%s,%s", i%200, number(g), number(g), number(g))
		}},
		"JSON lines": {`{"benchmark":"tile-render","unit":"s","value":412.3}`, func(g *rand.Rand, i int) string {
			return fmt.Sprintf(`{"benchmark":"tile-render","unit":"s","session":"s%d","value":%s}`, i/6, number(g))
		}},
		"times": {"session,machine,tile-render", func(g *rand.Rand, i int) string {
			return fmt.Sprintf("session %d of heron,heron,%d:%02d", i/5, 6+g.IntN(2), g.IntN(60))
		}},
	}
}

// edited is a file after something happened to it, as people and programs edit; kept
// is what it goes on with, without what only a mistake brought.
func edited(t *rapid.T, g *rand.Rand, f someFile, old []string) (lines, kept []string) {
	lines = slices.Clone(old)
	at := func() int { return 1 + g.IntN(max(1, len(lines)-1)) }
	kind := rapid.SampledFrom([]string{"grown", "grown", "grown", "grown", "an old row edited", "rows deleted", "two rows swapped", "cut off",
		"a blank line", "a mean below", "the header again", "a row that cannot be read", "a row too long", "a metric more",
		"an odd name", "a remark"}).
		Draw(t, "edit")
	switch kind {
	case "grown":
		for range 1 + g.IntN(60) {
			lines = append(lines, f.row(g, len(lines)))
		}
	case "an old row edited":
		lines[min(at(), len(lines)-1)] = f.row(g, len(lines))
	case "rows deleted":
		from := len(lines) - 1 - g.IntN(len(lines)/2)
		lines = slices.Delete(lines, from, from+1+g.IntN(len(lines)-from))
	case "two rows swapped":
		a, b := min(at(), len(lines)-1), min(at(), len(lines)-1)
		lines[a], lines[b] = lines[b], lines[a]
	case "cut off":
		lines[len(lines)-1] = lines[len(lines)-1][:len(lines[len(lines)-1])/2]
	case "a blank line":
		lines = append(lines, "")
	case "a mean below":
		lines = append(lines, "mean"+strings.Repeat(",400", strings.Count(lines[0], ",")))
	case "the header again":
		lines = append(lines, lines[0])
	case "a row that cannot be read":
		lines = append(lines, `"never closed`)
	case "a row too long":
		lines = append(lines, f.row(g, 1)+",1,2;3")
	case "a metric more":
		lines[0] += ",scene-scrub [s]"
	case "an odd name":
		lines = append(lines, strings.Replace(strings.Replace(f.row(g, len(lines)), "tile", "TILE", 1), "s1", "Größe", 1))
	case "a remark":
		lines = append(lines, "measured with the door closed")
	}
	mistakes := []string{"cut off", "the header again", "a row that cannot be read", "a row too long", "a metric more"}
	if slices.Contains(mistakes, kind) {
		return lines, old
	}
	return lines, lines
}

func encodedAs(encoding, text string) []byte {
	var out []byte
	var err error
	switch encoding {
	case "UTF-8 with a mark":
		out = []byte("\uFEFF" + text)
	case "CR LF":
		out = []byte(strings.ReplaceAll(text, "\n", "\r\n"))
	case "CR":
		out = []byte(strings.ReplaceAll(text, "\n", "\r"))
	case "Windows-1252":
		out, err = charmap.Windows1252.NewEncoder().Bytes([]byte(text))
	case "UTF-16":
		out, err = textunicode.UTF16(textunicode.LittleEndian, textunicode.UseBOM).NewEncoder().Bytes([]byte(text))
	default:
		out = []byte(text)
	}
	if err != nil {
		return []byte(text)
	}
	return out
}

// What stands in a file is the same whether its reader went on or begins anew: values,
// places, spellings, and errors to the letter.
func TestGrowingIsReadingAnew(t *testing.T) {
	files := someFiles()
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(slices.Sorted(maps.Keys(files))).Draw(t, "file")
		f := files[name]
		g := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		encodings := []string{"UTF-8", "UTF-8", "UTF-8", "UTF-8 with a mark", "CR LF", "CR", "Windows-1252", "UTF-16"}
		encoding := rapid.SampledFrom(encodings).Draw(t, "encoding")
		lines := []string{f.head}
		for i := range rapid.SampledFrom([]int{30, 900, 1500, 2700}).Draw(t, "rows") {
			lines = append(lines, f.row(g, i))
		}
		goesOn := lines
		kept, anew := testPast(), testPast()
		defer kept.dropAll()
		file := &resultFile{path: "profiles/factory/runs/1.csv"}
		for range rapid.IntRange(2, 8).Draw(t, "commits") {
			end := "\n"
			if rapid.IntRange(0, 15).Draw(t, "end") == 0 {
				end = ""
			}
			if rapid.IntRange(0, 25).Draw(t, "other encoding") == 0 {
				encoding = rapid.SampledFrom([]string{"UTF-8", "CR LF", "UTF-16", "Windows-1252"}).Draw(t, "encoding")
			}
			data := encodedAs(encoding, strings.Join(lines, "\n")+end)
			kept.turns++
			got, gotErr := kept.valuesIn(data, file, "factory")
			anew.growing = map[string]*growing{}
			from := anew.rows.Len()
			wantErr := anew.readValues(strings.NewReader(string(data)), anew.rows, file, "factory", anew.words)
			want := anew.rows.Tail(from)
			if fmt.Sprint(gotErr) != fmt.Sprint(wantErr) {
				t.Fatalf("%s: error\n%v\nwant\n%v", name, gotErr, wantErr)
			}
			if wantErr == nil {
				if !slices.Equal(want.List(), got.List()) { // times are all in UTC, and nothing is reduced
					t.Fatalf("%s: -want +got\n%s", name, cmp.Diff(want.List(), got.List()))
				}
			}
			kept.forget(map[resultFile]*compare.Rows{*file: got})
			if rapid.IntRange(0, 30).Draw(t, "other words") == 0 {
				w := Words{"zeug": "session"}
				kept.words, anew.words = w, w
			}
			lines, goesOn = edited(t, g, f, goesOn)
		}
	})
}

// Every form of a file is read on from where it ended.
func TestGrowingGoesOn(t *testing.T) {
	for name, f := range someFiles() {
		g := rand.New(rand.NewPCG(3, 1))
		p := testPast()
		text := f.head + "\n"
		row := 0
		grow := func(rows int) (values int) {
			for range rows {
				text += f.row(g, row) + "\n"
				row++
			}
			before := p.taken
			if _, err := p.valuesIn([]byte(text), &resultFile{path: "profiles/factory/runs/1.csv"}, "factory"); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			return p.taken - before
		}
		whole := grow(2500)
		for range 3 {
			if added := grow(50); added*20 > whole {
				t.Errorf("%s: 2500 rows came to %d values, and 50 more to %d", name, whole, added)
			}
		}
		p.dropAll()
	}
}

// A history in which every commit adds to one file takes each row once, not once a
// commit, and holds few more than the last commit has.
func TestHistoryReadsWhatWasAdded(t *testing.T) {
	r := newGitRepo(t)
	r.write("profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
	const first, commits, added = 4000, 30, 20
	text := "benchmark,unit,session,value\n"
	total := 0
	grow := func(rows int) {
		for range rows {
			text += fmt.Sprintf("tile-render,s,s%d,%d.5\n", total/10, 400+total%7)
			total++
		}
		r.write("profiles/factory/runs/1.csv", text)
	}
	grow(first)
	r.commit("first")
	for k := range commits {
		grow(added)
		r.commit(fmt.Sprint("more ", k))
	}
	repository, err := OpenRepository(context.Background(), r.path(""))
	if err != nil {
		t.Fatal(err)
	}
	p, err := repository.past(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	_, err = p.history("factory", 1000, func(c history.Commit) error {
		if n := c.State.Profiles["factory"].Values.Len(); n != first+at*added {
			t.Errorf("commit %d has %d rows, want %d", at, n, first+at*added)
		}
		at++
		return nil
	})
	if err != nil || at != commits+1 {
		t.Fatal(at, err)
	}
	// The first commit as a whole, the second as a whole, to begin the reader, and then what
	// was added.
	if most := 2*first + (commits+1)*added; p.taken > most {
		t.Errorf("%d rows were read, want at most %d; each commit as a whole would be %d", p.taken, most, (commits+1)*first)
	}
	if most := 2*(first+commits*added) + leastForgotten; p.rows.Len() > most {
		t.Errorf("%d rows are held, want at most %d", p.rows.Len(), most)
	}
}

// Where every commit rewrites a file, what is gone is not held.
func TestHistoryForgetsWhatIsGone(t *testing.T) {
	p := testPast()
	defer p.dropAll()
	file := resultFile{path: "profiles/factory/runs/1.csv"}
	for k := range 40 {
		text := "benchmark,unit,value\n"
		for i := range 3000 {
			text += fmt.Sprintf("tile-render,s,%d.%d\n", 400+k, i)
		}
		values, err := p.valuesIn([]byte(text), &file, "factory")
		if err != nil || values.Len() != 3000 {
			t.Fatal(values.Len(), err)
		}
		parsed := map[resultFile]*compare.Rows{file: values}
		p.forget(parsed)
		if got := parsed[file].At(2999); got.Value != float64(400+k)+0.2999 && got.At.Line != 3001 {
			t.Errorf("the last row is %+v", got)
		}
	}
	if p.rows.Len() > leastForgotten+5*3000 {
		t.Errorf("%d rows are held of files with 3000", p.rows.Len())
	}
}
