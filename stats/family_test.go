package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// plainFamilyP is FamilyP as its comment has it, over all assignments of sides.
func plainFamilyP(groups []Group) [][]float64 {
	type place struct{ group, member int }
	var order []place
	own := map[place]float64{}
	for i, g := range groups {
		for k := range g.members() {
			at := place{i, k}
			order, own[at] = append(order, at), g.fit(k).p()
		}
	}
	slices.SortFunc(order, func(a, b place) int {
		switch {
		case own[a] < own[b]:
			return -1
		case own[a] > own[b]:
			return 1
		}
		return 0
	})
	out := make([][]float64, len(groups))
	for i, g := range groups {
		out[i] = make([]float64, g.members())
	}
	top := 0.0
	for j, at := range order {
		sum := 0.0
		for i, g := range groups {
			var of []int
			for _, o := range order[j:] {
				if o.group == i {
					of = append(of, o.member)
				}
			}
			few, all := 0, 0
			eachPlainAssignment(g, func(permuted Group) {
				all++
				if slices.ContainsFunc(of, func(k int) bool { return permuted.fit(k).p() <= own[at]*(1+1e-9) }) {
					few++
				}
			})
			chance := float64(few) / float64(all)
			if plainSpreadsDiffer(g) {
				chance = max(chance, 1-math.Pow(1-own[at], float64(len(of))))
			}
			sum += chance
		}
		top = max(top, min(1, sum))
		out[at.group][at.member] = top
	}
	return out
}

// plainSpreadsDiffer is spreadsDiffer as its comment has it, over all assignments.
func plainSpreadsDiffer(g Group) bool {
	if len(g.Differences) > 0 {
		return false
	}
	if min(len(g.Before[0]), len(g.After[0])) < 4 {
		return true
	}
	var residuals Group
	for k := range g.Before {
		residuals.Before = append(residuals.Before, residualsOf(g.Before[k]))
		residuals.After = append(residuals.After, residualsOf(g.After[k]))
	}
	statistic := func(assigned Group) (sum float64) {
		for k := range assigned.Before {
			pooled := slices.Concat(assigned.Before[k], assigned.After[k])
			if least := numeric.Variance(pooled) / 100; least > 0 {
				sum += math.Abs(math.Log((numeric.Variance(assigned.Before[k]) + least) / (numeric.Variance(assigned.After[k]) + least)))
			}
		}
		return sum
	}
	few, all, seen := 0, 0, statistic(residuals)
	eachPlainAssignment(residuals, func(permuted Group) {
		all++
		if statistic(permuted) >= seen*(1-1e-6) {
			few++
		}
	})
	return float64(few) <= 0.25*float64(all)
}

// eachPlainAssignment visits all assignments of whole sessions, or all signs.
func eachPlainAssignment(g Group, visit func(Group)) {
	if n := len(g.Differences); n > 0 {
		for flips := range 1 << len(g.Differences[0]) {
			permuted := Group{Steps: g.Steps}
			for _, d := range g.Differences {
				x := slices.Clone(d)
				for i := range x {
					if flips>>i&1 == 1 {
						x[i] = -x[i]
					}
				}
				permuted.Differences = append(permuted.Differences, x)
			}
			visit(permuted)
		}
		return
	}
	m, n := len(g.Before[0]), len(g.After[0])
	isBefore := make([]bool, m+n)
	eachAssignment(isBefore, m, func() {
		permuted := Group{Steps: g.Steps}
		for k := range g.Before {
			var sides [2][]float64
			for i, v := range slices.Concat(g.Before[k], g.After[k]) {
				if isBefore[i] {
					sides[0] = append(sides[0], v)
				} else {
					sides[1] = append(sides[1], v)
				}
			}
			permuted.Before, permuted.After = append(permuted.Before, sides[0]), append(permuted.After, sides[1])
		}
		visit(permuted)
	})
}

// anyGroup draws members with common luck, of fine and of coarse readings, some
// with a change and some constant.
func anyGroup(g *rand.Rand, members, m, n int) Group {
	var out Group
	luck := statstest.Draw(g, "normal", m+n)
	for k := range members {
		x := statstest.Draw(g, statstest.ShapeNames[k%4], m+n)
		for i := range x {
			x[i] += luck[i]
			if i >= m && k%3 == 1 {
				x[i] += 4 * g.Float64()
			}
		}
		step := []float64{0, 0.25, 1, 8}[g.IntN(4)]
		if step > 0 {
			x = statstest.Rounded(x, step)
		}
		out.Steps = append(out.Steps, step*float64(g.IntN(2)))
		if m == 0 {
			out.Differences = append(out.Differences, x)
		} else {
			out.Before, out.After = append(out.Before, x[:m]), append(out.After, x[m:])
		}
	}
	return out
}

