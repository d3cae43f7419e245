package rework

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// TestDrawnCases has answers a person can check. Passes are 5 m wide.
func TestDrawnCases(t *testing.T) {
	work := drive.Work{Width: 5}
	for _, c := range []struct {
		name                  string
		s                     sketch
		passes                int
		missed, extra, within float64 // m²
	}{
		// y = 0 to 1 is missed over 200 m: one pass of 5 m, 4 m of it for nothing.
		{"one straight gap of 1 m between two passes", rowsWith(append(heights(-50, 10), append(heights(1, 9), 47.5)...)...), 1, 200, 800, 0.1},
		// 10 m missed: two passes, nothing for nothing.
		{"strip as wide as two passes", rowsWith(append(heights(-50, 9), heights(5, 9)...)...), 2, 2000, 0, 0.1},
		// 8 m missed: two passes of 5 m, 2 m for nothing.
		{"strip wider than the implement", rowsWith(append(heights(-50, 10), append(heights(8, 8), 47.5)...)...), 2, 1600, 400, 0.1},
		// The last 3 m along the upper boundary: one pass, its swath no farther out than the boundary.
		{"strip along the boundary", rowsWith(append(heights(-50, 19), 44.5)...), 1, 600, 400, 0.1},
		{"nothing missed", rowsWith(heights(-50, 20)...), 0, 0, 0, 0.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := c.s.check(t, work)
			p := planOf(t, r, five, Options{})
			audit(t, r, five, p)
			if len(p.Passes) != c.passes {
				t.Errorf("%d passes, want %d", len(p.Passes), c.passes)
			}
			for _, v := range []struct {
				name      string
				got, want float64
			}{{"missed", p.Missed, c.missed}, {"left", p.Left, 0}, {"extra double", p.ExtraDouble, c.extra}, {"outside", p.Outside, 0}} {
				if math.Abs(v.got-v.want) > c.within {
					t.Errorf("%s %.3f m², want %.3f", v.name, v.got, v.want)
				}
			}
		})
	}
}

// blocked is a field of 200 by 100 m worked in full around missed ground: the ground given is cut out
// of passes 1 m wide along x.
func blocked(missed ...[]plane.XY) sketch {
	s := sketch{rings: [][]plane.XY{rectangle(-100, -50, 100, 50)}}
	for y := -49.5; y < 50; y++ {
		line, from := guideOf([]plane.XY{{X: -100, Y: y}, {X: 100, Y: y}}, false), -100.0
		cuts := across(missed, y)
		slices.SortFunc(cuts, func(a, b plane.Span) int { return int(math.Copysign(1, a.From-b.From)) })
		for _, c := range append(cuts, plane.Span{From: 100}) {
			if c.From > from+0.1 {
				s.passes = append(s.passes, spaced(line.beside(from+100, c.From+100, 0), 2))
			}
			from = c.To
		}
	}
	return s
}

// across are the parts of the line at height y inside rings.
func across(rings [][]plane.XY, y float64) []plane.Span {
	var out []plane.Span
	for _, ring := range rings {
		var cuts []float64
		for i, p := range ring {
			if q := ring[(i+1)%len(ring)]; (p.Y > y) != (q.Y > y) {
				cuts = append(cuts, p.X+(q.X-p.X)*(y-p.Y)/(q.Y-p.Y))
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			out = append(out, plane.Span{From: cuts[i], To: cuts[i+1]})
		}
	}
	return out
}

func TestShapesAreCutAndPutTogether(t *testing.T) {
	work := drive.Work{Width: 1}
	ell := []plane.XY{{X: -40, Y: -20}, {X: 40, Y: -20}, {X: 40, Y: -15}, {X: -35, Y: -15}, {X: -35, Y: 30}, {X: -40, Y: 30}}
	for _, c := range []struct {
		name   string
		missed [][]plane.XY
		passes int
		extra  float64 // m², at most
	}{
		{"a block as wide as the implement", [][]plane.XY{rectangle(-40, 0, 40, 5)}, 1, 1},
		{"an L of one width", [][]plane.XY{ell}, 2, 30},
		{"two strips on one line, 3 m apart", [][]plane.XY{rectangle(-40, 0, -10, 5), rectangle(-7, 0, 30, 5)}, 1, 16},
		{"two strips on one line, 30 m apart", [][]plane.XY{rectangle(-40, 0, -10, 5), rectangle(20, 0, 50, 5)}, 2, 1},
		{"two strips side by side within one width", [][]plane.XY{rectangle(-40, 0, 40, 2), rectangle(-40, 3, 40, 5)}, 1, 81},
		{"a frame", nil, 4, 60},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := blocked(c.missed...)
			if c.missed == nil { // 5 m wide, around 60 by 40 m of worked ground
				s = blocked(rectangle(-35, -25, 35, -20), rectangle(-35, 20, 35, 25), rectangle(-35, -20, -30, 20), rectangle(30, -20, 35, 20))
			}
			r := s.check(t, work)
			p := planOf(t, r, five, Options{})
			audit(t, r, five, p)
			if len(p.Passes) != c.passes || p.ExtraDouble > c.extra {
				t.Errorf("%d passes, %.1f m² worked for nothing; want %d and %.1f at most", len(p.Passes), p.ExtraDouble, c.passes, c.extra)
			}
			if p.Left > 0.01 {
				t.Errorf("%.3f m² left", p.Left)
			}
		})
	}
}

