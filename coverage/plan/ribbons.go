package plan

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/rig"
	"balk/coverage/slope"
	"balk/coverage/sweeps"
	"balk/geo/plane"
)

// Hill is how a field lies; sets turn uphill on it by their crab angle per percent (rig.Implement). The zero value: level, or not known.
type Hill struct {
	Rise    plane.XY       // m per m uphill, everywhere alike
	Surface *slope.Surface // in place of Rise where it knows the slope; nil: none
}

// mostRise is the steepest Hill, m per m; what is beyond is a typing error.
const mostRise = 1.0

func (h Hill) validate() error { return validate(amount{"slope, m per m", h.Rise.Len(), mostRise}) }

// turns says whether a set crabs on it.
func (h Hill) turns(im rig.Implement) bool {
	return im.CrabPerPercent > 0 && (h.Rise != (plane.XY{}) || h.Surface != nil)
}

// crab is the crab angle of a set that faces ahead and turns so many degrees per percent, rad, above 0 to the left: uphill.
func (h Hill) crab(perPercent float64, at, ahead plane.XY) float64 {
	rise := h.Rise
	if l, ok := h.Surface.At(at); ok {
		rise = l.Rise
	}
	return crabOn(perPercent, rise, ahead)
}

// crabOn is that where the ground rises so.
func crabOn(perPercent float64, rise, ahead plane.XY) float64 {
	return perPercent * 100 * rise.Dot(ahead.Left()) * math.Pi / 180
}

// hillStep is how far apart the places of a pass are on a hill that is not everywhere alike, m.
const hillStep = 10.0

// toothed are the sweeps of one bar.
type toothed struct {
	frame       sweeps.Frame // seen from the middle of the bar that the mount tells of
	right, left float64      // m from there, that the bar is wide; right below 0
}

// toothedOf are the bars of a set whose sweeps are known. Each has work of its own, so what one leaves counts though another went over it; what several leave
// counts once.
func toothedOf(im rig.Implement) (bars []toothed) {
	for k := range max(1, len(im.Bars)) {
		one := im.OfBar(k)
		if !one.Sweeps.Known() {
			continue
		}
		at := plane.XY{X: im.Mount.BarBehind - one.Mount.BarBehind, Y: im.Mount.BarRight - one.Mount.BarRight}
		bars = append(bars, toothed{sweeps.Of(one.Sweeps, false).Moved(at), at.Y - one.Width/2, at.Y + one.Width/2})
	}
	return bars
}

// uncut is what the sweeps leave between them in the bends of a plan, and on a hill, m², every pass by itself. The bar follows its line square to it; in a bend
// the implement turns about the line of its axle, or the tractor's, so that the bar's ends are led aside (sweeps.Motion).
func (p Plan) uncut(ctx context.Context) (sum float64, err error) {
	bars := toothedOf(p.Implement)
	for _, pass := range p.Passes {
		var left []plane.Polygon
		for _, b := range bars {
			for _, one := range p.ribbons(pass, b) {
				if len(bars) == 1 {
					sum += one.Area
				} else {
					left = append(left, plane.Polygon{one.Shape})
				}
			}
		}
		if len(left) == 0 {
			continue
		}
		if left, err = plane.Union(ctx, left, nil); err != nil {
			return 0, err
		}
		sum += ground.AreaOf(left)
	}
	return sum, nil
}

// ribbons are what one bar leaves on a pass.
func (p Plan) ribbons(pass Pass, b toothed) []sweeps.Ribbon {
	axle, hill := p.Implement.Mount.Pivot(), p.Options.Hill
	line := drive.Moving(spaced(pass.Line))
	if hill.Surface != nil {
		line = stepped(line, hillStep)
	}
	places := coverage.PlacesOf(drive.Along(line, p.Implement.Width, 0))
	motions := sweeps.Motions(places, b.frame.Base())
	for i, m := range motions {
		places[i].Right, places[i].Left = b.right, b.left
		// The centre lies abeam of the axle: seen from the bar it lies aslant, and the bar crabs.
		motions[i].Crab = math.Asin(max(-1, min(1, axle*m.Curvature)))
		if hill.turns(p.Implement) {
			motions[i].Crab += hill.crab(p.Implement.CrabPerPercent, places[i].At, places[i].Ahead)
		}
	}
	return b.frame.Along(places, motions, 0)
}

// stepped is a line with points so near to each other, m.
func stepped(line []plane.XY, step float64) []plane.XY {
	out := line[:1:1]
	for i, p := range line[1:] {
		n := math.Ceil(p.Dist(line[i]) / step)
		for k := 1.0; k < n; k++ {
			out = append(out, line[i].Lerp(p, k/n))
		}
		out = append(out, p)
	}
	return out
}

// slant is how much of a metre of straight rows stays uncut between sweeps on a hill, m², by their direction.
type slant struct {
	bars  []toothed
	crab  float64    // degrees per percent
	rises []plane.XY // on which rows run
}

// hillLattice is how far apart slopes are looked at to estimate directions, m.
const hillLattice = 25.0

// slantOf is that of a field; the zero value where no hill or layout is known.
func slantOf(field []plane.Polygon, im rig.Implement, h Hill) slant {
	s := slant{toothedOf(im), im.CrabPerPercent, nil}
	if !h.turns(im) || len(s.bars) == 0 {
		return slant{}
	}
	if h.Surface == nil {
		s.rises = []plane.XY{h.Rise}
		return s
	}
	var edges plane.Edges
	edges.AddPolygons(field)
	box := plane.EmptyBox()
	for _, p := range field {
		box = box.Extend(p[0]...)
	}
	step := max(hillLattice, box.Max.Dist(box.Min)/hillLattice)
	for x := box.Min.X + step/2; x < box.Max.X; x += step {
		for y := box.Min.Y + step/2; y < box.Max.Y; y += step {
			p := plane.XY{X: x, Y: y}
			if !edges.Holds(p) {
				continue
			}
			rise := h.Rise
			if l, ok := h.Surface.At(p); ok {
				rise = l.Rise
			}
			s.rises = append(s.rises, rise)
		}
	}
	return s
}

// uncut is that of rows along u, driven there and back.
func (s slant) uncut(u plane.XY) float64 {
	sum := 0.0
	for _, r := range s.rises {
		crab := crabOn(s.crab, r, u)
		sum += uncutBy(s.bars, sweeps.Motion{Crab: crab}) + uncutBy(s.bars, sweeps.Motion{Crab: -crab})
	}
	return sum / float64(max(1, 2*len(s.rises)))
}

// uncutBy is ground across the way that any of some bars leaves, m.
func uncutBy(bars []toothed, m sweeps.Motion) (sum float64) {
	var open []sweeps.Lap
	for _, b := range bars {
		for _, l := range b.frame.Laps(m) {
			if l.Lap < 0 {
				open = append(open, l)
			}
		}
	}
	right := func(l sweeps.Lap) float64 { return l.At + l.Lap/2 }
	slices.SortFunc(open, func(a, b sweeps.Lap) int { return cmp.Compare(right(a), right(b)) })
	reach := math.Inf(-1)
	for _, l := range open {
		left := l.At - l.Lap/2
		sum += max(0, left-max(right(l), reach))
		reach = max(reach, left)
	}
	return sum
}
