package ground

import (
	"iter"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// dayPerSlow: what a receiver errs by over a whole day, beside the boundary's own place, is about as large as what it errs by
	// within the drive. From memory: places are told half again as badly against a map as from pass to pass.
	dayPerSlow = 1.0
	// rimEvery is how far apart places along the boundary are looked at, and rimHeld how far along a driver keeps what
	// he is beside his line by.
	rimEvery = 10.0 // m
	rimHeld  = 40.0 // m
	// rimReach: passes that lie farther from the boundary than so many deviations of both errors do not run along it.
	rimReach = 4.0
	rimLeast = 0.3 // m, ... and this, by which drivers may be beside it
	// rimAlong: a pass runs along the boundary within 15°.
	rimAlong   = 0.2588 // sin 15°
	rimRounds  = 20     // of weighing places against each other
	rimClosest = 0.01   // m, no driver keeps closer to a line
	rimFewest  = 8      // fewer places tell nothing
	// rimHabit: so far inside the boundary, or beyond it, drivers keep on all sides alike, as a standard deviation. Without it nobody could
	// tell which of four sides was driven aside. Common practice, no source.
	rimHabit = 0.1 // m
)

// AgainstBoundary is what a place errs by against the boundary, in metres, 95 %, for a pass-to-pass error: the day's error and that within the drive.
func AgainstBoundary(passError float64) float64 {
	return drive.In95 * math.Hypot(1, dayPerSlow) * passError * perPassError
}

// Shift is a constant shift between log and boundary, as passes along the boundary have it. On all sides alike these lie a
// little short of it or a little beyond, as the driver does. A shift makes them lie short on one side and beyond on the other:
//
//	gap on side i = habit + nᵢ·shift + what he is beside his line by,   nᵢ the side's normal, inward
//
// A log cannot tell such a shift from driving so.
type Shift struct {
	By    plane.XY // m, the log lies so far off; zero: nothing tells it
	Doubt float64  // m, 95 %, of the coordinate that is known less well

	day  float64    // m, deviation of the shift before anything tells it
	at   [][]rimAt  // for each run
	sway [3]float64 // lower Cholesky factor, row by row, of the covariance of By by what drivers are beside their lines by
}

// rimAt is a place of a run along the boundary: which part of the run lies behind it, and what a metre that it is drawn along the
// side's normal adds to the shift.
type rimAt struct {
	part   float64
	normal plane.XY
	adds   plane.XY
}

// ShiftOf fits the shift, taken for normal before anything tells it, by least squares whose weights fall with the
// distance from the line (Cauchy's, iterated): a side that was driven far off on purpose has little say. The rim is the field's.
func ShiftOf(rim *plane.Edges, runs []drive.Run, w drive.Work, passError float64) Shift {
	s := Shift{day: dayPerSlow * passError * perPassError, at: make([][]rimAt, len(runs))}
	if !(s.day > 0) {
		return s
	}
	reach := max(rimLeast, rimReach*math.Hypot(s.day, passError*perPassError))
	var gaps []float64
	for i, one := range runs {
		last, near := math.Inf(-1), int32(0)
		for _, stop := range one.Stops {
			if stop.S < last+rimEvery || !stop.Next.Ground() {
				continue
			}
			last = stop.S
			for _, side := range [2]float64{1, -1} {
				out := stop.Left.Scale(side)
				end := stop.At.Add(out.Scale((one.Parts[stop.Part].Width - w.Overlap) / 2))
				if !rim.Near(end, reach) { // as most, and to find the nearest edge from afar takes long where the boundary has many
					continue
				}
				gap, k := rim.Signed(end, near)
				near = k
				along := rim.At(k).B.Sub(rim.At(k).A).Unit()
				if normal := along.Left(); math.Abs(gap) <= reach && normal.Dot(out) < 0 && math.Abs(along.Dot(out)) <= rimAlong*out.Len() {
					s.at[i], gaps = append(s.at[i], rimAt{part: stop.S / max(one.Pass.Length, 1e-9), normal: normal}), append(gaps, gap)
				}
			}
		}
	}
	var places []*rimAt
	for _, of := range s.at {
		for k := range of {
			places = append(places, &of[k])
		}
	}
	if len(places) >= rimFewest {
		s.fit(places, gaps)
	}
	return s
}

