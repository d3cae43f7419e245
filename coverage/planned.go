package coverage

import (
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// NamePlanned names for every missed strip the planned passes that were not driven
// there: those whose line runs inside the strip for half a credited width or more.
// Where the middle of a pass lies on missed ground, nobody drove it there.
//
// A planned pass of which half or more lies so was not driven at all, and is the cause of the strips it is named for; one that
// was lowered late is not. What a log gap leaves open stays open.
func (r *Result) NamePlanned(lines []geo.Line) {
	places := placesOf(r.Strips)
	step := min(r.Work.Credited()/20, 0.25)          // half a width is then found to a tenth of it
	inside := make([]map[int]float64, len(r.Strips)) // m by line
	box := plane.EmptyBox()
	for _, s := range r.Strips {
		box = box.Extend(s.Shape[0]...)
	}
	whole, missed := make([]float64, len(lines)), make([]float64, len(lines)) // m by line, and m of it on missed ground
	for n, l := range lines {
		for i := 1; i < len(l.Line); i++ {
			a, b := r.Local.XY(l.Line[i-1]), r.Local.XY(l.Line[i])
			from, to := within(a, b, box)
			d := a.Dist(b)
			whole[n] += d
			for at := from*d + step/2; at < to*d; at += step {
				if k := places.at(a.Lerp(b, at/d)); k >= 0 {
					if inside[k] == nil {
						inside[k] = map[int]float64{}
					}
					inside[k][n] += step
					missed[n] += step
				}
			}
		}
	}
	for k, m := range inside {
		r.Strips[k].Planned = nil
		for n := range lines {
			if m[n] < r.Work.Credited()/2 {
				continue
			}
			if s := &r.Strips[k]; missed[n] >= whole[n]/2 && s.Cause != CauseGap {
				s.Cause = CausePlanned
			}
			if !slices.Contains(r.Strips[k].Planned, lines[n].Name) {
				r.Strips[k].Planned = append(r.Strips[k].Planned, lines[n].Name)
			}
		}
	}
}

// within is the part of the segment from a to b that lies in a box, as shares of it
// (Liang and Barsky 1984, from memory); to is not above from where none does.
func within(a, b plane.XY, box plane.Box) (from, to float64) {
	to = 1
	d := b.Sub(a)
	for _, s := range [4][2]float64{{-d.X, a.X - box.Min.X}, {d.X, box.Max.X - a.X}, {-d.Y, a.Y - box.Min.Y}, {d.Y, box.Max.Y - a.Y}} {
		switch {
		case s[0] < 0:
			from = max(from, s[1]/s[0])
		case s[0] > 0:
			to = min(to, s[1]/s[0])
		case s[1] < 0:
			return 0, 0
		}
	}
	return from, to
}