// TestBentStrip: a field is worked in circles round a corner; a ribbon of 1 m is missed at 60 m: one bent pass along
// it, over its length of a quarter circle.
func TestBentStrip(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(-50, -50, 50, 50)}}
	c := plane.XY{X: -50, Y: -50}
	for r := 2.5; r < 145; r += 5 {
		if r > 60 {
			s.passes = append(s.passes, arc(c, r+1, -2, 92, 94))
		} else {
			s.passes = append(s.passes, arc(c, r, -2, 92, 94))
		}
	}
	r := s.check(t, drive.Work{Width: 5})
	p := planOf(t, r, five, Options{LeastArea: 50})
	var ribbon *coverage.Strip
	for k := range r.Strips {
		if r.Strips[k].Length > 80 {
			ribbon = &r.Strips[k]
		}
	}
	if ribbon == nil {
		t.Fatal("no ribbon of 1 m is missed")
	}
	for _, v := range p.Chosen {
		if v.Strip != ribbon.Number {
			continue
		}
		one := p.Passes[v.Passes[0]-1]
		if len(v.Passes) != 1 || math.Abs(one.Length-60.5*math.Pi/2) > 1 || v.Left > 0.01 {
			t.Errorf("%d passes, the first %.1f m long, %.2f m² left; want 1, 95 m and 0", len(v.Passes), one.Length, v.Left)
		}
		return
	}
	t.Errorf("the ribbon, strip %d, is not chosen", ribbon.Number)
}

// TestBesideAnObstacle: 3 m are missed on both sides of an obstacle 20 m square. No pass goes through it.
func TestBesideAnObstacle(t *testing.T) {
	s := blocked(rectangle(-10, -13, 10, -10), rectangle(-10, -10, 10, 10), rectangle(-10, 10, 10, 13))
	s.rings = append(s.rings, rectangle(-10, -10, 10, 10))
	r := s.check(t, drive.Work{Width: 1})
	p := planOf(t, r, five, Options{})
	audit(t, r, five, p)
	if len(p.Passes) != 2 || p.Left > 0.1 || p.Outside > 0.1 {
		t.Errorf("%d passes, %.2f m² left, %.2f m² outside; want 2, 0, 0", len(p.Passes), p.Left, p.Outside)
	}
	g, err := terrainOf(r.Layers.Field, five)
	if err != nil {
		t.Fatal(err)
	}
	if p.Unfit != 0 {
		t.Errorf("%d ways do not fit", p.Unfit)
	}
	for i, piece := range p.Route {
		if !g.clearAlong(piece.Line) {
			t.Errorf("piece %d crosses boundary or obstacle", i+1)
		}
	}
}