// fit works out the shift and what each place adds to it.
func (s *Shift) fit(places []*rimAt, gaps []float64) {
	habit := 0.0
	off := make([]float64, len(gaps))
	weights := make([]float64, len(gaps))
	for round := range rimRounds {
		for i, p := range places {
			if round > 0 { // all alike at first
				off[i] = math.Abs(gaps[i] - habit - p.normal.Dot(s.By))
			}
		}
		scale := max(rimClosest, 1.4826*drive.Median(slices.Clone(off)))
		for i := range off {
			weights[i] = rimEvery / rimHeld / (scale*scale + off[i]*off[i]/4)
		}
		// Normal equations of habit and shift; habit is taken out first (Frisch and Waugh 1933).
		const own = 1 / (rimHabit * rimHabit) // as if a place without a side lay on the boundary
		sum, gap := own, 0.0
		var normal plane.XY
		for i, p := range places {
			sum, gap, normal = sum+weights[i], gap+weights[i]*gaps[i], normal.Add(p.normal.Scale(weights[i]))
		}
		gap, normal = gap/sum, normal.Scale(1/sum)
		xx, xy, yy := 1/(s.day*s.day)+own*normal.X*normal.X, own*normal.X*normal.Y, 1/(s.day*s.day)+own*normal.Y*normal.Y
		for i, p := range places {
			n := p.normal.Sub(normal)
			xx, xy, yy = xx+weights[i]*n.X*n.X, xy+weights[i]*n.X*n.Y, yy+weights[i]*n.Y*n.Y
		}
		det := xx*yy - xy*xy
		solved := func(v plane.XY) plane.XY {
			return plane.XY{X: (yy*v.X - xy*v.Y) / det, Y: (xx*v.Y - xy*v.X) / det}
		}
		by := solved(normal.Scale(own * gap))
		for i, p := range places {
			p.adds = solved(p.normal.Sub(normal).Scale(weights[i]))
			by = by.Add(p.adds.Scale(gaps[i] - gap))
		}
		s.By, habit = by, gap-normal.Dot(by)
		// The covariance is the inverse of the normal matrix; what drivers add to it is the sum over the places.
		s.Doubt = drive.In95 * math.Sqrt(max(xx, yy)/det)
		xx, xy, yy = 0, 0, 0
		for i, p := range places {
			xx, xy, yy = xx+p.adds.X*p.adds.X/weights[i], xy+p.adds.X*p.adds.Y/weights[i], yy+p.adds.Y*p.adds.Y/weights[i]
		}
		l := math.Sqrt(xx)
		s.sway = [3]float64{l, xy / max(l, 1e-9), math.Sqrt(max(0, yy-xy*xy/max(xx, 1e-18)))}
	}
}

// seen is the shift that the fit would find in addition, were each place off by what at has for its part of a run.
func (s *Shift) seen(at func(run int, part float64) plane.XY) (by plane.XY) {
	for i, places := range s.at {
		for _, p := range places {
			by = by.Add(p.adds.Scale(p.normal.Dot(at(i, p.part))))
		}
	}
	return by
}

// drawn is what a shift may be off by that was fitted: by what of a day's error it does not see, and by what drivers are beside their lines.
// It takes four numbers drawn from N(0, 1).
func (s *Shift) drawn(of [4]float64) plane.XY {
	day := plane.XY{X: of[0], Y: of[1]}.Scale(s.day)
	a, b := of[2], of[3]
	seen := s.seen(func(int, float64) plane.XY { return day })
	return day.Sub(seen).Add(plane.XY{X: s.sway[0] * a, Y: s.sway[1]*a + s.sway[2]*b})
}

// each gives the runs as they would be without the shift, one after the other: its stops hold until the next.
func (s *Shift) each(runs []drive.Run) iter.Seq2[int, drive.Run] {
	return func(yield func(int, drive.Run) bool) {
		var room []drive.Stop
		for i, one := range runs {
			if s.By != (plane.XY{}) {
				room = append(room[:0], one.Stops...)
				s.takenOut(room)
				one.Stops = room
			}
			if !yield(i, one) {
				return
			}
		}
	}
}

// takenOut takes the shift out of where stops are.
func (s *Shift) takenOut(stops []drive.Stop) {
	for k := range stops {
		stops[k].At = stops[k].At.Sub(s.By)
	}
}

// Moved are runs as they would be without the shift.
func (s *Shift) Moved(runs []drive.Run) []drive.Run {
	if s.By == (plane.XY{}) {
		return runs
	}
	out := slices.Clone(runs)
	for i := range out {
		out[i].Stops = slices.Clone(out[i].Stops)
		s.takenOut(out[i].Stops)
	}
	return out
}
