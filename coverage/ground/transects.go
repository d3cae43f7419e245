package ground

import (
	"cmp"
	"context"
	"iter"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// fewestSpans: transects lie so near to each other that rows have about so many spans, but mostApart at most. On simulated days
	// (testdata/fieldday) four times as many moved the median width of the range by 1 %.
	fewestSpans = 3000
	mostApart   = 2.0 // m
	// Transects lie flat to the rows, so that they meet the ends of rows as well as the joins, but not within alongside of a way that more
	// than fewAlong of the work went. All in parts of half a turn, of 5° each.
	halfTurn  = 36
	flat      = 4
	alongside = 2
	fewAlong  = 0.01
)

// transects are straight lines over a field, on which it is known where runs go in and out. They tell how missed ground changes when
// passes move a little and ends of work lie farther out or in, without an arrangement for every such change:
//
//	field ├───[=====pass 1=====]─gap─[=====pass 2=====]───┤     a transect: what no pass holds is missed
//	          ↑                ↑     ↑                ↑
//	          marks, which move along it by east·Δx + north·Δy, on an end of work also by out·Δ
//
// A transect stands for a strip of ground as wide as they lie apart. Let way be its direction and n its normal. An edge of direction u that is moved
// by d moves along it by d·way − (d·n)(u·way)/(u·n), and |u·n| transects meet each metre of it, so that the ground it sweeps is told right whatever
// the angle. Corners are seen to where ends of work move (see corners); what a moved pass makes of its corners is left out, since it is of second order,
// and as often too much as too little. Transects miss what lies between them, so it is the difference between moved and not that counts.
type transects struct {
	way   plane.XY    // unit
	apart float64     // m
	low   float64     // m, how far to the left of way the room of the first one begins
	left  []float64   // m, how far to the left of way each lies
	field [][]stretch // of each, in order
	spans [][]span    // of each run, by transects
	place []int32     // of the spans of one run after the other: which they are of all, by transects and in order
	first []int32     // of each transect: its first span of all, and one more
	at    []stretch   // of all spans, as logged
	limit []int32     // of all spans: their bound
	ends  []workEnd
	bound []mark // what spans end at if they come to it before their own mark
	bands bands
}

// stretch is a part of a transect, m along it.
type stretch struct{ from, to float64 }

// span is a stretch of a transect that a run holds.
type span struct {
	line     int32
	bound    int32 // 1 + a number of transects.bound, at which it ends at the latest; below 0: begins at the earliest; 0: none
	from, to mark
}

// mark is where a transect goes into a run's ground, or out of it.
type mark struct {
	at          float64 // m along the transect
	east, north float64 // m along it for each metre that the ground moves
	out         float64 // m along it for each metre that the end of work it lies on is farther out
	run, end    int32   // end: number in transects.ends, -1: none
	s           float64 // m, travel of the run
	slow        float64 // m, part of the pass-to-pass error
}

// workEnd is where unbroken work begins or ends.
type workEnd struct {
	run      int
	at, out  plane.XY // out: unit, from inside
	lowering bool
	open     drive.Switch
	reach    float64 // m, so far out or in it may lie
}

// transectsOf lays transects over a field and the ground of runs; less is taken off the full working width.
func transectsOf(ctx context.Context, field []plane.Polygon, runs iter.Seq2[int, drive.Run], less float64) (*transects, error) {
	t := &transects{bands: bandsOf(field, runs)}
	all := 0.0 // m
	for _, one := range runs {
		all += one.Pass.Length
	}
	sin, cos := math.Sincos(aslant(runs, t.bands.way))
	t.way = t.bands.way.Scale(cos).Add(t.bands.way.Left().Scale(sin))
	t.apart = min(mostApart, sin*all/fewestSpans)
	if !(t.apart > 0) {
		return t, nil
	}
	low, high := besides(field, t.way)
	t.low = low
	for k := 0.0; ; k++ {
		_, part := math.Modf(k / math.Phi) // each elsewhere in its room, so that rows at even distances do not meet all in one way
		at := t.low + (k+part)*t.apart
		if !(at < high) {
			break
		}
		t.left = append(t.left, at)
	}
	c := cutter{t: t}
	for _, p := range field {
		for _, r := range p {
			for i, a := range r {
				c.edge(a, r[(i+1)%len(r)], func() mark { return mark{} })
			}
		}
	}
	c.wound()
	t.field = make([][]stretch, len(t.left))
	for _, s := range c.own {
		t.field[s.line] = append(t.field[s.line], stretch{s.from.at, s.to.at})
	}
	for i, one := range runs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c.run(&one, i, less)
	}
	t.sort()
	return t, nil
}

// aslant is the angle of transects to the rows, to the left, rad.
func aslant(runs iter.Seq2[int, drive.Run], rows plane.XY) float64 {
	var ways [halfTurn]float64 // m worked, by angles to the rows
	all := 0.0
	for _, one := range runs {
		for k := 1; k < len(one.Stops); k++ {
			if e := one.Stops[k].At.Sub(one.Stops[k-1].At); one.Stops[k-1].Next.Ground() {
				at := math.Floor(rows.AngleTo(e) / math.Pi * halfTurn)
				ways[(int(at)+2*halfTurn)%halfTurn] += e.Len()
				all += e.Len()
			}
		}
	}
	best, least := 0, math.Inf(1)
	for k := flat; k <= halfTurn/2; k++ {
		for _, at := range [2]int{k, halfTurn - k} {
			along := 0.0
			for d := -alongside; d < alongside; d++ {
				along += ways[(at+d+halfTurn)%halfTurn]
			}
			if along = max(along, fewAlong*all); along < least {
				best, least = at, along
			}
		}
	}
	return float64(best) * math.Pi / halfTurn
}

