package intake

import (
	"bytes"
	"errors"
	"io"
	"iter"
	"maps"
	"slices"

	"tunegate/compare"
)

// growing reads a file of runs that grows from commit to commit. Its reader is kept
// where the file ended, and goes on with the bytes behind those that it has read, so that
// every line of a file that is only added to is read once, however many commits there are.
//
// A reader takes bytes in order and knows no later ones, so what it has handed on by
// then is what reading the longer file anew begins with. What differs is the end of the
// file: couldEnd says whether nothing would be found wrong there. Where it does not, the
// commit's file is read as a whole.
type growing struct {
	seen    []byte        // what the reader was fed; ends with a line
	rows    *compare.Rows // what it handed on
	words   Words         // what words meant then
	turn    int           // the commit at which it was fed last
	sink    *sink
	source  *source
	feed    []byte // not taken yet
	waits   func(struct{}) bool
	stopped bool // the reader was told to end
	ended   bool // the reader has returned
	resume  func() (struct{}, bool)
	stop    func()
}

const (
	// minGrowing is the least size of a file whose reader is kept: below, the first
	// look at its separators is not over.
	minGrowing = chunkSize / 2
	// maxGrowing and maxGrowings bound what the kept bytes take.
	maxGrowing  = 32 << 20
	maxGrowings = 8
)

var errReaderStopped = errors.New("the reader was stopped")

// Read hands the reader what it is fed; where that is used up it waits for more.
func (g *growing) Read(buf []byte) (int, error) {
	for len(g.feed) == 0 {
		if g.stopped = g.stopped || !g.waits(struct{}{}); g.stopped {
			return 0, errReaderStopped
		}
	}
	n := copy(buf, g.feed)
	g.feed = g.feed[n:]
	return n, nil
}

// startGrowing begins to read a file of a profile's runs; it takes nothing before it is
// fed.
func (p *past) startGrowing(file *resultFile, profile string) *growing {
	g := &growing{words: maps.Clone(p.words)}
	name := placeOf(file.path).File
	g.source = newSource(g)
	g.sink = newSink(p.names, &options{words: g.words}, p.addTo(func() *compare.Rows { return p.rows }, profile))
	g.resume, g.stop = iter.Pull(func(yield func(struct{}) bool) {
		g.waits = yield
		if !g.source.isPacked() {
			g.sink.readText(newText(g.source, name)) // an error ends it, and reading the file as a whole says which
		}
		g.ended = true
	})
	return g
}

// follows reports whether a file begins with what the reader has read, by the words it
// was read by.
func (g *growing) follows(data []byte, words Words) bool {
	return !g.ended && bytes.HasPrefix(data, g.seen) && maps.Equal(g.words, words)
}

// couldEnd reports whether the file could end with what was fed: all of it is read,
// as it stands, and nothing would be found wrong.
func (g *growing) couldEnd() bool {
	taken := !g.ended && len(g.feed) == 0 && g.source.encoding == "" && g.source.in.Buffered() == 0
	return taken && g.sink.couldEnd != nil && g.sink.couldEnd()
}

// valuesOfChanged reads a file of a profile's runs that stood there in another form at the
// commit before.
func (p *past) valuesOfChanged(file *resultFile, profile string) (*compare.Rows, error) {
	data := bytes.NewBuffer(p.buffer[:0])
	whole := true
	err := p.read(file, func(r io.Reader) error {
		n, err := io.Copy(data, io.LimitReader(r, maxGrowing+1))
		whole = n <= maxGrowing
		return err
	})
	if err != nil {
		return nil, err
	}
	if !whole { // it is read once more, since it is not held
		return p.valuesOfFile(file, profile)
	}
	p.buffer = data.Bytes()
	return p.valuesIn(p.buffer, file, profile)
}

// valuesIn is valuesOfChanged for what the file holds.
func (p *past) valuesIn(data []byte, file *resultFile, profile string) (*compare.Rows, error) {
	if values, good := p.grown(file, profile, data); good {
		return values, nil
	}
	from := p.rows.Len()
	err := p.readValues(bytes.NewReader(data), p.rows, file, profile, p.words)
	return p.rows.Tail(from), err
}

// grown reads what was added to a file; good is false where that does not give what the
// file holds.
func (p *past) grown(file *resultFile, profile string, data []byte) (values *compare.Rows, good bool) {
	g := p.growing[file.path]
	if g != nil && !g.follows(data, p.words) {
		p.drop(file.path)
		g = nil
	}
	if len(data) < minGrowing || data[len(data)-1] != '\n' {
		return nil, false
	}
	if g == nil {
		if len(p.growing) >= maxGrowings {
			p.drop(slices.MinFunc(slices.Collect(maps.Keys(p.growing)), func(a, b string) int { return p.growing[a].turn - p.growing[b].turn }))
		}
		g = p.startGrowing(file, profile)
		p.growing[file.path] = g
	}
	g.turn = p.turns
	from := p.rows.Len()
	g.feed = data[len(g.seen):]
	g.resume()
	g.seen = append(g.seen, data[len(g.seen):]...)
	g.rows = compare.JoinRows(g.rows, p.rows.Tail(from))
	return g.rows, g.couldEnd()
}

// drop ends the reader of a file.
func (p *past) drop(path string) {
	p.growing[path].stop()
	delete(p.growing, path)
}

func (p *past) dropAll() {
	for path := range p.growing {
		p.drop(path)
	}
}

// forget drops the readers of files that are no longer there, and moves the rows that are
// still there into a list of their own where most are not: a history in which files are
// rewritten holds what one commit has, not what all had.
func (p *past) forget(parsed map[resultFile]*compare.Rows) {
	there := map[string]bool{}
	live := 0
	for file, rows := range parsed {
		there[file.path] = true
		live += rows.Len()
	}
	for path, g := range p.growing {
		if !there[path] {
			p.drop(path)
			continue
		}
		live += g.rows.Len()
	}
	if p.rows.Len() < 2*live+leastForgotten {
		return
	}
	into := p.rows.Alike()
	moved := map[*compare.Rows]*compare.Rows{}
	move := func(rows *compare.Rows) *compare.Rows {
		if _, known := moved[rows]; !known {
			moved[rows] = rows.AppendTo(into)
		}
		return moved[rows]
	}
	for file, rows := range parsed {
		parsed[file] = move(rows)
	}
	for _, g := range p.growing {
		g.rows = move(g.rows)
	}
	p.rows = into
}

// leastForgotten is how many rows that are gone are not worth a copy of the others.
const leastForgotten = 20_000
