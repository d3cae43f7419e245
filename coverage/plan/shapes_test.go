package plan

import (
	"fmt"
	"math"
	"testing"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// shapes are fields with what makes planning hard.
var shapes = []struct {
	name  string
	field []plane.Polygon
}{
	{"L", []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 120}, {X: 140, Y: 120}, {X: 140, Y: 280}, {X: 0, Y: 280}}}}},
	{"U", []plane.Polygon{{{{X: 0, Y: 0}, {X: 320, Y: 0}, {X: 320, Y: 260}, {X: 220, Y: 260}, {X: 220, Y: 110}, {X: 100, Y: 110}, {X: 100, Y: 260}, {X: 0, Y: 260}}}}},
	{"ring", []plane.Polygon{{rectangle(0, 0, 360, 300), hole(130, 100, 230, 200)}}},
	{"two islands", []plane.Polygon{{rectangle(0, 0, 420, 260), hole(100, 90, 130, 150), hole(260, 60, 300, 110)}}},
	{"two parts", []plane.Polygon{{rectangle(0, 0, 200, 150)}, {rectangle(230, 20, 400, 180)}}},
	{"narrow, rounds only", []plane.Polygon{{rectangle(0, 0, 300, 22)}}},
	{"triangle", []plane.Polygon{{{{X: 0, Y: 0}, {X: 320, Y: 0}, {X: 90, Y: 260}}}}},
	{"waist", []plane.Polygon{{{{X: 0, Y: 0}, {X: 140, Y: 60}, {X: 280, Y: 0}, {X: 280, Y: 200}, {X: 140, Y: 85}, {X: 0, Y: 200}}}}},
}

// TestShapes: the interior is covered, nothing is worked outside but slivers at sharp
// corners, and no way leaves the field.
func TestShapes(t *testing.T) {
	for _, c := range shapes {
		for _, degrees := range []float64{0, 37, 90} {
			t.Run(fmt.Sprintf("%s at %g°", c.name, degrees), func(t *testing.T) {
				p, got := laid(t, c.field, mounted(6), Options{Speed: 8, Heading: geo.Heading(degrees * math.Pi / 180)})
				if got.InteriorLeft > 1e-3*got.Field {
					t.Errorf("interior missed %g m² of %g m²", got.InteriorLeft, got.Field)
				}
				if got.Outside > 1e-3*got.Field {
					t.Errorf("worked %g m² outside", got.Outside)
				}
				if got.Missed > 0.04*got.Field {
					t.Errorf("missed %g m² of %g m²: want corners of rounds only", got.Missed, got.Field)
				}
				checkSums(t, p, got)
				checkWays(t, p)
			})
		}
	}
}

// wayTolerance: runs follow lines thinned to corridorSlack, half a width inside the boundary;
// the outline of a turn is followed to `sampled`. So no point of either may be outside at all, and what
// a test can see of it is the rounding of coordinates, m.
const wayTolerance = 1e-6

// checkWays walks every move that can be driven: no point lies outside the field, and of what the set sweeps
// on a run nothing does. Runs end where passes do: there a set wider than its credited width stands out.
func checkWays(t *testing.T, p Plan) {
	t.Helper()
	if im := p.Implement; im.Overlap == 0 && max(im.Body.Width, im.Tractor.Width) <= im.Width && p.Options.Gate == nil {
		checkSwept(t, p)
	}
	for i, m := range p.Moves {
		if m.Kind == None || m.Kind == Road || m.Fault != nil {
			continue
		}
		for k := 1; k < len(m.Line); k++ {
			a, b := m.Line[k-1], m.Line[k]
			n := 1 + int(a.Dist(b)/2)
			for s := range n + 1 {
				if q := a.Lerp(b, float64(s)/float64(n)); outside(p.Field, q) > wayTolerance {
					t.Errorf("move %d, %s: %g m outside the field at %.1f, %.1f", i, m.Kind, outside(p.Field, q), q.X, q.Y)
					return
				}
			}
		}
	}
	for _, one := range p.Passes {
		for _, q := range one.Line {
			if outside(p.Field, q) > wayTolerance {
				t.Errorf("pass %d leaves the field at %.1f, %.1f", one.Number, q.X, q.Y)
			}
		}
	}
}