// tattered is a field with missed strips of all kinds: rows with gaps between them and rows
// broken off.
func tattered(rng *rand.Rand, strips int) sketch {
	long, wide := 150+100*rng.Float64(), 100+60*rng.Float64()
	s := sketch{rings: [][]plane.XY{rectangle(-long/2, -wide/2, long/2, wide/2)}}
	if rng.IntN(2) == 0 {
		s.rings = append(s.rings, rectangle(-9, -7, 8, 9))
	}
	const pitch = 4.9 // passes lap by 10 cm: where edges only just meet, rounding decides what one strip is
	rows := int(wide / pitch)
	share := float64(strips) / float64(rows)
	for y := -wide/2 + 2.5; y < wide/2; y += pitch {
		shift := 0.0
		if rng.Float64() < share/2 {
			shift = math.Copysign(0.2+0.2*rng.Float64(), rng.Float64()-0.5) // ribbons of 10 cm and more: no doubt what is a strip
		}
		from, to := -long/2, long/2
		if rng.Float64() < share {
			cut := from + (to-from)*rng.Float64()
			s.passes = append(s.passes, straight(from, y+shift, cut, y+shift, 2))
			from = min(to-1, cut+5+20*rng.Float64())
		}
		s.passes = append(s.passes, straight(from, y+shift, to, y+shift, 2))
	}
	return s
}

// TestAgreesWithTheBalance is the second opinion: the operation checked again with the passes of the re-work added as tracks
// of their own leaves what the plan says, and works the more the plan says.
func TestAgreesWithTheBalance(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	for k := range 12 {
		s, w := tattered(rng, 12), drive.Work{Width: 5, Working: drive.EvidenceAll} // lines end where they do, as planned
		r := s.check(t, w)
		p := planOf(t, r, five, Options{Before: 2})
		audit(t, r, five, p)
		tracks := []geo.Track{trackOf(paper, s.passes)}
		for _, one := range p.Passes {
			tracks = append(tracks, trackOf(r.Local, [][]plane.XY{spaced(one.Line, 1)}))
		}
		if len(tracks) == 1 {
			continue
		}
		after, err := coverage.Check(t.Context(), s.field(), tracks, w)
		if err != nil {
			t.Fatal(err)
		}
		tolerance := 1e-5 * r.Balance.Field
		for _, v := range []struct {
			name      string
			got, want float64
		}{
			{"left", p.Left, after.Balance.Missed},
			{"swath", p.Swath, after.Balance.Swath - r.Balance.Swath},
		} {
			if math.Abs(v.got-v.want) > tolerance {
				t.Errorf("case %d: %s %.3f m², the balance says %.3f", k, v.name, v.got, v.want)
			}
		}
	}
}

// TestMovedAndTurned: the plan goes with the field. In one of ten fields rounding may decide between two
// ways, or two cuts, of the same cost; then the plans still are alike.
func TestMovedAndTurned(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	var other []string
	for k := range 10 {
		s := tattered(rng, 6)
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		by := plane.XY{X: 300 * (rng.Float64() - 0.5), Y: 300 * (rng.Float64() - 0.5)}
		turn := func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y}.Add(by) }
		w := drive.Work{Width: 5}
		ra, rb := s.check(t, w), s.moved(turn).check(t, w)
		gate := plane.XY{X: 3, Y: -45}
		there := rb.Local.XY(paper.Point(turn(gate)))
		a, b := planOf(t, ra, five, Options{Gate: &gate}), planOf(t, rb, five, Options{Gate: &there})
		for _, v := range []struct {
			name                    string
			got, want, alike, equal float64
		}{
			{"missed", b.Missed, a.Missed, 0.05, 0.05},
			{"left", b.Left, a.Left, 0.05, 0.05},
			{"extra double", b.ExtraDouble, a.ExtraDouble, 5 + 0.05*a.ExtraDouble, 0.5 + 0.01*a.ExtraDouble},
			{"passes", float64(len(b.Passes)), float64(len(a.Passes)), 2, 0},
			{"way", weighed(b), weighed(a), 0.2 * weighed(a), 0.02 * weighed(a)}, // more than ten passes are searched, beginning as they come
		} {
			if d := math.Abs(v.got - v.want); d > v.alike {
				t.Errorf("case %d: %s %.3f after moving and turning, %.3f before", k, v.name, v.got, v.want)
			} else if d > v.equal {
				other = append(other, fmt.Sprintf("case %d: %s %.3f after moving and turning, %.3f before", k, v.name, v.got, v.want))
				break
			}
		}
	}
	if len(other) > 2 {
		t.Errorf("%d of 10 plans differ:\n%s", len(other), strings.Join(other, "\n"))
	}
}

