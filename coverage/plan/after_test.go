package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// compared is the plan of one implement.
func compared(t *testing.T, field []plane.Polygon, width float64, o Options) Found {
	t.Helper()
	f, err := comparedOne(t.Context(), field, mounted(width), o, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A field of 120 × 60 m and rows of 6 m along it, one round: 8 rows with joins at 6, 12 ... 54 m. By hand: what was missed along one of
// those joins lies in no row well inside until the rows slide; what was missed in the middle of a row always does.
func TestRowsSlideOverWhatWasMissed(t *testing.T) {
	field := box(120, 60)
	o := Options{Fixed: true, Rounds: 1, Speed: 8, MissedHours: 40, Workers: 1} // so that 40 m² are worth a row more
	var joins [][]plane.XY
	for y := 6.0; y <= 54; y += 6 {
		joins = append(joins, []plane.XY{{X: 6, Y: y}, {X: 114, Y: y}})
	}
	var crossing [][]plane.XY
	for x := 10.0; x <= 110; x += 0.5 {
		crossing = append(crossing, []plane.XY{{X: x, Y: 6}, {X: x, Y: 54}})
	}
	along := plane.Polygon{rectangle(10, 29.8, 110, 30.2)}
	middle := plane.Polygon{rectangle(10, 32.8, 110, 33.2)}
	across := plane.Polygon{rectangle(50, 10, 50.4, 50)} // 7 joins in it, each with 0.6 m that are not well inside
	for _, c := range []struct {
		name                        string
		missed                      []plane.Polygon
		joins                       [][]plane.XY
		do                          func(*Options)
		total, plainly, caught, old float64 // old: share of joins on joins before, without regard to it
		slides                      bool
	}{
		{"along a join", []plane.Polygon{along}, nil, nil, 40, 0, 40, 0, true},
		{"in the middle of a row", []plane.Polygon{middle}, nil, nil, 40, 40, 40, 0, false},
		{"across", []plane.Polygon{across}, nil, nil, 16, 0.4 * (40 - 7*0.6), 0.4 * (40 - 7*0.6), 0, false},
		{"joins alone", []plane.Polygon{middle}, joins, nil, 40, 40, 40, 1, true},
		{"joins across", []plane.Polygon{middle}, crossing, nil, 40, 40, 40, 0, false},
		{"wedges left", []plane.Polygon{along}, nil, func(o *Options) { o.LeaveWedges = true }, 40, 0, 0, 0, false},
		{"along an edge", []plane.Polygon{along}, nil, func(o *Options) { o.AlongLongest, o.Fixed = true, false }, 40, 0, 0, 0, false},
		{"nothing missed", nil, joins, nil, 0, 0, 0, 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := o
			o.Before = &Before{c.missed, c.joins}
			if c.do != nil {
				c.do(&o)
			}
			f := compared(t, field, 6, o)
			r := *f.Candidate.Repair
			if math.Abs(r.Total-c.total) > 1e-3 || math.Abs(r.Plainly-c.plainly) > 0.3 || math.Abs(r.Caught-c.caught) > 0.3 {
				t.Errorf("%.2f of %.2f m² caught, %.2f without regard to it; want %.2f of %.2f, %.2f", r.Caught, r.Total, r.Plainly, c.caught, c.total, c.plainly)
			}
			if (r.Slide > 0) != c.slides {
				t.Errorf("slid %.2f m", r.Slide)
			}
			if share := r.PlainlyOn / r.PlainlyJoins; math.Abs(share-c.old) > 0.05 {
				t.Errorf("%.2f of joins on joins before, want %.2f", share, c.old)
			}
			if c.slides && r.OnOld > 0.15*r.Joins { // the outermost always lie on the round's
				t.Errorf("%.1f of %.1f m of joins on joins before", r.OnOld, r.Joins)
			}
			if got := f.Plan.Options.slide; got != r.Slide {
				t.Errorf("the plan is slid %g m, and %g are told", got, r.Slide)
			}
		})
	}
}

// What is told of a plan is what places on a grid say: one is caught where it lies nearer to the line of a row than half a width less 0.3 m. With
// regard to what was missed the work is never worse by its own measure.
func TestRepairByPlaces(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	field := box(150, 90)
	for range 3 {
		var b Before
		for range 6 { // within the interior, so that bends of rounds play no part
			x, y := 15+100*rng.Float64(), 15+60*rng.Float64()
			b.Missed = append(b.Missed, plane.Polygon{rectangle(x, y, x+20*rng.Float64()+1, y+1.5*rng.Float64()+0.1)})
		}
		for i := len(b.Missed) - 1; i > 0; i-- { // of ground once
			for k := range i {
				if b.Missed[i][0].Bounds().Meets(b.Missed[k][0].Bounds()) {
					b.Missed = append(b.Missed[:i], b.Missed[i+1:]...)
					break
				}
			}
		}
		o := Options{Fixed: true, Heading: geo.Heading(0.3 * rng.Float64()), Rounds: 1, Speed: 8, Workers: 1, Before: &b}
		f := compared(t, field, 5, o)
		r := f.Candidate.Repair
		const step = 0.05
		caught, total := 0.0, 0.0
		for _, p := range b.Missed {
			for _, at := range probesIn(p, step) {
				total += step * step
				for _, pass := range f.Plan.Passes {
					if pass.Round == 0 && (plane.Segment{A: pass.Line[0], B: pass.Line[len(pass.Line)-1]}).Dist(at) <= 2.5-WellInside {
						caught += step * step
						break
					}
				}
			}
		}
		if math.Abs(total-r.Total) > 0.03*r.Total+0.3 || math.Abs(caught-r.Caught) > 0.03*r.Total+0.3 {
			t.Errorf("%.2f of %.2f m² caught, by places %.2f of %.2f", r.Caught, r.Total, caught, total)
		}
		o.Before = nil
		plain := compared(t, field, 5, o)
		value := func(c Candidate, caught, on float64) float64 { return c.Value + (r.Total-caught+0.05*on)/1e4*8 }
		if value(f.Candidate, r.Caught, r.OnOld) > value(plain.Candidate, r.Plainly, r.PlainlyOn)+1e-9 {
			t.Errorf("worse than without regard to what was missed: %+v", r)
		}
	}
}

// The estimate by which directions and slides are chosen is what the plan laid out that way comes to.
func TestGuessIsTheRepair(t *testing.T) {
	b := Before{Missed: []plane.Polygon{{rectangle(20, 23.7, 100, 24.3)}, {rectangle(60, 40, 61.5, 47)}}, Joins: [][]plane.XY{{{X: 10, Y: 24}, {X: 110, Y: 24}}, {{X: 10, Y: 33.2}, {X: 110, Y: 33.2}}}}
	s, err := surveyOf(t.Context(), box(120, 60), mounted(6), Options{Fixed: true, Rounds: 1, Speed: 8, Workers: 1, Before: &b})
	if err == nil {
		err = s.roundsAndCorridors(t.Context())
	}
	if err != nil {
		t.Fatal(err)
	}
	b.Joins = append(b.Joins, b.Joins...) // a join is an edge of two passes
	old := newJoins(b.Joins)
	const each = 0.05
	var places []plane.XY
	for _, p := range b.Missed {
		places = append(places, probesIn(p, each)...)
	}
	stand := s.standIn(places, old.places)
	some := map[bool]int{}
	for _, h := range []geo.Heading{0, 0.05, math.Pi / 2} {
		for slide := 0.0; slide < 6; slide += 0.7 {
			p, err := s.lay(t.Context(), choice{heading: h, slide: slide}, nil)
			if err != nil {
				t.Fatal(err)
			}
			r, err := p.repair(t.Context(), b, old)
			if err != nil {
				t.Fatal(err)
			}
			caught, on := s.slid(slide).guess(h, stand)
			if got := float64(caught) * each * each; math.Abs(got-r.Caught) > 0.06*r.Total {
				t.Errorf("heading %.2f, slid %.1f m: %.2f m² by the estimate, %.2f by the plan", h, slide, got, r.Caught)
			}
			if math.Abs(on-r.OnOld) > 20 {
				t.Errorf("heading %.2f, slid %.1f m: %.0f m of joins on joins by the estimate, %.0f by the plan", h, slide, on, r.OnOld)
			}
			some[r.Caught > 0.5*r.Total]++
		}
	}
	if some[true] == 0 || some[false] == 0 {
		t.Errorf("all alike: %v", some)
	}
}
