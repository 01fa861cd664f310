package compare_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
	"tunegate/compare/internal/comparetest"
)

// Blocked and unblocked runs are never mixed: whichever can settle more is
// used, and the output says what was not.
func TestBlockedAndUnblockedAreNeverMixed(t *testing.T) {
	b := comparetest.InBlocks("s", "F", comparetest.OneEach(100, 200, 300, 400, 500, 600)...)
	a := comparetest.InBlocks("s", "B", comparetest.OneEach(101, 202, 303, 404, 505, 606)...)
	wild := func(letter string, n int) []compare.Value {
		var out []compare.Value
		for i := range n {
			out = append(out, comparetest.InSessions("s", letter, []float64{9000 + 7*float64(i)})...)
			out[i].Session = letter + string(rune('a'+i))
		}
		return out
	}
	alone := resultOf(t, b, a, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	for _, c := range []struct {
		name          string
		before, after []compare.Value
		wantBlocks    bool
		leftOut       compare.Note
	}{
		{"blocks alone", b, a, true, compare.Note{}},
		{"six blocks and two loose runs a side", slices.Concat(b, wild("x", 2)), slices.Concat(a, wild("y", 2)), true,
			compare.Note{Kind: compare.NoteOutsideBlocks, Replication: compare.ByBlock, Count: 4, Of: 16}},
		{"six blocks and four loose runs a side", slices.Concat(b, wild("x", 4)), slices.Concat(a, wild("y", 4)), false,
			compare.Note{Kind: compare.NoteBlocksOut, Replication: compare.BySession, Count: 12, Of: 20}},
		{"loose runs on one side", slices.Concat(b, wild("x", 9)), a, true,
			compare.Note{Kind: compare.NoteOutsideBlocks, Replication: compare.ByBlock, Count: 9, Of: 21}},
	} {
		r := resultOf(t, c.before, c.after, comparetest.DifferencesIn(compare.Higher), compare.Options{})
		leftOut := comparetest.NoteOf(r.Notes, compare.NoteOutsideBlocks)
		if leftOut.Kind == "" {
			leftOut = comparetest.NoteOf(r.Notes, compare.NoteBlocksOut)
		}
		if d := cmp.Diff(c.leftOut, leftOut); d != "" || (r.Replication == compare.ByBlock) != c.wantBlocks {
			t.Errorf("%s: by %s, %s", c.name, r.Replication, d)
		}
		if c.wantBlocks && (r.Change != alone.Change || r.Before.Median != alone.Before.Median) {
			t.Errorf("%s: change %v of medians %v", c.name, r.Change, r.Before.Median)
		}
		if !c.wantBlocks && r.Before.Min < 9000 {
			t.Errorf("%s: a blocked run counts among the loose ones: %+v", c.name, r.Before)
		}
	}
}

// A block that only one side has is none: it is left out where others are
// complete, and no comparison within blocks where none is.
func TestIncompleteBlocks(t *testing.T) {
	b := comparetest.InBlocks("s", "F", comparetest.OneEach(100, 200, 300, 400, 500, 600, 9000)...)
	a := comparetest.InBlocks("s", "B", comparetest.OneEach(101, 202, 303, 404, 505, 606)...)
	r := resultOf(t, b, a, comparetest.DifferencesIn(compare.Higher), compare.Options{})
	if r.Replicates != [2]int{6, 6} || r.Before.Max == 9000 || r.Change != 3.5 || r.Before.Sessions != 6 {
		t.Errorf("%v, change %v, %+v", r.Replicates, r.Change, r.Before)
	}
	if n := comparetest.NoteOf(r.Notes, compare.NoteOutsideBlocks); n.Count != 1 || n.Of != 13 {
		t.Errorf("notes %+v", r.Notes)
	}
	// A set-aside or missing run completes no block.
	gone := append([]compare.Value(nil), a...)
	gone[5].SetAside, gone[5].Reason = true, "crashed"
	if r := resultOf(t, b, gone, comparetest.DifferencesIn(compare.Higher), compare.Options{}); r.Replicates != [2]int{5, 5} {
		t.Errorf("%v", r.Replicates)
	}
	// No block with both sides: each counts once, as a session, labelled or not.
	for i := range a {
		a[i].Block = "after " + a[i].Block
	}
	for _, labelled := range []bool{true, false} {
		bb, aa := append([]compare.Value(nil), b...), append([]compare.Value(nil), a...)
		bb = append(bb, bb...) // a second run in each spell
		if !labelled {
			for i := range bb {
				bb[i].Session = ""
			}
			for i := range aa {
				aa[i].Session = ""
			}
		}
		r := resultOf(t, bb, aa, comparetest.DifferencesIn(compare.Higher), compare.Options{})
		if r.Test != "mann-whitney" || r.Replication != compare.BySession || r.Replicates != [2]int{7, 6} || r.Before.Runs != 14 {
			t.Errorf("labelled %v: %s by %s, %v of %d runs", labelled, r.Test, r.Replication, r.Replicates, r.Before.Runs)
		}
		if !comparetest.Kinds(r.Notes)[compare.NoteNoBlock] {
			t.Errorf("labelled %v: notes %v", labelled, r.Notes)
		}
	}
}

// label is what a row says of where its value was measured.
type label struct{ block, session string }

// labels makes them of words such as "b1/s1", "b1/", "/s1" and "/".
func labels(words string) []label {
	var out []label
	for _, w := range strings.Fields(words) {
		block, session, _ := strings.Cut(w, "/")
		out = append(out, label{block, session})
	}
	return out
}

// Which labels make which layout: of a metric, and of the suite of two scores with
// the same labels.
func TestLabelsChooseTheLayout(t *testing.T) {
	const (
		mw, st         = compare.TestMannWhitney, compare.TestStudent
		none           = compare.TestNone
		run, sess, blk = compare.ByRun, compare.BySession, compare.ByBlock
	)
	for _, c := range []struct {
		name          string
		before, after string
		test          string
		replication   compare.Replication
		replicates    [2]int
		suiteTest     string // empty: no suite
		pooling       compare.Pooling
	}{
		{"no labels", "/ / / /", "/ / / / /", mw, run, [2]int{4, 5}, none, compare.BySuitePass},
		{"five passes", "/ / / / /", "/ / / / / /", mw, run, [2]int{5, 6}, mw, compare.BySuitePass},
		{"sessions", "/a /a /b /c", "/d /e /e /f /f", mw, sess, [2]int{3, 3}, mw, compare.BySuiteSession},
		{"the same sessions on both sides are no blocks", "/a /b /c", "/a /b /c", mw, sess, [2]int{3, 3}, mw, compare.BySuiteSession},
		{"sessions on one side", "/a /a /b", "/ / /", mw, sess, [2]int{2, 3}, "", ""},
		{"sessions for some runs", "/a /a / /", "/b /b /c /d", mw, sess, [2]int{3, 3}, "", ""},
		{"blocks", "1/a 2/b 3/c", "1/d 2/e 3/f", st, blk, [2]int{3, 3}, st, compare.BySuiteBlock},
		{"six blocks", "1/ 2/ 3/ 4/ 5/ 6/", "1/ 2/ 3/ 4/ 5/ 6/", compare.TestSignedRank, blk, [2]int{6, 6}, compare.TestSignedRank,
			compare.BySuiteBlock},
		{"blocks of several runs of one session", "1/a 1/a 2/b", "1/d 1/d 2/e 2/e", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"blocks without sessions", "1/ 1/ 2/ 2/", "1/ 1/ 2/ 2/", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"one session label throughout the blocks", "1/a 2/a 3/a", "1/a 2/a 3/a", st, blk, [2]int{3, 3}, st, compare.BySuiteBlock},
		{"a single block", "1/a", "1/b", st, blk, [2]int{1, 1}, st, compare.BySuiteBlock},
		{"blocks of several spells", "1/a 1/b 2/c 2/d", "1/e 1/f 2/g 2/h 2/i", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"several spells on one side", "1/a 1/b 2/c 2/d", "1/e 2/g", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"several spells in one block", "1/a 1/b 2/c", "1/e 1/f 2/g", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"a block of one side beside complete ones", "1/a 2/b 3/c", "1/d 2/e", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"no block of both sides", "1/a 2/b 3/c", "4/d 5/e", mw, sess, [2]int{3, 2}, mw, compare.BySuiteSession},
		{"no block of both sides, no sessions", "1/ 1/ 2/", "3/ 4/ 4/", mw, sess, [2]int{2, 2}, mw, compare.BySuiteSession},
		{"blocks on one side", "1/a 2/b 3/c", "/d /e", mw, sess, [2]int{3, 2}, mw, compare.BySuiteSession},
		{"runs outside blocks that settle no more", "1/a 2/b /x", "1/d 2/e /y", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"runs outside blocks that settle nothing", "1/a 2/b /x /y /z", "1/d 2/e /u /v /w", st, blk, [2]int{2, 2}, st, compare.BySuiteBlock},
		{"runs outside blocks that settle more", "1/a 2/b /x /y /z /t", "1/d 2/e /u /v /w /s", mw, sess, [2]int{4, 4}, mw,
			compare.BySuiteSession},
		{"the same, without sessions", "1/a 2/b / / / /", "1/d 2/e / / / /", mw, run, [2]int{4, 4}, none, compare.BySuitePass},
		{"a session that the second score lacks", "/a /b /c -/d", "/e /f /g", mw, sess, [2]int{4, 3}, mw, compare.BySuiteSession},
		{"a block that the second score lacks", "1/a 2/b -3/c", "1/d 2/e 3/f", st, blk, [2]int{3, 3}, st, compare.BySuiteBlock},
	} {
		g := comparetest.Generator(1)
		side := func(profile, words string) []*compare.Series {
			var out []compare.Value
			for _, benchmark := range []string{"tile-render", "mesh-solve"} {
				for _, l := range labels(words) {
					block, only := strings.CutPrefix(l.block, "-") // of the first score alone
					if only && benchmark == "mesh-solve" {
						continue
					}
					out = append(out, compare.Value{Benchmark: benchmark, Unit: "s", Block: block, Session: l.session,
						Value: 60 * math.Exp(0.01*g.NormFloat64())})
				}
			}
			return comparetest.SeriesOf(t, profile, out)
		}
		p, err := compare.PairUp(side(comparetest.Factory, c.before), side(comparetest.Boost, c.after), comparetest.Names,
			compare.Policy{}, compare.Options{})
		if err != nil {
			t.Fatal(err)
		}
		terms := compare.TermsOf(compare.Policy{}, compare.Options{Resamples: 1000})
		measured := terms.MeasureAll(p.Pairs, nil)
		if m := measured[0]; m.Test != c.test || m.Replication != c.replication || m.Replicates != c.replicates {
			t.Errorf("%s: %s by %s, %v; want %s by %s, %v", c.name, m.Test, m.Replication, m.Replicates, c.test, c.replication, c.replicates)
		}
		suiteTest, pooling := "", compare.Pooling("")
		pool, note := terms.Pool(compare.PoolOf{Name: compare.WholeSuite, Whole: true}, measured, compare.Policy{})
		if pool != nil {
			suiteTest, pooling = pool.Measured.Test, pool.Pooling
		}
		if suiteTest != c.suiteTest || pooling != c.pooling || (note == nil) != (pool != nil) {
			t.Errorf("%s: the suite by %q, %q (%v); want %q, %q", c.name, suiteTest, pooling, note, c.suiteTest, c.pooling)
		}
	}
}