func TestFamilyPEqualsPlainLoops(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := statstest.Generator(rapid.Uint64().Draw(t, "seed"))
		sizes := [][2]int{{4, 4}, {5, 4}, {3, 6}, {6, 2}, {0, 6}, {0, 9}}
		var groups []Group
		for range rapid.IntRange(1, 3).Draw(t, "groups") {
			size := rapid.SampledFrom(sizes).Draw(t, "size")
			groups = append(groups, anyGroup(g, rapid.IntRange(1, 5).Draw(t, "members"), size[0], size[1]))
		}
		got, want := FamilyP(groups, 10, 1), plainFamilyP(groups)
		for i := range want {
			for k := range want[i] {
				if !statstest.Near(got[i][k], want[i][k], 1e-12, 1e-15) {
					t.Fatalf("member %d of group %d: %v, plain loops give %v of %+v", k, i, got[i][k], want[i][k], groups)
				}
			}
		}
	})
}

// Drawn assignments approach all of them.
func TestDrawnFamilyPNearsTheExact(t *testing.T) {
	g := statstest.Generator(3)
	for _, c := range [][2]int{{8, 9}, {0, 15}} { // 24,310 and 32,768 assignments
		group := anyGroup(g, 4, c[0], c[1])
		drawn, exact := FamilyP([]Group{group}, 10_000, 1)[0], plainFamilyP([]Group{group})[0]
		for k, p := range exact {
			if math.Abs(drawn[k]-p) > 5*statstest.StandardError(p, 10_000)+2e-4 {
				t.Errorf("%v: member %d has %v, exactly %v", c, k, drawn[k], p)
			}
		}
	}
}

// Swapping sides, reordering members and groups, and the number of cores change
// no bit, drawn or not.
func TestFamilyPDependsOnNoOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := statstest.Generator(rapid.Uint64().Draw(t, "seed"))
		var groups []Group
		for _, size := range [][2]int{{4, 4}, {10, 10}, {6, 14}, {0, 16}, {0, 4}} {
			groups = append(groups, anyGroup(g, 3, size[0], size[1]))
		}
		want := FamilyP(groups, 200, 1)
		other := slices.Clone(groups)
		slices.Reverse(other)
		for i, o := range other {
			turn := func(side [][]float64) (out [][]float64) {
				for _, x := range side {
					out = append(out, slices.Clone(x))
				}
				slices.Reverse(out)
				return out
			}
			steps := slices.Clone(o.Steps)
			slices.Reverse(steps)
			other[i] = Group{Before: turn(o.After), After: turn(o.Before), Differences: turn(o.Differences), Steps: steps}
			for k, d := range other[i].Differences {
				other[i].Differences[k] = statstest.Negated(d)
			}
		}
		cores := runtime.GOMAXPROCS(1)
		got := FamilyP(other, 200, 1)
		runtime.GOMAXPROCS(cores)
		slices.Reverse(got)
		for _, p := range got {
			slices.Reverse(p)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
	})
}

// A large change of all members settles at 4 + 4, whatever their number; equal
// values never do.
func TestFamilyPOfManyLargeChanges(t *testing.T) {
	g := statstest.Generator(5)
	var group Group
	for range 200 {
		group.Before = append(group.Before, statstest.Draw(g, "normal", 4))
		group.After = append(group.After, statstest.Moved(statstest.Draw(g, "normal", 4), 1, 1e4))
	}
	group.Before, group.After = append(group.Before, []float64{7, 7, 7, 7}), append(group.After, []float64{7, 7, 7, 7})
	p := FamilyP([]Group{group}, 10_000, 1)[0]
	for k, v := range p[:200] {
		if v != MinFamilyP(4, 4, 10_000) {
			t.Errorf("member %d of 200 has p = %v, want %v", k, v, MinFamilyP(4, 4, 10_000))
		}
	}
	if p[200] != 1 {
		t.Errorf("p = %v of a constant member, want 1", p[200])
	}
}

func TestConstantMembers(t *testing.T) {
	two, four := []float64{5, 5, 5, 5}, []float64{6, 6, 6, 6}
	noisy := []float64{5, 6, 5.5, 7}
	for _, c := range []struct {
		what          string
		before, after []float64
		step          float64
		own, family   float64
	}{
		{"equal constants", two, two, 1, 1, 1},
		{"unequal constants without a step", two, four, 0, 0, 2. / 70},
		// t = sqrt(24) on 3 degrees of freedom: 1 - F in closed form.
		{"unequal constants in steps of 1", two, four, 1, 1 - 2/math.Pi*(math.Atan(math.Sqrt(8))+math.Sqrt(8)/9), 2. / 70},
		{"one side constant", two, noisy, 0, StudentP(statstest.Moved(noisy, 1, -5), 0), 0},
	} {
		if p := WelchP(c.before, c.after, c.step); !statstest.Near(p, c.own, 1e-12, 0) {
			t.Errorf("%s: p = %v, want %v", c.what, p, c.own)
		}
		p := FamilyP([]Group{{Before: [][]float64{c.before}, After: [][]float64{c.after}, Steps: []float64{c.step}}}, 10, 1)[0][0]
		if want := max(c.own, c.family); c.family > 0 && !statstest.Near(p, want, 1e-12, 0) {
			t.Errorf("%s: corrected p = %v, want %v", c.what, p, want)
		}
	}
	// Equal differences in three blocks say nothing without a step.
	equal := []float64{0.2, 0.2, 0.2}
	if p := FamilyP([]Group{{Differences: [][]float64{equal}}}, 10, 1)[0][0]; p != 1 {
		t.Errorf("p = %v of equal differences in three blocks without a step, want 1", p)
	}
	if p, own := FamilyP([]Group{{Differences: [][]float64{equal}, Steps: []float64{0.1}}}, 10, 1)[0][0], StudentP(equal, 0.1); p != own || own > 0.05 {
		t.Errorf("p = %v of equal differences of two steps in three blocks, own p %v", p, own)
	}
}

