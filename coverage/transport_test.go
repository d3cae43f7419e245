package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// leg is a straight way at a speed, with the tool in the ground or not.
type leg struct {
	to    plane.XY
	speed float64 // m/s
	work  bool
}

// legs drives them from a place on, a fix a second; corners are driven without rounding.
func legs(from plane.XY, all []leg) (line []plane.XY, times []float64, state []geo.WorkState) {
	now := 1.7e9
	add := func(p plane.XY, s geo.WorkState) {
		line, times, state = append(line, p), append(times, now), append(state, s)
	}
	add(from, geo.Lifted)
	for _, l := range all {
		s := geo.Lifted
		if l.work {
			s = geo.Working
		}
		n := int(math.Ceil(from.Dist(l.to) / l.speed))
		for k := 1; k <= n; k++ {
			now += from.Dist(l.to) / l.speed / float64(n)
			add(from.Lerp(l.to, float64(k)/float64(n)), s)
		}
		from = l.to
	}
	return line, times, state
}

// TestTransportOverWorkedGround: 100 × 60 m, 6 m wide, rows from the south at 2 m/s. What is driven in between with
// the tool lifted, straight on, is told by the ground it goes over; what is worked twice on purpose stays work.
//
//	60 ┌────────────────────┐
//	   │ ──────────────────► row 3 ...
//	   │ ◄────────────────── row 2
//	   │ ──────────────────► row 1
//	 0 └────────────────────┘
func TestTransportOverWorkedGround(t *testing.T) {
	row := func(n int, forth bool) []leg { // row n with the way to its beginning
		y := 6*float64(n) - 3
		a, b := plane.XY{X: 0, Y: y}, plane.XY{X: 100, Y: y}
		if !forth {
			a, b = b, a
		}
		out := plane.XY{X: a.X + (a.X-50)/10, Y: y} // 5 m outside
		return []leg{{out, 2, false}, {a, 2, false}, {b, 2, true}, {plane.XY{X: b.X + (b.X-50)/10, Y: y}, 2, false}}
	}
	rows := func(n int) (all []leg) {
		for k := range n {
			all = append(all, row(k+1, k%2 == 0)...)
		}
		return all
	}
	lane := func(y, x0, x1, speed float64, work bool) []leg {
		return []leg{{plane.XY{X: x0 - 5, Y: y}, 2, false}, {plane.XY{X: x0, Y: y}, 2, false}, {plane.XY{X: x1, Y: y}, speed, work}, {plane.XY{X: x1 + 5, Y: y}, speed, false}}
	}
	for _, c := range []struct {
		name     string
		legs     []leg
		lifted   float64 // m inside the field told as lifted, within 12 m
		doubtful float64 // m, the same
		double   float64 // m² of worked ground that they may have worked again
	}{
		{"ten rows", rows(10), 0, 0, 0},
		{"back along a row at twice the speed less a little", append(rows(10), lane(27, 0, 100, 3.9, false)...), 100, 100, 600},
		{"a short way on over a worked row, at the working speed", append(rows(10), []leg{{plane.XY{X: -5, Y: 30}, 2, false}, {plane.XY{X: 40, Y: 30}, 2, false}, {plane.XY{X: 40, Y: 31}, 2, false}, {plane.XY{X: -5, Y: 31}, 2, false}}...), 80, 80, 240 + 40},
		{"a row driven twice at the working speed", append(rows(10), lane(27, 0, 100, 2, true)...), 0, 100, 600},
		{"all rows driven twice", append(rows(10), rows(10)...), 0, 1000, 6000},
	} {
		line, times, _ := legs(plane.XY{X: -20, Y: 3}, c.legs)
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: [][]plane.XY{line}, Times: [][]float64{times}}
		r := checked(t, s, drive.Work{Width: 6})
		lifted, doubtful := 0.0, 0.0
		for _, l := range r.Log {
			if l.Doubtful {
				doubtful += l.Length
			}
			for k := 1; k < len(l.Line); k++ {
				if p := l.Line[k].Lerp(l.Line[k-1], 0.5); !l.Worked && p.X > -50 && p.X < 50 {
					lifted += l.Line[k].Dist(l.Line[k-1])
				}
			}
		}
		if math.Abs(lifted-c.lifted) > 12 || math.Abs(doubtful-c.doubtful) > max(12, c.doubtful/20) {
			t.Errorf("%s: %.0f m in the field lifted, %.0f m doubtful, want %.0f and %.0f", c.name, lifted, doubtful, c.lifted, c.doubtful)
		}
		if (r.Doubt != nil) != (c.doubtful > 0) {
			t.Errorf("%s: doubt %+v", c.name, r.Doubt)
		}
		if d := r.Doubt; d != nil && math.Abs(d.Double[1]-d.Double[0]-c.double) > max(80, c.double/20) {
			t.Errorf("%s: worked twice or more from %.0f to %.0f m², want %.0f m² between", c.name, d.Double[0], d.Double[1], c.double)
		}
	}
}

