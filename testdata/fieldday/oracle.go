package fieldday

import (
	"cmp"
	"context"
	"iter"
	"math"
	"math/rand/v2"
	"slices"

	"balk/geo/plane"
)

// Oracle is what one can say of a day who has its log alone and is told how such receivers err and how drivers lower and lift, by drives
// drawn from the log: what may have happened, all of it alike likely. Their ground is worked out by the engine of the truth. White
// noise is taken for known, since the way of a machine tells it from a motion.
type Oracle struct {
	Situation string  `json:"situation"`
	Seed      uint64  `json:"seed"`
	Width     float64 `json:"width"` // m², of the range that holds 95 % of what is missed in the drives drawn

	Real   int `json:"real"`   // true strips of 20 cm by 10 m and more
	Sure   int `json:"sure"`   // ... that are missed, by a tenth or more, in 95 % of the drives drawn or more
	Listed int `json:"listed"` // ... that lie on listed ones once they are taken to where the receiver has them
}

const (
	oracleDraws = 40 // a deviation of so many is good to one in nine
	surely      = 0.95
	besideReal  = 1.0 // m: passes farther from the middle of a strip than this and their width have no part in it
	normal95    = 1.96
)

// Tells says whether there is an oracle of a situation: nothing is wrong there, and the receiver's class is logged.
func (s Situation) Tells() bool { return s.Fault.Name == "" && s.Band() != Other }

// Oracle draws drives from the log of a day.
func (d *Day) Oracle(ctx context.Context, s Situation) (Oracle, error) {
	r, err := d.check(ctx, s, d.field)
	if err != nil {
		return Oracle{}, err
	}
	o := Oracle{Situation: s.Name, Seed: d.seed, Real: len(d.real)}
	missed := make([]int, len(d.real)) // draws in which it is
	var sum, squares float64
	for off, left := range d.drives(s) {
		area := left.Area() - d.area // near zero, so that the squares keep their digits
		sum, squares = sum+area, squares+area*area
		for i, p := range d.real {
			if p.moved(d.beside(p, off)).on(left) >= overlapsReal*p.area {
				missed[i]++
			}
		}
	}
	o.Width = 2 * normal95 * math.Sqrt((squares-sum*sum/oracleDraws)/(oracleDraws-1))
	_, slow := s.Receiver.errsOn(d.driven, d.seed)
	every, listed := s.Receiver.every(), listedOn(&d.scanner, r)
	for i, p := range d.real {
		if p.moved(d.beside(p, func(tick int) plane.XY { return between(slow, every, tick) })).on(listed) >= overlapsReal*p.area {
			o.Listed++
		}
		if float64(missed[i]) >= surely*oracleDraws {
			o.Sure++
		}
	}
	return o, nil
}

// drives are drives drawn from the log of a day: what each is off, by ticks, from the one that was driven, and what it misses.
func (d *Day) drives(s Situation) iter.Seq2[func(tick int) plane.XY, Scan] {
	return func(yield func(func(int) plane.XY, Scan) bool) {
		im := set(d.how.Trailed)
		half := (im.Width - im.Overlap) / 2
		ground := fieldOf(&d.scanner, d.driven.layout)
		_, slow := s.Receiver.errsOn(d.driven, d.seed)
		rng := rand.New(rand.NewPCG(d.seed, 1014))
		every := s.Receiver.every()
		for range oracleDraws {
			_, other := s.Receiver.errs(len(slow), rng)
			off := func(tick int) plane.XY { return between(slow, every, tick).Sub(between(other, every, tick)) }
			if !yield(off, d.driven.drawn(every, off, rng).missed(&d.scanner, ground, half)) {
				return
			}
		}
	}
}

// between is an error at a tick, of those at the fixes.
func between(at []plane.XY, every, tick int) plane.XY {
	k := min(tick/every, max(0, len(at)-2))
	return at[k].Lerp(at[min(k+1, len(at)-1)], float64(tick-k*every)/float64(every))
}