// Where nothing is permuted the correction is Holm-Sidak's: checked by hand.
func TestFamilyPOfFewBlocks(t *testing.T) {
	d := [][]float64{{1, 1.2, 0.9}, {0.3, -0.2, 0.1}, {2, 1, 3}}
	p := FamilyP([]Group{{Differences: d[:2]}, {Differences: d[2:]}}, 10, 1)
	first, second, third := StudentP(d[0], 0), StudentP(d[2], 0), StudentP(d[1], 0)
	want := [][]float64{{1 - math.Pow(1-first, 3), third}, {1 - math.Pow(1-second, 2)}}
	for i := range want {
		for k := range want[i] {
			if !statstest.Near(p[i][k], want[i][k], 1e-12, 0) {
				t.Errorf("p[%d][%d] = %v, want %v", i, k, p[i][k], want[i][k])
			}
		}
	}
}

// Unequal sizes: the noisier small side has its own degrees of freedom.
func TestWelchOfANoisySmallSide(t *testing.T) {
	few, many := []float64{1, 9, 4, 6}, []float64{1, 1.1, 0.9, 1, 1.2, 0.8}
	f := welchFit(few, many, 0)
	if f.df != 3 {
		t.Errorf("4 noisy values against 6 have %v degrees of freedom, want 3", f.df)
	}
	if f := welchFit(few, many[:5], 0); !(f.df > 3) {
		t.Errorf("4 noisy values against 5 have %v degrees of freedom, want more than 3", f.df)
	}
	if f := welchFit(statstest.Moved(many[:4], 0.1, 0), []float64{1, 9, 4, 6, 3, 2}, 0); !(f.df > 4.9) {
		t.Errorf("4 calm values against 6 have %v degrees of freedom, want about 5", f.df)
	}
}

func TestSmallestFamilyP(t *testing.T) {
	for _, c := range []struct{ m, n int }{{4, 4}, {5, 5}, {4, 6}, {8, 8}, {10, 10}} {
		x, y := statstest.AscendingFrom(0, c.m), statstest.AscendingFrom(1e6, c.n)
		got := FamilyP([]Group{{Before: [][]float64{x}, After: [][]float64{y}}}, 999, 1)[0][0]
		if want := MinFamilyP(c.m, c.n, 999); got != want {
			t.Errorf("%d + %d: %v, want %v", c.m, c.n, got, want)
		}
	}
	for _, n := range []int{6, 8, 14, 20} {
		d := statstest.AscendingFrom(1e6, n)
		got := FamilyP([]Group{{Differences: [][]float64{d}}}, 999, 1)[0][0]
		if want := MinFamilyPOfBlocks(n, 999); got != want {
			t.Errorf("%d blocks: %v, want %v", n, got, want)
		}
	}
	if p := MinFamilyP(4, 4, 10_000); p != 2/numeric.Choose(8, 4) {
		t.Errorf("4 + 4: %v", p)
	}
	if p := sidak(SidakLevel(0.05, 24), 24); !statstest.Near(p, 0.05, 1e-13, 0) {
		t.Errorf("the level of 24 comes back as %v", p)
	}
}

func TestGroupsOfOtherShapesPanic(t *testing.T) {
	x := []float64{1, 2, 3}
	for _, g := range []Group{
		{},
		{Before: [][]float64{x}, After: [][]float64{x, x}},
		{Before: [][]float64{x, x[:2]}, After: [][]float64{x, x}},
		{Differences: [][]float64{x, x[1:]}},
		{Differences: [][]float64{x}, Before: [][]float64{x}},
		{Differences: [][]float64{{1, math.NaN()}}},
		{Differences: [][]float64{x}, Steps: []float64{1, 2}},
	} {
		if !statstest.Panics(func() { FamilyP([]Group{g}, 10, 1) }) {
			t.Errorf("%+v: no panic", g)
		}
	}
}

func BenchmarkFamilyP(b *testing.B) {
	for _, c := range []struct{ members, n int }{{24, 6}, {24, 10}, {1000, 10}, {100, 30}} {
		g := statstest.Generator(1)
		var group Group
		for range c.members {
			group.Before = append(group.Before, statstest.Draw(g, "normal", c.n))
			group.After = append(group.After, statstest.Draw(g, "normal", c.n))
		}
		b.Run(fmt.Sprintf("%d members of %d + %d", c.members, c.n, c.n), func(b *testing.B) {
			for b.Loop() {
				FamilyP([]Group{group}, 10_000, 1)
			}
		})
	}
}