// TestAcrossThePasses: on from the first of the rows, across ground that the others work later, and back into work
// without a turn of its own: by the way, and by the speed.
func TestAcrossThePasses(t *testing.T) {
	for _, c := range []struct {
		name   string
		speed  float64
		lifted bool
	}{{"slower", 1.2, true}, {"as at work", 2, false}} {
		work := []leg{{plane.XY{X: 0, Y: 3}, 2, false}, {plane.XY{X: 40, Y: 3}, 2, true}, {plane.XY{X: 60, Y: 57}, c.speed, false}, {plane.XY{X: 100, Y: 57}, 2, true}, {plane.XY{X: 110, Y: 57}, 2, false}}
		for k := range 8 {
			y, a, b := 51-6*float64(k), plane.XY{X: 105}, plane.XY{X: -5}
			if k%2 == 1 {
				a, b = b, a
			}
			a.Y, b.Y = y, y
			work = append(work, leg{a, 2, false}, leg{b, 2, true})
		}
		line, times, _ := legs(plane.XY{X: -10, Y: 3}, work)
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: [][]plane.XY{line}, Times: [][]float64{times}}
		r := checked(t, s, drive.Work{Width: 6})
		middle := plane.XY{} // the plane's middle is the field's
		for _, l := range r.Log {
			for k := 1; k < len(l.Line); k++ {
				if p := l.Line[k]; p.Dist(middle) < 4 && math.Abs(l.Line[k].X-l.Line[k-1].X) < math.Abs(l.Line[k].Y-l.Line[k-1].Y) {
					if l.Worked == c.lifted || !l.Doubtful {
						t.Errorf("%s: worked %v, doubtful %v (%s), want lifted %v, doubtful", c.name, l.Worked, l.Doubtful, l.Why, c.lifted)
					}
				}
			}
		}
	}
}

// TestSmallFieldWorkedTwice: all of it is over worked ground, in rows shorter than a pass driven again would have to be.
func TestSmallFieldWorkedTwice(t *testing.T) {
	var all []leg
	for k := range 20 {
		y, a, b := 6*float64(k%10)+3, plane.XY{X: -5}, plane.XY{X: 45}
		if k%2 == 1 {
			a, b = b, a
		}
		a.Y, b.Y = y, y
		all = append(all, leg{a, 2, false}, leg{b, 2, true})
	}
	line, times, _ := legs(plane.XY{X: -20, Y: 3}, all)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 40, 60)}, Lines: [][]plane.XY{line}, Times: [][]float64{times}}
	r := checked(t, s, drive.Work{Width: 6})
	if b := r.Balance; b.Twice+b.More < 0.95*b.Field {
		t.Errorf("%.0f of %.0f m² worked twice or more, want all", b.Twice+b.More, b.Field)
	}
	if r.Doubt == nil || r.Doubt.Double[0] > 0.05*r.Balance.Field {
		t.Errorf("doubt %+v, want that all may have been worked once", r.Doubt)
	}
}

// TestSwerveIntoTheHeadland: off the row into the headland and back within some metres, by less than a turn. Where
// nothing else works that ground the tool stayed down; where the round does it was up.
func TestSwerveIntoTheHeadland(t *testing.T) {
	swerve := []leg{{plane.XY{X: 30, Y: 14}, 2, true}, {plane.XY{X: 36, Y: 5.5}, 2, true}, {plane.XY{X: 64, Y: 5.5}, 2, true}, {plane.XY{X: 70, Y: 14}, 2, true}, {plane.XY{X: 105, Y: 14}, 2, true}}
	for _, c := range []struct {
		name   string
		before []leg
		worked bool
	}{
		{"nothing else there", nil, true},
		{"the round has been there", []leg{{plane.XY{X: -5, Y: 5}, 2, false}, {plane.XY{X: 105, Y: 5}, 2, true}, {plane.XY{X: 120, Y: 5}, 2, false}, {plane.XY{X: 120, Y: 70}, 2, false}, {plane.XY{X: -20, Y: 70}, 2, false}}, false},
	} {
		line, times, _ := legs(plane.XY{X: -20, Y: 14}, append(append(c.before, leg{plane.XY{X: -5, Y: 14}, 2, false}), swerve...))
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: [][]plane.XY{line}, Times: [][]float64{times}}
		r := checked(t, s, drive.Work{Width: 6, Headland: 10})
		found := false
		for _, l := range r.Log {
			if p := l.Line[len(l.Line)/2]; p.Dist(plane.XY{X: 0, Y: -24.5}) < 6 && l.Doubtful {
				found = true
				if l.Worked != c.worked {
					t.Errorf("%s: worked %v (%s), want %v", c.name, l.Worked, l.Why, c.worked)
				}
			}
		}
		if !found {
			t.Errorf("%s: no doubtful stretch", c.name)
			for _, l := range r.Log {
				t.Logf("%s %v %q %.0f m", l.Activity, l.Doubtful, l.Why, l.Length)
			}
		}
	}
}

// TestDoubtHoldsWhatIsSaid: what is said of missed and double-worked ground lies in its range, on logs whose truth is
// known; logged states leave no doubt.
func TestDoubtHoldsWhatIsSaid(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	for n, p := range plans() {
		w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
		rng := rand.New(rand.NewPCG(seed, uint64(n)))
		log, _ := shiftOf(p, w, rng).logged(1, 0.02, 0.01, 0, rng)
		if known := checked(t, log, w); known.Doubt != nil {
			t.Errorf("%s: logged, but doubt %+v", p.name, known.Doubt)
		}
		log.State = nil
		r := checked(t, log, w)
		if r.Doubt == nil {
			if slices.ContainsFunc(r.Log, func(s drive.Stretch) bool { return s.Doubtful }) {
				t.Errorf("%s: doubtful stretches and no doubt", p.name)
			}
			continue
		}
		d, double := r.Doubt, r.Balance.Twice+r.Balance.More
		if !(d.Missed[0] <= r.Balance.Missed && r.Balance.Missed <= d.Missed[1] && d.Double[0] <= double && double <= d.Double[1]) || d.Metres <= 0 {
			t.Errorf("%s: missed %.1f, double %.1f m², doubt %+v", p.name, r.Balance.Missed, double, *d)
		}
	}
}