// drawn is a drive that may have led to the log: off the one that did by what the errors drawn are off, and with the bar lowered and lifted
// anywhere between the two fixes that saw it, as drivers do (see lowering).
func (d *driven) drawn(every int, off func(tick int) plane.XY, rng *rand.Rand) *driven {
	out := *d
	out.bar, out.leg = slices.Clone(d.bar), slices.Clone(d.leg)
	for k := range out.bar {
		out.bar[k] = out.bar[k].Add(off(k))
	}
	for from := 0; from < len(d.leg); {
		to := from
		for to+1 < len(d.leg) && d.leg[to+1] == d.leg[from] {
			to++
		}
		if leg := d.leg[from]; leg != none && from > 0 {
			for k := range d.leg[from : to+1] {
				out.leg[from+k] = none
			}
			in := d.drawnTick(from, (from-1)/every*every+1, every, -lowering, rng)
			end := d.drawnTick(to, to/every*every, every, lineOf(d.layout.Legs[leg].Line).long+lowering, rng)
			for k := in; k <= end; k++ {
				out.leg[k] = leg
			}
		}
		from = to + 1
	}
	return &out
}

// drawnTick draws a tick of so many from first on, by where the bar is along its leg then, normal about a place. At tick seen that is known.
func (d *driven) drawnTick(seen, first, many int, about float64, rng *rand.Rand) int {
	last := min(first+many, len(d.bar)) - 1
	weights := make([]float64, last-first+1)
	sum := 0.0
	for i := range weights {
		k := first + i
		at := d.from[seen] + math.Copysign(d.bar[k].Dist(d.bar[seen]), float64(k-seen))
		z := (at - about) / lowering
		weights[i] = math.Exp(-z*z/2) + math.SmallestNonzeroFloat64 // far off all are alike
		sum += weights[i]
	}
	x := rng.Float64() * sum
	for i, w := range weights {
		if x -= w; x < 0 {
			return first + i
		}
	}
	return last
}

// beside is what a strip is off, by what the passes on either side of it are. Where one of these is the boundary, that stays.
func (d *Day) beside(p piece, off func(tick int) plane.XY) plane.XY {
	middle := p.middle()
	reach := set(d.how.Trailed).Width + besideReal
	near := map[int32]int{} // by leg the nearest tick
	for k, leg := range d.driven.leg {
		if leg == none || d.driven.bar[k].Dist(middle) > reach {
			continue
		}
		if n, ok := near[leg]; !ok || d.driven.bar[k].Dist(middle) < d.driven.bar[n].Dist(middle) {
			near[leg] = k
		}
	}
	ticks := make([]int, 0, len(near))
	for _, k := range near {
		ticks = append(ticks, k)
	}
	slices.SortFunc(ticks, func(a, b int) int {
		return cmp.Compare(d.driven.bar[a].Dist(middle), d.driven.bar[b].Dist(middle))
	})
	var sum plane.XY
	for _, k := range ticks[:min(2, len(ticks))] {
		sum = sum.Add(off(k).Scale(0.5))
	}
	return sum
}

// middle is a place in the middle of the piece.
func (p piece) middle() plane.XY {
	s := p.of[len(p.of)/2]
	return straight((s.from+s.to)/2, float64(s.line))
}

// straight is the place that askew takes there.
func straight(along, line float64) plane.XY {
	across := (line+0.5)*spacing - reached
	return plane.XY{X: along*scanCos - across*scanSin, Y: along*scanSin + across*scanCos}
}

// moved is the piece elsewhere, to the next line.
func (p piece) moved(by plane.XY) piece {
	along, across := by.X*scanCos+by.Y*scanSin, int(math.Round((by.Y*scanCos-by.X*scanSin)/spacing))
	out := p
	out.of = make([]stretch, len(p.of))
	for i, s := range p.of {
		out.of[i] = stretch{s.line + across, span{s.from + along, s.to + along}}
	}
	return out
}