// sort puts all spans in order: by transects, and along each.
func (t *transects) sort() {
	t.first = make([]int32, len(t.left)+1)
	all := 0
	for _, spans := range t.spans {
		for k := range spans {
			t.first[spans[k].line+1]++
		}
		all += len(spans)
	}
	for k := range t.left {
		t.first[k+1] += t.first[k]
	}
	type placed struct {
		stretch
		bound, came int32
	}
	order, next := make([]placed, all), slices.Clone(t.first)
	came := int32(0)
	for _, spans := range t.spans {
		for k := range spans {
			s := &spans[k]
			order[next[s.line]] = placed{stretch{s.from.at, s.to.at}, s.bound, came}
			next[s.line]++
			came++
		}
	}
	for k := range t.left {
		slices.SortFunc(order[t.first[k]:t.first[k+1]], func(a, b placed) int { return cmp.Compare(a.from, b.from) })
	}
	t.place, t.at, t.limit = make([]int32, all), make([]stretch, all), make([]int32, all)
	for k, p := range order {
		t.place[p.came], t.at[k], t.limit[k] = int32(k), p.stretch, p.bound
	}
}

// moves are how far marks move along their transects.
type moves struct {
	spans []stretch
	bound []float64
}

// still is no moves.
func (t *transects) still() moves {
	return moves{make([]stretch, len(t.at)), make([]float64, len(t.bound))}
}

// moves are how far the marks of spans move along their transects: by a slow error over each run, for 1 m of pass-to-pass error (nil: none), all of them by
// aside, and ends of work outward (nil: not).
func (t *transects) moves(runs []drive.Run, slow []drift, aside plane.XY, outward []float64) moves {
	by := func(m *mark) float64 {
		d := aside
		if slow != nil {
			d = d.Add(slow[m.run].at(m.s / max(runs[m.run].Pass.Length, 1e-9)).Scale(m.slow))
		}
		all := m.east*d.X + m.north*d.Y
		if m.end >= 0 && outward != nil {
			all += m.out * outward[m.end]
		}
		return all
	}
	out := t.still()
	place := t.place
	for _, spans := range t.spans {
		for k := range spans {
			out.spans[place[k]] = stretch{by(&spans[k].from), by(&spans[k].to)}
		}
		place = place[len(spans):]
	}
	for k := range t.bound {
		out.bound[k] = by(&t.bound[k])
	}
	return out
}

// missed is the missed ground, m², with marks moved by so many times their moves. It satisfies
//
//	(1) bands add up to the field less what spans hold of it
//	(2) as logged it is the missed ground, but for what lies between transects
//	(3) what moves add to it is what an arrangement of the moved bars adds, but for that and for corners
func (t *transects) missed(ctx context.Context, by moves, size float64) (out banded, err error) {
	var room []stretch // spans of one transect as they lie now, by their begins
	for line, field := range t.field {
		if line%256 == 0 {
			if err := ctx.Err(); err != nil {
				return banded{}, err
			}
		}
		room = room[:0]
		for k := t.first[line]; k < t.first[line+1]; k++ {
			one := stretch{t.at[k].from + size*by.spans[k].from, t.at[k].to + size*by.spans[k].to}
			if n := t.limit[k]; n > 0 {
				one.to = min(one.to, t.bound[n-1].at+size*by.bound[n-1])
			} else if n < 0 {
				one.from = max(one.from, t.bound[-n-1].at+size*by.bound[-n-1])
			}
			if !(one.from < one.to) {
				continue
			}
			at := len(room)
			room = append(room, one)
			for ; at > 0 && room[at-1].from > one.from; at-- { // hardly any passes another one
				room[at] = room[at-1]
			}
			room[at] = one
		}
		for _, f := range field {
			reached := f.from
			for _, one := range room {
				if one.from >= f.to {
					break
				}
				if one.from > reached {
					t.add(&out, line, stretch{reached, one.from})
				}
				reached = max(reached, one.to)
			}
			if reached < f.to {
				t.add(&out, line, stretch{reached, f.to})
			}
		}
	}
	return out, nil
}

// add adds a missed stretch of a transect to the bands it lies in.
func (t *transects) add(out *banded, line int, s stretch) {
	rise := t.bands.way.Cross(t.way) / t.bands.breadth // bands a metre
	begin := (t.bands.way.Cross(t.way.Left())*t.left[line] - t.bands.low) / t.bands.breadth
	bandAt := func(x float64) int { return int(max(0, min(begin+rise*x, bandsMost-1))) }
	k, last := bandAt(s.from), bandAt(s.to) // rise is above 0: transects lie aslant to the left
	for ; k < last; k++ {
		next := max(s.from, min((float64(k+1)-begin)/rise, s.to))
		out[k] += (next - s.from) * t.apart
		s.from = next
	}
	out[k] += (s.to - s.from) * t.apart
}