// TestNothingWorked: the whole field is one strip, worked in passes side by side; with an obstacle in its middle,
// around it.
func TestNothingWorked(t *testing.T) {
	for _, c := range []struct {
		name          string
		rings         [][]plane.XY
		passes        int // at most
		extra, beyond float64
	}{
		{"rectangle", [][]plane.XY{rectangle(-100, -50, 100, 50)}, 20, 0.1, 0.1},
		{"with an obstacle", [][]plane.XY{rectangle(-100, -50, 100, 50), rectangle(-20, -10, 20, 10)}, 24, 0.1, 0.1},
		{"triangle", [][]plane.XY{{{X: -100, Y: -50}, {X: 100, Y: -50}, {X: -100, Y: 50}}}, 21, 500, 1100},
	} {
		s := sketch{rings: c.rings, passes: [][]plane.XY{straight(500, 500, 520, 500, 2)}}
		r := s.check(t, drive.Work{Width: 5})
		p := planOf(t, r, five, Options{})
		audit(t, r, five, p)
		if len(p.Passes) > c.passes || p.ExtraDouble > c.extra || p.Outside > c.beyond || p.Left > 0.1 {
			t.Errorf("%s: %d passes, %.1f m² for nothing, %.1f outside, %.2f left; want %d, %.1f, %.1f at most, 0",
				c.name, len(p.Passes), p.ExtraDouble, p.Outside, p.Left, c.passes, c.extra, c.beyond)
		}
	}
}

// weighed is the length of a plan's way as the order weighs it; see way.cost.
func weighed(p Plan) float64 {
	l := p.Length
	for _, piece := range p.Route {
		l += piece.Reversed
	}
	return l
}

func TestWhyNot(t *testing.T) {
	// strips of 200 by 1 m (200 m²), 20 by 4 m, and 2 by 2 m
	s := blocked(rectangle(-100, 0, 100, 1), rectangle(20, 20, 40, 24), rectangle(-60, -30, -58, -28))
	r := s.check(t, drive.Work{Width: 1})
	unknown := r // as where nothing is known of the receiver, not even by the passes
	unknown.Strips = slices.Clone(r.Strips)
	for k := range unknown.Strips {
		unknown.Strips[k].Surety = coverage.SuretyUnknown
	}
	for _, c := range []struct {
		name string
		o    Options
		im   rig.Implement
		want map[Why]float64 // m²
	}{
		{"all are worth it", Options{}, five, map[Why]float64{}},
		{"least area 10 m²", Options{LeastArea: 10}, five, map[Why]float64{WhySmall: 4}},
		{"least width 1.5 m", Options{LeastWidth: 1.5}, five, map[Why]float64{WhyNarrow: 200}},
		{"certain only, as the passes bound the error", Options{CertainOnly: true}, five, map[Why]float64{}},
		{"certain only, nothing known", Options{CertainOnly: true}, five, map[Why]float64{WhyUnsure: 284}},
		{"a m² is worth 1 m of way", Options{Value: 1, PerMetre: 1}, five, map[Why]float64{WhyWay: 284}},
		{"a m² is worth 4 m of way", Options{Value: 4, PerMetre: 1}, five, map[Why]float64{WhyWay: 4}},
		{"value without cost", Options{Value: 1}, five, map[Why]float64{}},
		{"an hour costs 100, a m² is worth 1", Options{Value: 1, PerHour: 100}, five, map[Why]float64{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			of := r
			if strings.Contains(c.name, "nothing known") {
				of = unknown
			}
			p := planOf(t, of, c.im, c.o)
			audit(t, of, c.im, p)
			got := map[Why]float64{}
			for _, s := range p.Skipped {
				if s.Why != WhySliver {
					got[s.Why] += s.Area
				}
			}
			for _, why := range []Why{WhySmall, WhyNarrow, WhyUnsure, WhyWay, WhyNoise} {
				if math.Abs(got[why]-c.want[why]) > 0.5 {
					t.Errorf("%s: %.1f m², want %.1f", why, got[why], c.want[why])
				}
			}
		})
	}
}