func checkSwept(t *testing.T, p Plan) {
	t.Helper()
	for i, m := range p.Moves {
		if m.Kind != Run || m.Fault != nil {
			continue
		}
		if len(m.paths) == 0 {
			t.Errorf("move %d: a run without bends and without a fault", i)
		}
		at := m.paths[0].From
		for _, path := range m.paths {
			if away := path.From.At.Dist(at.At); away > 1e-6 || math.Abs(math.Remainder(float64(path.From.Heading-at.Heading), 2*math.Pi)) > 1e-6 {
				t.Errorf("move %d: a run breaks off by %g m at %.1f, %.1f", i, away, at.At.X, at.At.Y)
			}
			at = path.End()
			d, err := turn.Drive(path, p.Implement, sampled)
			if err != nil {
				t.Fatal(err)
			}
			g, err := d.Swept(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			beyond, err := plane.Difference(t.Context(), g.Both, p.Field)
			if err != nil {
				t.Fatal(err)
			}
			if out := areaOf(beyond); out > 2*sampled*path.Length() {
				t.Errorf("move %d: a run sweeps %g m² outside the field, from %.1f, %.1f", i, out, path.From.At.X, path.From.At.Y)
			}
		}
	}
}

// outside is how far a place is from the field; 0 inside.
func outside(field []plane.Polygon, p plane.XY) float64 {
	away := math.Inf(1)
	for _, poly := range field {
		if poly.Holds(p) {
			return 0
		}
		for _, ring := range poly {
			for i, a := range ring {
				away = min(away, (plane.Segment{A: a, B: ring[(i+1)%len(ring)]}).Dist(p))
			}
		}
	}
	return away
}

// TestOutsideCanFail is the second opinion's own test.
func TestOutsideCanFail(t *testing.T) {
	f := shapes[2].field
	for _, c := range []struct {
		at   plane.XY
		want float64
	}{{plane.XY{X: 50, Y: 50}, 0}, {plane.XY{X: -3, Y: 50}, 3}, {plane.XY{X: 180, Y: 140}, 40}} {
		if got := outside(f, c.at); got != c.want {
			t.Errorf("%v is %g m outside: want %g m", c.at, got, c.want)
		}
	}
}

// TestNarrow: 300 × 22 m is narrower than two headlands of two rounds, and worked by
// rounds: two rings of 6 m each leave nothing but the corners.
func TestNarrow(t *testing.T) {
	_, c := laid(t, shapes[5].field, mounted(6), Options{Speed: 8, Rounds: 3})
	if c.Loops < 1 || c.Interior > 1 || c.Missed > 0.03*c.Field {
		t.Errorf("%d rounds, %d passes, interior %g m², missed %g m²", c.Loops, c.Passes, c.Interior, c.Missed)
	}
}

// TestLayoutL: an L worked along its long arm is one block up to the reflex corner and
// one beyond, and has passes for its whole breadth.
func TestLayoutL(t *testing.T) {
	_, c := laid(t, shapes[0].field, mounted(6), Options{Speed: 8, Rounds: 2})
	// 280 m − 24 m of headland: 43 rows of 6 m.
	if c.Passes != 43 || c.Blocks != 2 && c.Blocks != 1 {
		t.Errorf("%d passes in %d blocks: want 43 in at most 2", c.Passes, c.Blocks)
	}
	_, ring := laid(t, shapes[2].field, mounted(6), Options{Speed: 8, Rounds: 2})
	if ring.Blocks != 4 {
		t.Errorf("a ring has %d blocks: want 4, below, left, right and above", ring.Blocks)
	}
}

// TestTrailed: a drawbar that must not reverse does not, and no turn that counts as feasible
// bends it beyond its limit.
func TestTrailed(t *testing.T) {
	im := trailed(6)
	for _, c := range shapes {
		p, got := laid(t, c.field, im, Options{Speed: 8, Heading: 0.2})
		for i, m := range p.Moves {
			for _, path := range m.paths {
				if path.Reverse() > 0 {
					t.Errorf("%s: move %d, %s, reverses %g m", c.name, i, m.Kind, path.Reverse())
				}
				d, err := turn.Drive(path, im, turn.Fine)
				if err != nil {
					t.Fatal(err)
				}
				if m.Fault == nil && d.Angle > im.Mount.AngleLimit()+0.5 {
					t.Errorf("%s: move %d, %s, bends the drawbar by %.1f°: limit %.1f°", c.name, i, m.Kind, d.Angle, im.Mount.AngleLimit())
				}
			}
		}
		checkSums(t, p, got)
		checkWays(t, p)
	}
}

// TestLeavingWedges: passes that end where their middle leaves the interior leave ground
// in it, and are shorter.
func TestLeavingWedges(t *testing.T) {
	o := Options{Speed: 8, Heading: 0.5, Rounds: 3}
	_, whole := laid(t, shapes[6].field, mounted(6), o)
	o.LeaveWedges = true
	_, left := laid(t, shapes[6].field, mounted(6), o)
	if left.InteriorLeft < 10 || left.Working.Metres >= whole.Working.Metres {
		t.Errorf("wedges left: interior missed %g m², %g m driven; covered: %g m², %g m", left.InteriorLeft, left.Working.Metres, whole.InteriorLeft, whole.Working.Metres)
	}
}

// turnedBy is a field turned by some angle and moved.
func turnedBy(field []plane.Polygon, angle float64, by plane.XY) []plane.Polygon {
	sin, cos := math.Sincos(angle)
	out := make([]plane.Polygon, len(field))
	for i, p := range field {
		for _, r := range p {
			var ring plane.Ring
			for _, q := range r {
				ring = append(ring, plane.XY{X: cos*q.X - sin*q.Y + by.X, Y: sin*q.X + cos*q.Y + by.Y})
			}
			out[i] = append(out[i], ring)
		}
	}
	return out
}

// TestMovedAndTurned: field and heading moved and turned together change no count, and no
// number but by the places of the nodes that runs go over, and where of two sides equally near a round begins: some metres in an hour.
func TestMovedAndTurned(t *testing.T) {
	for _, c := range shapes {
		o := Options{Speed: 8, Heading: 0.3}
		_, want := laid(t, c.field, mounted(6), o)
		for _, m := range []struct {
			angle float64
			by    plane.XY
		}{{0, plane.XY{X: 1234.5, Y: -987.25}}, {1, plane.XY{X: -50, Y: 3000}}, {math.Pi / 2, plane.XY{}}} {
			o.Heading = geo.Heading(0.3 + m.angle)
			_, got := laid(t, turnedBy(c.field, m.angle, m.by), mounted(6), o)
			if got.Passes != want.Passes || got.Blocks != want.Blocks || got.Turns != want.Turns || got.Loops != want.Loops || len(got.Infeasible) != len(want.Infeasible) {
				t.Errorf("%s turned by %g: %d passes, %d blocks, %d turns, %d rounds, %d unfit: want %d, %d, %d, %d, %d", c.name, m.angle,
					got.Passes, got.Blocks, got.Turns, got.Loops, len(got.Infeasible), want.Passes, want.Blocks, want.Turns, want.Loops, len(want.Infeasible))
			}
			for _, v := range [][2]float64{{got.Hours, want.Hours}, {got.Working.Metres, want.Working.Metres}, {got.Field - got.Missed, want.Field - want.Missed}} {
				if math.Abs(v[0]-v[1]) > 1e-3*v[1] {
					t.Errorf("%s turned by %g: %g: want %g", c.name, m.angle, v[0], v[1])
				}
			}
		}
	}
}
