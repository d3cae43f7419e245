package pattern

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// rows are contacts of parallel rows 100 m long at places across, each turned by an angle, driven up and down; seen from both sides, as a log has them.
// Joins and angles are drawn in their figures as they are told: a row that lies farther to the right, or turns to the right.
func rows(across, angle []float64, up func(k int) bool) (out []Contact) {
	heading := func(k int) float64 {
		return math.Mod(angle[k]*180/math.Pi+180*(1-step(up(k)))+360, 360)
	}
	for k := 0; k+1 < len(across); k++ {
		apart, open := across[k+1]-across[k], angle[k+1]-angle[k]
		for _, one := range [2]int{k, k + 1} {
			c := Contact{Pass: one + 1, Other: 2*k + 2 - one, Right: up(one) == (one == k), Back: up(k) != up(k+1), Along: 100, Apart: apart, Opening: open, Heading: heading(one)}
			if !up(one) {
				c.Opening = -open
			}
			out = append(out, c)
		}
	}
	return out
}

// missed is a strip of 10 m² at every join.
func missed(n int) (out []Strip) {
	for k := 1; k < n; k++ {
		out = append(out, Strip{Number: k, Area: 10, Passes: []int{k, k + 1}, Between: true})
	}
	return out
}

// TestPatternsOfJoins draws twenty rows with what goes on from one to the next.
func TestPatternsOfJoins(t *testing.T) {
	const n = 20
	alternate := func(k int) bool { return k%2 == 0 }
	oneWay := func(int) bool { return true }
	for _, c := range []struct {
		name   string
		up     func(int) bool
		across func(k int) float64 // m, beside where the row is planned
		angle  func(k int) float64
		want   []Pattern // kind, by, towards, seen
	}{
		{"as planned", alternate, nil, nil, nil},
		{"shifted to the east from the 12th on", alternate, func(k int) float64 { return 0.3 * step(k >= 11) }, nil, []Pattern{{Kind: Shifted, By: 0.3, Towards: 90, Passes: [2]int{12, 20}}}},
		{"shifted, all one way", oneWay, func(k int) float64 { return 0.3 * step(k >= 11) }, nil, []Pattern{{Kind: Shifted, By: 0.3, Towards: 90, Passes: [2]int{12, 20}}}},
		{"shifted to the west: nothing is missed", alternate, func(k int) float64 { return -0.3 * step(k >= 11) }, nil, nil},
		{"shifted to and fro: one row aside", alternate, func(k int) float64 { return 0.3 * step(k == 11) }, nil, nil},
		{"too far apart", alternate, func(k int) float64 { return 0.1 * float64(k) }, nil, []Pattern{{Kind: Apart, By: 0.1, Passes: [2]int{1, 20}}}},
		{"turning to the east as they go north", alternate, nil, func(k int) float64 { return 5e-4 * float64(k) }, []Pattern{{Kind: Fan, By: 5e-4, Towards: 0, Passes: [2]int{1, 20}}}},
		{"turning to the west", alternate, nil, func(k int) float64 { return -5e-4 * float64(k) }, []Pattern{{Kind: Fan, By: 5e-4, Towards: 180, Passes: [2]int{1, 20}}}},
		{"the last ten turn, all one way", oneWay, nil, func(k int) float64 { return 1e-3 * max(0, float64(k)-9) }, []Pattern{{Kind: Fan, By: 1e-3, Towards: 0, Passes: [2]int{11, 20}}}},
		{"sliding to the east", alternate, nil, func(k int) float64 { return 1e-3 * (2*step(k%2 == 0) - 1) }, []Pattern{{Kind: Slide, By: 1e-3, Towards: 90, Passes: [2]int{1, 20}}}},
		{"sliding to the west", alternate, nil, func(k int) float64 { return 1e-3 * (1 - 2*step(k%2 == 0)) }, []Pattern{{Kind: Slide, By: 1e-3, Towards: 270, Passes: [2]int{1, 20}}}},
		{"sliding, all one way: they stay parallel", oneWay, nil, func(int) float64 { return 1e-3 }, nil},
	} {
		for turned := range 2 {
			across, angle := make([]float64, n), make([]float64, n)
			for k := range n {
				across[k] = 6 * float64(k)
				if c.across != nil {
					across[k] += c.across(k)
				}
				if c.angle != nil {
					angle[k] = c.angle(k)
				}
			}
			up := c.up
			if turned == 1 { // the same rows, driven the other way round
				up = func(k int) bool { return !c.up(k) }
				for k := range angle {
					if c.up(0) != c.up(1) && len(c.want) == 1 && c.want[0].Kind == Slide {
						angle[k] = -angle[k] // what slides to one side does so either way
					}
				}
			}
			got := Of(Evidence{Planned: 6, Contacts: rows(across, angle, up), Strips: missed(n)})
			if len(got) != len(c.want) {
				t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
				continue
			}
			for i, w := range c.want {
				g := got[i]
				if w.Passes == [2]int{} {
					g.Passes = w.Passes
				}
				if g.Kind != w.Kind || math.Abs(g.By-w.By) > 0.25*w.By || math.Abs(math.Mod(g.Towards-w.Towards+540, 360)-180) > 1 || g.Passes != w.Passes {
					t.Errorf("%s, turned %d: %+v, want %+v", c.name, turned, g, w)
				}
			}
		}
	}
}

