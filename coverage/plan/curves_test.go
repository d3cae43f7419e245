package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// arced is a ring-shaped field: between the arcs of two radii around the origin, from an angle
// to another, the outer arc a polyline with corners every `step` metres.
func arcedField(inner, outer, from, to, step float64) []plane.Polygon {
	var ring plane.Ring
	add := func(r, a, b float64) {
		n := max(1, int(math.Ceil(math.Abs(b-a)*r/step)))
		for i := range n + 1 {
			sin, cos := math.Sincos(a + (b-a)*float64(i)/float64(n))
			ring = append(ring, plane.XY{X: r * cos, Y: r * sin})
		}
	}
	add(outer, from, to)
	add(inner, to, from)
	return []plane.Polygon{{ring}}
}

// hedge is a field over a hedge of some height, 0 to long, up to y = deep.
func hedge(long, deep, step float64, height func(x float64) float64) []plane.Polygon {
	var ring plane.Ring
	for x := 0.0; x < long; x += step {
		ring = append(ring, plane.XY{X: x, Y: height(x)})
	}
	ring = append(ring, plane.XY{X: long, Y: height(long)}, plane.XY{X: long, Y: deep}, plane.XY{X: 0, Y: deep})
	return []plane.Polygon{{ring}}
}

func sHedge() []plane.Polygon {
	return hedge(400, 180, 5, func(x float64) float64 { return 20 * math.Sin(2*math.Pi*x/400) })
}

// TestArc: the outer edge is an arc of radius 200 m over 60°, worked 5 m wide in 2 rounds. The
// interior reaches from 190 m inwards to 110.05 m from the centre: 16 rows 79.95/16 m apart. Its sides
// are radii 10 m inside those of the field, so a row of radius ρ turns by 60° − 2·asin(10/ρ), and its bar,
// square to the arc, needs up to 2.5·tan of the angle between row and side more at each end.
func TestArc(t *testing.T) {
	field := arcedField(100.05, 200, 0, math.Pi/3, 1)
	p, c := laid(t, field, mounted(5), Options{Speed: 8, Rounds: 2, AlongLongest: true})
	if c.Passes != 16 || c.Blocks != 1 {
		t.Fatalf("%d passes in %d blocks: want 16 in 1", c.Passes, c.Blocks)
	}
	const pitch = 79.95 / 16
	seen := map[int]bool{}
	for _, one := range p.Passes {
		if one.Block == 0 {
			continue
		}
		m := one.Line[len(one.Line)/2]
		rho := m.Len()
		k := int(math.Round((190-rho)/pitch - 0.5))
		seen[k] = true
		for _, q := range one.Line {
			if want := 190 - (float64(k)+0.5)*pitch; math.Abs(q.Len()-want) > 0.02 {
				t.Errorf("row %d: %g m from the centre: want %g m", k, q.Len(), want)
			}
		}
		turn := math.Pi/3 - 2*math.Asin(10/rho)
		lap := 2.5 * math.Tan(math.Asin(10/rho)) * 1.1
		if one.Length < rho*turn-0.02 || one.Length > rho*turn+2*lap+0.02 {
			t.Errorf("row of radius %g m is %g m long: want from %g to %g m", rho, one.Length, rho*turn, rho*turn+2*lap)
		}
	}
	if len(seen) != 16 {
		t.Errorf("%d different rows: want 16", len(seen))
	}
	checkBent(t, p, c)
}

// checkBent: the interior is covered, and no bar works outside but as straight plans do.
func checkBent(t *testing.T, p Plan, c Candidate) {
	t.Helper()
	if c.InteriorLeft > 2e-3*c.Interior {
		t.Errorf("interior missed %g m² of %g m²", c.InteriorLeft, c.Interior)
	}
	if share := beyondReach(p); share > 2e-3 {
		t.Errorf("a share of %g of the interior is beside no pass: want 0.002 at most", share)
	}
	checkInside(t, p, c)
}

func checkInside(t *testing.T, p Plan, c Candidate) {
	t.Helper()
	if c.Outside > 1e-3*c.Field {
		t.Errorf("worked %g m² outside, of %g m²", c.Outside, c.Field)
	}
	checkSums(t, p, c)
	checkWays(t, p)
	checkRadius(t, p)
}

// checkRadius: three places a metre or more apart along a pass lie on a circle no
// tighter than the set can steer, but for what thinning and stations leave.
func checkRadius(t *testing.T, p Plan) {
	t.Helper()
	r := p.Implement.TurnRadius()
	for _, one := range p.Passes {
		if one.Block == 0 || len(one.Line) < 3 {
			continue
		}
		line := resampled(one.Line, 1.5)
		for i := 2; i < len(line); i++ {
			a, b := line[i-1].Sub(line[i-2]), line[i].Sub(line[i-1])
			if got := 1.5 / math.Abs(a.AngleTo(b)); got < 0.9*r {
				t.Errorf("pass %d bends on %.2f m at %.1f, %.1f: want %g m at least", one.Number, got, line[i-1].X, line[i-1].Y, r)
				return
			}
		}
	}
}