// TestNoiseIsNotVisited: a gap of 2 cm beside an error of 10 cm is no strip.
func TestNoiseIsNotVisited(t *testing.T) {
	s := rowsWith(append(heights(-50, 10), append(heights(0.06, 9), 47.5)...)...)
	r := s.check(t, drive.Work{Width: 5, PassError: 0.1})
	p := planOf(t, r, five, Options{})
	audit(t, r, five, p)
	if len(p.Chosen) != 0 || len(p.Skipped) == 0 || p.Skipped[0].Why != WhyNoise || math.Abs(p.Skipped[0].Area-12) > 0.1 {
		t.Errorf("chosen %v, left out %v; want 12 m² within noise", p.Chosen, p.Skipped)
	}
}

func TestRunInIsWorked(t *testing.T) {
	s := blocked(rectangle(-40, 0, 40, 5))
	r := s.check(t, drive.Work{Width: 1})
	p := planOf(t, r, five, Options{Before: 3, Behind: 1})
	if one := p.Passes[0]; math.Abs(one.Length-84) > 0.01 || math.Abs(p.ExtraDouble-20) > 0.1 {
		t.Errorf("pass of %.2f m, %.2f m² worked for nothing; want 84 m and 20 m²", one.Length, p.ExtraDouble)
	}
	edge := rowsWith(append(heights(-50, 9), heights(0, 10)...)...)
	r = edge.check(t, drive.Work{Width: 5})
	p = planOf(t, r, five, Options{Before: 3, Behind: 1})
	if one := p.Passes[0]; one.Before != 0 || one.Behind != 0 || p.Outside > 0.1 {
		t.Errorf("worked %g m before and %g m behind, %.2f m² outside; want none: the field ends there", one.Before, one.Behind, p.Outside)
	}
}

func TestOfRefuses(t *testing.T) {
	r := rowsWith(heights(-50, 20)...).check(t, drive.Work{Width: 5})
	gap := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	gap.Strips[0].Shape = nil
	twice := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	twice.Strips = append(twice.Strips, twice.Strips[0])
	nan := plane.XY{X: math.NaN()}
	for _, c := range []struct {
		name string
		r    coverage.Result
		im   rig.Implement
		o    Options
		want string
	}{
		{"no width", r, rig.Implement{}, Options{}, "working width"},
		{"no radius", r, rig.Implement{Width: 5}, Options{}, "radius"},
		{"least area below 0", r, five, Options{LeastArea: -1}, "least area -1"},
		{"least width not a number", r, five, Options{LeastWidth: math.NaN()}, "least width"},
		{"speed of a car", r, five, Options{Speeds: Speeds{Way: 30}}, "speed on the way 108 km/h: must be from 0 to 72"},
		{"gate nowhere", r, five, Options{Gate: &nan}, "gate"},
		{"shapes gone", gap, five, Options{}, "no shape"},
		{"strip listed twice", twice, five, Options{}, "twice"},
		{"no field", coverage.Result{}, five, Options{}, "no field"},
	} {
		_, err := Of(t.Context(), c.r, c.im, c.o)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	if _, err := Of(t.Context(), r, rig.Implement{Width: 5}, Options{}); err == nil {
		t.Error("no radius: no error")
	} else if _, ok := errors.AsType[*turn.Lacking](err); !ok {
		t.Errorf("no radius: %T, want *turn.Lacking", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	whole := rowsWith(heights(-50, 19)...).check(t, drive.Work{Width: 5})
	if _, err := Of(ctx, whole, five, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestPlanIsTheSameTwice and can be written down.
func TestPlanIsTheSameTwice(t *testing.T) {
	s := tattered(rand.New(rand.NewPCG(7, 7)), 12)
	var first []byte
	for _, workers := range []int{1, 2, 7} {
		r := s.check(t, drive.Work{Width: 5, Workers: workers})
		got, err := json.Marshal(planOf(t, r, five, Options{}))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		}
		if string(got) != string(first) {
			t.Error("another number of workers gives another plan")
		}
	}
}