// TestShiftBeyondTheReceiver: a line is shifted where one join is wider than its receiver's slow error makes one; 4.2 standard deviations of 17 cm are 71 cm.
func TestShiftBeyondTheReceiver(t *testing.T) {
	const n = 20
	for _, c := range []struct {
		by, receiver float64
		want         int
	}{{0.3, 0, 1}, {0.3, 0.014, 1}, {0.3, 0.17, 0}, {0.7, 0.17, 0}, {0.8, 0.17, 1}} {
		across, angle := make([]float64, n), make([]float64, n)
		for k := range n {
			across[k] = 6*float64(k) + c.by*step(k >= 11)
		}
		got := Of(Evidence{Planned: 6, Receiver: c.receiver, Contacts: rows(across, angle, func(k int) bool { return k%2 == 0 }), Strips: missed(n)})
		if len(got) != c.want {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// TestLinesTooFarApartInTwoBeds: what parts the rows into beds, as a row of which half was lifted, parts no pattern of lines laid alike, and
// lines laid otherwise in each are two.
func TestLinesTooFarApartInTwoBeds(t *testing.T) {
	for _, c := range []struct {
		second float64 // m, how much wider than planned the second bed is
		want   []Pattern
	}{
		{0.30, []Pattern{{By: 0.30, Of: 18, Seen: 18, Passes: [2]int{1, 20}, Area: 180}}},
		{0.33, []Pattern{{By: 0.315, Of: 18, Seen: 18, Passes: [2]int{1, 20}, Area: 180}}},
		{0.50, []Pattern{{By: 0.30, Of: 9, Seen: 9, Passes: [2]int{1, 10}, Area: 90}, {By: 0.50, Of: 9, Seen: 9, Passes: [2]int{11, 20}, Area: 90}}},
	} {
		across := make([]float64, 20)
		for k := 1; k < len(across); k++ {
			across[k] = across[k-1] + 6.3
			if k > 10 {
				across[k] += c.second - 0.3
			}
		}
		both := rows(across, make([]float64, 20), func(k int) bool { return k%2 == 0 })
		both = slices.DeleteFunc(both, func(c Contact) bool { return min(c.Pass, c.Other) == 10 })
		got := Of(Evidence{Planned: 6, Contacts: both, Strips: missed(20)})
		slices.SortFunc(got, func(a, b Pattern) int { return cmp.Compare(a.By, b.By) })
		ok := len(got) == len(c.want)
		for i := 0; ok && i < len(got); i++ {
			g, w := got[i], c.want[i]
			ok = g.Kind == Apart && math.Abs(g.By-w.By) < 1e-9 && g.Of == w.Of && g.Seen == w.Seen && g.Passes == w.Passes && g.Area == w.Area
		}
		if !ok {
			t.Errorf("%g m: %+v, want %+v", c.second, got, c.want)
		}
	}
}

func step(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// TestRowsThatWander: of rows that wander by a deviation of 5 cm across and 10 cm in 100 m of direction, with no fault, one in a hundred at most has a
// pattern; with two faults both are found on three of four of 16 rows and more.
func TestRowsThatWander(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const fields = 1000
	false_, found, long := 0, 0, 0
	for range fields {
		n := 8 + rng.IntN(40)
		across, angle := make([]float64, n), make([]float64, n)
		for k := range n {
			across[k], angle[k] = 6*float64(k)+0.05*rng.NormFloat64(), 1e-3*rng.NormFloat64()
		}
		alternate := func(k int) bool { return k%2 == 0 }
		if p := Of(Evidence{Planned: 6, Contacts: rows(across, angle, alternate), Strips: missed(n)}); len(p) > 0 {
			false_++
			t.Logf("%d rows: %+v", n, p)
		}
		for k := range n {
			if angle[k] += 2e-3 * float64(k); k >= n/2 {
				across[k] += 0.6
			}
		}
		kinds := map[Kind]bool{}
		for _, p := range Of(Evidence{Planned: 6, Contacts: rows(across, angle, alternate), Strips: missed(n)}) {
			kinds[p.Kind] = true
		}
		if n < 16 { // of few rows little is sure
			continue
		}
		if long++; kinds[Fan] && kinds[Shifted] {
			found++
		}
	}
	if false_ > fields/100 {
		t.Errorf("%d of %d fields have a pattern", false_, fields)
	}
	if found < long*3/4 {
		t.Errorf("both faults found on %d of %d fields", found, long)
	}
}

// TestJoinsThatWander: where a receiver wanders, and neighbours run beside each other now here, now there, joins open by chance of themselves, and the angles
// that they add up to wander off. One field in a hundred at most has a pattern; taken for angles of rows half of them had.
func TestJoinsThatWander(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const fields = 1000
	false_, found := 0, 0
	for range fields {
		n := 10 + rng.IntN(40)
		across, angle, turning := make([]float64, n), make([]float64, n), make([]float64, n)
		for k := range n {
			across[k], angle[k], turning[k] = 6*float64(k), 1e-3*rng.NormFloat64(), 4e-3*float64(k)
		}
		of := func(turn float64) []Pattern {
			own := slices.Clone(angle) // what each join adds to the angles
			for k := range n {
				own[k] += turn * turning[k]
			}
			contacts := rows(across, own, func(k int) bool { return k%2 == 0 })
			open := make([]float64, n)
			for k := range open {
				open[k] = 2e-3 * rng.NormFloat64()
			}
			for i := range contacts {
				c := &contacts[i]
				if by := open[min(c.Pass, c.Other)-1]; c.Pass%2 == 1 {
					c.Opening += by
				} else {
					c.Opening -= by
				}
			}
			return Of(Evidence{Planned: 6, Contacts: contacts, Strips: missed(n)})
		}
		if p := of(0); len(p) > 0 {
			false_++
			t.Logf("%d rows: %+v", n, p)
		}
		if slices.ContainsFunc(of(1), func(p Pattern) bool { return p.Kind == Fan }) {
			found++
		}
	}
	if false_ > fields/100 {
		t.Errorf("%d of %d fields have a pattern", false_, fields)
	}
	if found < fields*9/10 {
		t.Errorf("rows that turn twice as much are found on %d of %d fields", found, fields)
	}
}

// TestRowsLaidByTheOneBefore: rows of which each goes by the one before it, as a driver without guidance lays them, turn to and fro as chance has it. One bed in a
// hundred at most is told that rows turn or slide; as long as turns counted as noise of single rows, one in eight of 40 rows was, and one in five of 80. Where all do turn it is found.
func TestRowsLaidByTheOneBefore(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const beds = 400
	for _, n := range []int{8, 16, 40, 80} {
		for _, own := range []float64{0, 1e-3} { // deviation of what is of one row alone
			false_, found := 0, 0
			for range beds {
				across, angle, turning := make([]float64, n), make([]float64, n), make([]float64, n)
				walk := 0.0
				for k := range n {
					walk += 1e-3 * rng.NormFloat64()
					across[k], angle[k] = 6*float64(k), walk+own*rng.NormFloat64()
					turning[k] = angle[k] + 5e-3*float64(k)
				}
				of := func(angle []float64) bool {
					return slices.ContainsFunc(Of(Evidence{Planned: 6, Contacts: rows(across, angle, func(k int) bool { return k%2 == 0 }), Strips: missed(n)}),
						func(p Pattern) bool { return p.Kind == Fan || p.Kind == Slide })
				}
				if of(angle) {
					false_++
				}
				if of(turning) {
					found++
				}
			}
			if false_ > beds*2/100 { // 0.4 in a hundred are expected: more than 2 come once in 10,000
				t.Errorf("%d rows, %g of their own: %d of %d beds have a pattern", n, own, false_, beds)
			}
			if n >= 16 && found < beds*95/100 {
				t.Errorf("%d rows, %g of their own: rows that turn are found in %d of %d beds", n, own, found, beds)
			}
		}
	}
}

// TestGroundThatRunsTogether: lines too far apart open into row ends that are late, in one piece of ground with a row left out. Each pattern has what it
// explains of it, and what no pattern explains stays with the strip.
//
//	    ahead of each end 2 m × 6 m, late
//	▒▒▒▒▒▒▒▒▒▒▒▒▒
//	│▒│▒│▒│▒│▒│     between rows 0.5 m × 100 m
func TestGroundThatRunsTogether(t *testing.T) {
	const n = 20
	const ends, joins = n * 2 * 6.0, (n - 1) * 0.5 * 100.0
	across := make([]float64, n)
	var all []int
	var late []End
	for k := range n {
		across[k] = 6.5 * float64(k)
		all = append(all, k+1)
		late = append(late, End{Pass: k + 1, Lowering: true, Out: 0, Gap: 2, Ground: 12, Strip: 1})
	}
	for _, c := range []struct {
		name string
		area float64 // m², of the one strip
		want [2]float64
	}{
		{"nothing else", ends + joins, [2]float64{joins, ends}},
		{"with a row left out", ends + joins + 700, [2]float64{joins, ends}},
		{"with less than both would have", ends + joins - 100, [2]float64{joins - 100, ends}},
	} {
		got := Of(Evidence{Planned: 6, Contacts: rows(across, make([]float64, n), func(k int) bool { return k%2 == 0 }), Ends: late,
			Strips: []Strip{{Number: 1, Area: c.area, Passes: all}}})
		if len(got) != 2 || got[0].Kind != Apart || got[1].Kind != Late || math.Abs(got[0].Area-c.want[0]) > 1e-6 || math.Abs(got[1].Area-c.want[1]) > 1e-6 {
			t.Errorf("%s: %+v, want %g m² of lines too far apart and %g of rows lowered late", c.name, got, c.want[0], c.want[1])
		}
	}
}

// TestUncovered holds the ground of a join against a sum over thin slices.
func TestUncovered(t *testing.T) {
	for _, c := range [][3]float64{{0.5, 0, 100}, {0.5, 1e-3, 100}, {0, 2e-3, 100}, {-0.05, -2e-3, 100}, {0.05, 2e-3, 100}, {-0.2, 1e-3, 100}, {-0.1, 0, 100}} {
		wider, opening, along := c[0], c[1], c[2]
		want := 0.0
		const slices = 100000
		for k := range slices {
			x := along * ((float64(k)+0.5)/slices - 0.5)
			want += along / slices * math.Max(0, wider+opening*x)
		}
		if got := uncovered(wider, opening, along); math.Abs(got-want) > 1e-5 {
			t.Errorf("%g m wider, opening by %g, along %g m: %g m², want %g", wider, opening, along, got, want)
		}
	}
}

// TestPatternsOfRowEnds draws thirty rows with two ends each.
func TestPatternsOfRowEnds(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const n = 30
	ends := func(gap func(k int, lowering bool) float64) (e Evidence) {
		for k := range n {
			for _, lowering := range [2]bool{true, false} {
				out := 180.0
				if lowering != (k%2 == 0) {
					out = 359 + 2*rng.Float64() // north, on either side of it
				}
				number := len(e.Strips) + 1
				g := gap(k, lowering)
				e.Ends = append(e.Ends, End{Pass: k + 1, Lowering: lowering, Out: math.Mod(out, 360), Gap: g, Ground: 6 * g, Strip: number})
				e.Strips = append(e.Strips, Strip{Number: number, Area: 6 * g})
			}
		}
		return e
	}
	// Rows are lowered in the south when k is even.
	got := Of(ends(func(k int, lowering bool) float64 {
		if lowering && k%2 == 1 {
			return 2 + 0.1*float64(k%7)
		}
		return 0.3 * rng.Float64()
	}))
	if len(got) != 1 || got[0].Kind != Late || got[0].Seen != 15 || got[0].Of != 15 || math.Abs(got[0].By-2.3) > 0.11 || got[0].Least != 2 || math.Abs(got[0].Most-2.6) > 1e-9 || math.Abs(math.Mod(got[0].Towards+180, 360)-180) > 1.01 {
		t.Errorf("lowered late in the north: %+v", got)
	}
	got = Of(ends(func(k int, lowering bool) float64 { return 1.5 * step(lowering != (k%2 == 0)) }))
	if len(got) != 1 || got[0].Kind != Short || got[0].Seen != 30 || got[0].By != 1.5 {
		t.Errorf("all short in the north: %+v", got)
	}
	got = Of(ends(func(k int, lowering bool) float64 { return 1.5 * step(!lowering) }))
	if len(got) != 2 || got[0].Kind != Early || got[1].Kind != Early {
		t.Errorf("lifted early on both sides: %+v", got)
	}
	false_ := 0
	for range 300 { // as much ground as the first, at ends drawn by chance
		got = Of(ends(func(int, bool) float64 { return 2.3 * step(rng.Float64() < 0.25) }))
		if len(got) > 0 {
			false_++
		}
	}
	if false_ > 3 {
		t.Errorf("%d of 300 with ends short by chance have a pattern", false_)
	}
}