// resampled is places of a line so far apart along it.
func resampled(line []plane.XY, step float64) []plane.XY {
	out, left := []plane.XY{line[0]}, step
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		d := a.Dist(b)
		for at := left; at <= d; at += step {
			out = append(out, a.Lerp(b, at/d))
			left = at + step
		}
		left -= d
	}
	return out
}

// beyondReach is the second opinion on what is covered: of places 3.7 m apart in the interior the share that lies
// beside no pass within half a credited width.
func beyondReach(p Plan) float64 {
	const step = 3.7 // m, no whole part of a width
	half := credited(p.Implement) / 2
	seen, far := 0, 0
	for _, ground := range p.Interior {
		box := ground[0].Bounds()
		for y := box.Min.Y; y < box.Max.Y; y += step {
			for x := box.Min.X; x < box.Max.X; x += step {
				q := plane.XY{X: x, Y: y}
				if !ground.Holds(q) {
					continue
				}
				seen++
				if !slices.ContainsFunc(p.Passes, func(one Pass) bool { return one.Round == 0 && squareTo(one.Line, q) <= half+hair }) {
					far++
				}
			}
		}
	}
	return float64(far) / float64(max(1, seen))
}

// squareTo is how far p lies from a line, square to one of its sides; infinite where no side is square to it.
// Its ends and the outsides of its bends reach a little farther, as the bar does.
func squareTo(line []plane.XY, p plane.XY) float64 {
	const ahead = 0.15 // m
	away := math.Inf(1)
	for i := 1; i < len(line); i++ {
		a, e := line[i-1], line[i].Sub(line[i-1]).Unit()
		if along := p.Sub(a).Dot(e); along > -ahead && along < line[i].Dist(a)+ahead {
			away = min(away, math.Abs(e.Cross(p.Sub(a))))
		}
	}
	return away
}

// TestReachCanFail is the second opinion's own test.
func TestReachCanFail(t *testing.T) {
	p, _ := laid(t, sHedge(), mounted(6), Options{Speed: 8, AlongLongest: true})
	q := plane.XY{X: 0, Y: 2.9}
	if d := squareTo([]plane.XY{{X: -5}, {X: 5}}, q); d != 2.9 {
		t.Errorf("%g m: want 2.9 m", d)
	}
	if d := squareTo([]plane.XY{{X: 1}, {X: 5}}, q); !math.IsInf(d, 1) {
		t.Errorf("%g m: want no side square to it", d)
	}
	for i := range p.Passes {
		if i%2 == 1 {
			p.Passes[i].Round = 1 // no longer of the interior
		}
	}
	if share := beyondReach(p); math.Abs(share-0.5) > 0.1 {
		t.Errorf("without every other pass a share of %g is beside none: want a half", share)
	}
}

func apartFrom(line []plane.XY, p plane.XY) float64 {
	away := math.Inf(1)
	for i := 1; i < len(line); i++ {
		away = min(away, (plane.Segment{A: line[i-1], B: line[i]}).Dist(p))
	}
	return away
}

// TestSpacingOfRows: rows beside a smooth bend that is nowhere tighter than allowed lie exactly a pitch apart:
// random hedges of two waves.
func TestSpacingOfRows(t *testing.T) {
	const seed = 4
	rng := rand.New(rand.NewPCG(seed, 1))
	for n := range 20 {
		a, b, u, v := 8*rng.Float64(), 3*rng.Float64(), 6*rng.Float64(), 6*rng.Float64()
		var stretch []plane.XY
		for x := 0.0; x <= 400; x += 2 {
			stretch = append(stretch, plane.XY{X: x, Y: a*math.Sin(2*math.Pi*x/400+u) + b*math.Sin(2*math.Pi*x/150+v)})
		}
		d, err := guideOf(stretch, 6)
		if err != nil {
			t.Fatalf("seed %d, hedge %d: %v", seed, n, err)
		}
		// Curvature is at most a(2π/400)² + b(2π/150)² < 1/136 m: rows up to 100 m away need no rounding.
		for _, at := range []float64{-90, -20, 3, 15, 60, 94} {
			one, other := d.beside(at, 0, 400, new(besideRoom)).points(nil), d.beside(at+6, 0, 400, new(besideRoom)).points(nil)
			for i := 40; i < len(one)-140; i += 37 {
				if got := apartFrom(other, one[i]); math.Abs(got-6) > 5e-3 {
					t.Errorf("seed %d, hedge %d: row at %g m is %g m from the next: want 6 m", seed, n, at, got)
				}
			}
		}
	}
}

// bentShapes are fields with a bent edge, and whether no bend of a row is tighter than allowed.
var bentShapes = []struct {
	name   string
	field  []plane.Polygon
	along  *Edge
	gentle bool
}{
	{"S-shaped hedge", sHedge(), nil, true},
	{"outer arc of 200 m", arcedField(80, 200, 0, 1.2, 4), nil, true},
	{"inner arc of 200 m", arcedField(200, 330, 0, 1.2, 4), &Edge{plane.XY{X: 200}, plane.XY{X: 200 * math.Cos(1.2), Y: 200 * math.Sin(1.2)}}, true},
	{"obstacle in the middle", []plane.Polygon{{sHedge()[0][0], hole(180, 80, 220, 110)}}, nil, true},
	{"bend of 60° into the field within 3 m", []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 202, Y: 1.2}, {X: 300, Y: 170}, {X: 0, Y: 200}}}},
		&Edge{plane.XY{X: 0, Y: 0}, plane.XY{X: 300, Y: 170}}, false},
	{"bend of 50° away from the field", []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 330, Y: -155}, {X: 420, Y: 150}, {X: 0, Y: 200}}}},
		&Edge{plane.XY{X: 0, Y: 0}, plane.XY{X: 330, Y: -155}}, true},
	{"L: ground on either side of the edge drawn on", shapes[0].field, &Edge{plane.XY{X: 300, Y: 120}, plane.XY{X: 140, Y: 120}}, true},
	{"two parts", shapes[4].field, &Edge{plane.XY{X: 0, Y: 0}, plane.XY{X: 200, Y: 0}}, true},
}

func TestBentShapes(t *testing.T) {
	for _, c := range bentShapes {
		for _, im := range []struct {
			what string
			w    float64
			tied bool
		}{{"mounted, 6 m", 6, false}, {"mounted, 3 m", 3, false}, {"trailed, 6 m", 6, true}} {
			t.Run(c.name+", "+im.what, func(t *testing.T) {
				set := mounted(im.w)
				if im.tied {
					set = trailed(im.w)
				}
				o := Options{Speed: 8, Along: c.along, AlongLongest: c.along == nil}
				p, got := laid(t, c.field, set, o)
				if c.gentle {
					checkBent(t, p, got)
				} else {
					checkInside(t, p, got)
					if got.InteriorLeft == 0 || got.InteriorLeft > 0.02*got.Interior {
						t.Errorf("interior missed %g m² of %g m²: want the sickles between rounded bends", got.InteriorLeft, got.Interior)
					}
				}
				t.Logf("%d passes, %d blocks, %d turns, %d unfit, missed inside %.1f m² of %.0f, outside %.1f", got.Passes, got.Blocks, got.Turns, len(got.Infeasible), got.InteriorLeft, got.Interior, got.Outside)
			})
		}
	}
}

// TestBentMovedAndTurned: as straight plans. Where rows end square to the headland the first round begins beside the
// last row or a way ahead, which is a tie that rounding decides: by a turn or a run, some seconds apart.
func TestBentMovedAndTurned(t *testing.T) {
	for _, c := range bentShapes {
		o := Options{Speed: 8, Along: c.along, AlongLongest: c.along == nil}
		_, want := laid(t, c.field, mounted(6), o)
		by, angle := plane.XY{X: 1234.5, Y: -987.25}, 1.0
		if c.along != nil {
			e := turnedBy([]plane.Polygon{{{c.along.From, c.along.To}}}, angle, by)[0][0]
			o.Along = &Edge{e[0], e[1]}
		}
		_, got := laid(t, turnedBy(c.field, angle, by), mounted(6), o)
		if got.Passes != want.Passes || got.Blocks != want.Blocks || got.Turns+got.Runs != want.Turns+want.Runs || got.Loops != want.Loops {
			t.Errorf("%s: %d passes, %d blocks, %d turns: want %d, %d, %d", c.name, got.Passes, got.Blocks, got.Turns, want.Passes, want.Blocks, want.Turns)
		}
		for _, v := range [][3]float64{{got.Hours, want.Hours, 1e-2}, {got.Working.Metres, want.Working.Metres, 5e-4}, {got.Field - got.Missed, want.Field - want.Missed, 5e-4}} {
			if math.Abs(v[0]-v[1]) > v[2]*v[1] {
				t.Errorf("%s turned: %g: want %g", c.name, v[0], v[1])
			}
		}
	}
}

// TestAlongStraight: along a straight edge it is the straight plan.
func TestAlongStraight(t *testing.T) {
	for _, full := range []bool{false, true} {
		o := Options{Speed: 8, Rounds: 3, FullSpacing: full}
		_, want := laid(t, box(400, 250), mounted(6), o)
		o.AlongLongest = true
		p, got := laid(t, box(400, 250), mounted(6), o)
		if got.Passes != want.Passes || got.Turns != want.Turns || math.Abs(got.Missed-want.Missed) > 1 || math.Abs(got.Hours-want.Hours) > 1e-3*want.Hours {
			t.Errorf("%d passes, %d turns, missed %g m², %g h: want %d, %d, %g m², %g h", got.Passes, got.Turns, got.Missed, got.Hours, want.Passes, want.Turns, want.Missed, want.Hours)
		}
		checkBent(t, p, got)
	}
}

// TestBentBest: Best and Compare keep to the edge; guidance has open curves.
func TestBentBest(t *testing.T) {
	all, err := Compare(t.Context(), sHedge(), setsOf(6, 4), Options{Speed: 8, AlongLongest: true}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		curves := 0
		for _, l := range Guidance(f.Plan) {
			if l.Kind == Curve && l.Block > 0 && l.Line[0] != l.Line[len(l.Line)-1] {
				curves++
			}
		}
		if len(f.Curve) != 1 || curves < f.Candidate.Passes/2 || len(f.Candidate.Sensitivity) != 3 {
			t.Errorf("%d directions, %d open curves of %d passes, %d deviations: want 1, most, 3", len(f.Curve), curves, f.Candidate.Passes, len(f.Candidate.Sensitivity))
		}
	}
}

// TestBentWedges: the field of TestArc with passes that end where their middle leaves the interior. A row of radius ρ meets the side of
// the interior asin(10/ρ) off square, so passes that cover its last corner are half a pitch times the tangent of that longer at each end.
func TestBentWedges(t *testing.T) {
	field := arcedField(100.05, 200, 0, math.Pi/3, 1)
	long, want, rows := 0.0, 0.0, 0
	for _, leave := range []bool{false, true} {
		p, _ := laid(t, field, mounted(5), Options{Speed: 8, Rounds: 2, AlongLongest: true, LeaveWedges: leave})
		for _, one := range p.Passes {
			if one.Block == 0 {
				continue
			}
			if leave {
				long -= one.Length
				continue
			}
			const half = 79.95 / 16 / 2
			long, want, rows = long+one.Length, want+2*half*math.Tan(math.Asin(10/one.Line[0].Len())), rows+1
		}
	}
	if rows != 16 || math.Abs(long-want) > 0.02*want {
		t.Errorf("%d passes that cover are %.2f m longer than those that leave wedges, want 16 and %.2f m", rows, long, want)
	}
}

func TestFaultsOfTheEdge(t *testing.T) {
	far := plane.XY{X: math.Inf(1)}
	for _, c := range []struct {
		what, want string
		o          Options
	}{
		{"both", "one of them", Options{Speed: 8, AlongLongest: true, Along: &Edge{}}},
		{"no place", "edge from +Inf", Options{Speed: 8, Along: &Edge{From: far}}},
		{"one corner", "same corner", Options{Speed: 8, Along: &Edge{plane.XY{X: 1}, plane.XY{X: 2}}}},
		{"another field", "corner of the boundary is 762 m away: must be within 50 m", Options{Speed: 8, Along: &Edge{plane.XY{X: 0, Y: 0}, plane.XY{X: 812}}}},
		{"round three corners", "turns by 180°", Options{Speed: 8, Along: &Edge{plane.XY{X: 0, Y: 0}, plane.XY{X: 0, Y: 50}}}},
	} {
		field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 50, Y: 0}, {X: 50, Y: 50}, {X: 0, Y: 50}, {X: 0, Y: 49}, {X: -500, Y: 49}, {X: -500, Y: 0}}}}
		if _, err := Lay(t.Context(), field, mounted(6), c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v: want %q in it", c.what, err, c.want)
		}
	}
}

// TestRealBent: every eighth real field along its longest stretch.
func TestRealBent(t *testing.T) {
	passes, turns, unfit := 0, 0, 0
	var left, interior float64
	for i, f := range trial.OnPlanes(t) {
		if i%8 != 0 {
			continue
		}
		t.Run(fmt.Sprintf("field %d", i), func(t *testing.T) {
			p, c := laid(t, f, mounted(6), Options{Speed: 8, AlongLongest: true})
			checkInside(t, p, c)
			if c.InteriorLeft > 2e-3*c.Field {
				t.Logf("interior missed %.0f m² of %.0f m²", c.InteriorLeft, c.Interior)
			}
			passes, turns, unfit = passes+c.Passes, turns+c.Turns, unfit+len(c.Infeasible)
			left, interior = left+c.InteriorLeft, interior+c.Interior
		})
	}
	t.Logf("%d passes, %d turns, %d unfit, missed %.0f m² of %.0f m² of interior", passes, turns, unfit, left, interior)
}

func setsOf(widths ...float64) (sets []rig.Implement) {
	for _, w := range widths {
		sets = append(sets, mounted(w))
	}
	return sets
}
