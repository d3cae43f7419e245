package coverage

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

// Surety is how sure it is that a strip was missed, given the receiver. A strip is certain in the part that is:
// Strip.Certain and Strip.Likely are the parts, in m², and the word is theirs.
type Surety string

const (
	SuretyUnknown  Surety = ""         // the pass-to-pass error beside it is not known
	SuretyCertain  Surety = "certain"  // half of it or more is certain
	SuretyLikely   Surety = "likely"   // half of it or more is likely, what is certain included
	SuretyPossible Surety = "possible" // less; a strip of which nothing is likely is summed in Noise and not listed
)

// suretyShare is how much of a strip's area must be certain, or likely, for the strip to be called so.
const suretyShare = 0.5

// surety is the word for a strip by its parts. A narrow one, of which the error takes most of the width, is called less
// sure than the existence of a gap there is: its word stands beside the m², and says the same.
func (s Strip) surety() Surety {
	switch {
	case s.Certain >= suretyShare*s.Area:
		return SuretyCertain
	case s.Likely >= suretyShare*s.Area:
		return SuretyLikely
	}
	return SuretyPossible
}

// Noise is what the receiver's pass-to-pass error leaves open, and the strips that
// are only possible. They are summed here and not listed.
type Noise struct {
	PassError     float64 `json:"passError,omitempty"`     // m, 95 %, the greatest used, rounding of the coordinates included; 0 = not known
	PassErrorFrom string  `json:"passErrorFrom,omitempty"` // "given", "fix quality" or "HDOP, an upper bound"; "" = not known
	Rounding      float64 `json:"rounding,omitempty"`      // m, 95 %, the greatest part that rounded coordinates have in it
	Pieces        int     `json:"pieces"`                  // strips of which nothing is likely ...
	Area          float64 `json:"area"`                    // ... and their m², part of Balance.Missed
	MissedLeast   float64 `json:"missedLeast"`             // m² missed at credited width + pass-to-pass error; 0 if that is not known
	MissedMost    float64 `json:"missedMost"`              // m² missed at credited width − pass-to-pass error; 0 if that is not known
	Why           string  `json:"why,omitempty"`           // why surety is not known, everywhere or beside some passes
}

// judge says how sure each strip is, and takes those of which nothing is likely off the list.
// blind says for each strip whether it touches ground whose error is not known.
//
// With a pass-to-pass error e at a place the swaths are laid out again with every
// bar wider by e, half of it at each end, and every end of work moved outward
// along the travel by e/2, more where the log leaves open where it was (endError). A gap between two passes then shrinks by e. Let g be
// its width as logged; the error of g is normal with 95 % within ±e, so
//
//	P(true gap > x) = Φ(1.96·(g − x)/e)
//
//	│ pass 1 │← e/2 ┊  left  ┊ e/2 →│ pass 2 │     certain: left ≥ sliver at e,  P ≥ 97.5 %
//	│        │←────── gap g ───────→│        │     likely: at e/2, P ≥ Φ(0.98) = 83.6 %
//
// with x the width of a sliver: what is certain is that the true strip is one to list.
// So ground is left when a circle of the sliver's diameter fits
// into a piece of it; hairlines where edges just fail to meet do not count.
//
// These shares are those between passes of the same error. Passes of unlike errors
// e1 and e2 (one fix better than the other) are laid nearer by their mean, while g
// errs by √((e1² + e2²)/2), since one pass has 1/√2 of the error of a difference of
// two. The farthest apart is e1 = 0: a strip along the boundary, which counts as
// exact, or between it and the end of a row, has a pass on one side only and
// shrinks by e/2. There "certain" means P ≥ Φ(1.96·√2/2) = 91.7 %, "likely"
// P ≥ Φ(1.96·√2/4) = 75.6 %.
//
//  1. Strips, slivers and Noise.Area together are Balance.Missed, as in findStrips.
//  2. MissedLeast ≤ Missed ≤ MissedMost.
//  3. More error never makes what is certainly or likely missed of a strip larger.
//  4. The sum of Certain is at most MissedLeast, and Certain at most Likely at most Area.
//  5. A strip off the list is more likely a gap than none, as g is above the sliver: P from ½ to 83.6 %.
//
// A strip that may have been worked in a log gap is likely at most; see doubtGaps.
//
// Where bars swing over each other, ground between wider ones does not always hold
// that between narrower ones. On tracks no set would drive that leaves some dm²
// where nothing was missed before: they belong to no strip and make none surer.
func (r *Result) judge(ctx context.Context, runs []run, blind []bool) error {
	if r.Noise = noiseOf(runs, r.Work); r.Noise.PassErrorFrom == "" {
		return nil
	}
	places := placesOf(r.Strips)
	left, total, err := r.leftAt(ctx, runs, 1)
	if err != nil {
		return fmt.Errorf("at credited width + pass-to-pass error: %w", err)
	}
	r.Noise.MissedLeast = total
	// Of strips that a bound does not make certain nothing is known: the receiver may be much better.
	bound := r.Noise.PassErrorFrom == fromHDOP
	take := func(left []leftover, into func(s *Strip) *float64) {
		for _, l := range left {
			if k := places.at(l.middle); k >= 0 && !blind[k] {
				*into(&r.Strips[k]) += l.area
			}
		}
	}
	take(left, func(s *Strip) *float64 { return &s.Certain })
	if left, _, err = r.leftAt(ctx, runs, 0.5); err != nil {
		return fmt.Errorf("at credited width + half the pass-to-pass error: %w", err)
	}
	take(left, func(s *Strip) *float64 { return &s.Likely })
	for k := range r.Strips {
		if s := &r.Strips[k]; !blind[k] {
			s.Certain = min(s.Certain, s.Area) // drawn polygons are rounded
			s.Likely = min(max(s.Likely, s.Certain), s.Area)
			if s.Surety = s.surety(); bound && s.Surety != SuretyCertain {
				s.Surety, s.Likely = SuretyUnknown, 0
			}
		}
	}
	r.sumNoise()
	got, err := r.missedAt(ctx, runs, -1)
	if err != nil {
		return fmt.Errorf("at credited width − pass-to-pass error: %w", err)
	}
	r.Noise.MissedMost = got.Area[1]
	return nil
}

// sumNoise takes strips of which nothing is likely off the list.
func (r *Result) sumNoise() {
	r.Strips = slices.DeleteFunc(r.Strips, func(s Strip) bool {
		off := s.Surety == SuretyPossible && s.Likely == 0
		if off {
			r.Noise.Pieces++
			r.Noise.Area += s.Area
		}
		return off
	})
}

// noiseOf says which error is known of the runs.
func noiseOf(runs []run, w Work) Noise {
	var n Noise
	fixes, blind := 0, 0
	bound := false
	for _, one := range runs {
		bound = bound || one.bound
		n.PassError, n.Rounding = max(n.PassError, one.passError), max(n.Rounding, one.rounding)
		fixes, blind = fixes+len(one.pass.Line), blind+one.blind
	}
	switch {
	case w.PassError > 0:
		n.PassErrorFrom, n.PassError = fromGiven, max(n.PassError, w.PassError)
	case fixes > blind && bound:
		n.PassErrorFrom = fromHDOP
		n.Why = "how fixes were won is not logged, their HDOP is: the error is at most that of an autonomous receiver, 1 m at an HDOP of 1; strips that are not certain even so have no surety"
	case fixes > blind:
		n.PassErrorFrom = fromQuality
		if blind > 0 {
			n.Why = fmt.Sprintf("the quality of %d of %d fixes is not logged, or no error is known for it: swaths there count as exact, so that least and most missed may lie farther apart, and strips beside them have no surety", blind, fixes)
		}
	default:
		n = Noise{Why: "no pass-to-pass error is given, and the log holds no fix quality for which one is known"}
	}
	return n
}

// leftover is a piece of missed ground that a sliver's circle fits in.
type leftover struct {
	middle plane.XY // of its largest inscribed circle
	area   float64  // m²
}

// leftAt are the pieces still missed when the swaths are wider by a share of the
// pass-to-pass error, without slivers, and the m² of all with them.
func (r *Result) leftAt(ctx context.Context, runs []run, share float64) (left []leftover, total float64, err error) {
	got, err := r.missedAt(ctx, runs, share, 1<<1)
	if err != nil {
		return nil, 0, err
	}
	pieces := got.Layers[0]
	left = make([]leftover, len(pieces))
	err = inChunks(ctx, len(pieces), 64, r.Work.Workers, func(from, to int) error {
		for k := from; k < to; k++ {
			if middle, _, below := widest(pieces[k], sliver); !below {
				left[k] = leftover{middle, pieces[k].Area()}
			}
		}
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	return slices.DeleteFunc(left, func(l leftover) bool { return l.area == 0 }), got.Area[1], nil
}

// missedAt lays out the swaths at credited width + share × pass-to-pass error.
func (r *Result) missedAt(ctx context.Context, runs []run, share float64, layers ...plane.ClassSet) (plane.Answer, error) {
	g := ground{field: r.Layers.Field, workers: r.Work.Workers}
	for _, one := range runs {
		g.work = append(g.work, coverOf(barsWithin(one.stops, r.Work.Overlap, share))...)
	}
	return g.missed(ctx, layers...)
}

// barsWithin sets the bars of a run as barsOf does, each wider by a share of its own
// pass-to-pass error, and moves both ends of all unbroken work outward along the
// travel by that share of endError; a share below 0 makes bars narrower and work shorter.
// Ends at a log gap stay: the ground beyond is unknown, not missed. Bars that
// barsOf cuts out work nothing with any error.
func barsWithin(stops []stop, less, share float64) []bar {
	set := slices.Clone(stops)
	for i, s := range set {
		if s.width > less {
			set[i].width += share * s.known()
		}
	}
	bars := barsOf(set, less)
	out := make([]bar, 0, len(bars)+8)
	for from := 0; from < len(bars); {
		to := from
		for to+1 < len(bars) && bars[to].next != cut {
			to++
		}
		ahead, behind := share*stops[from].endError(), share*stops[to].endError()
		switch chain := bars[from : to+1]; {
		case share == 0 || to == from:
			out = append(out, chain...)
		case share > 0:
			out = lengthened(out, chain, ahead, behind)
		default:
			out = shortened(out, chain, -ahead, -behind)
		}
		from = to + 1
	}
	return out
}

// known is the pass-to-pass error at a stop, in metres; 0 where not known.
func (s stop) known() float64 {
	if e := float64(s.passError); e > 0 {
		return e
	}
	return 0
}

// endError is how far along the travel an end of work may lie off, in metres at
// 95 %: half the pass-to-pass error, as square to the travel, and the switch
// between two fixes.
func (s stop) endError() float64 { return math.Hypot(s.known()/2, float64(s.slack)) }

// lengthened appends unbroken work that begins so many metres before its first bar
// and ends so many behind its last. Bars are added, none is moved, so that the
// ground covered before stays covered.
func lengthened(out, chain []bar, before, behind float64) []bar {
	n := len(chain)
	first, last := chain[0].shifted(-before), chain[n-1].shifted(behind)
	first.next = chain[0].next.onward()
	out = append(append(out, first), chain...)
	out[len(out)-1].next = chain[n-2].next.onward()
	last.next = cut
	return append(out, last)
}

// onward is how a stretch goes on straight.
func (s stretch) onward() stretch {
	if s == pivot {
		return worked
	}
	return s
}

// shifted is the bar moved so far along its travel.
func (b bar) shifted(by float64) bar {
	left := b.left.Sub(b.right)
	way := plane.XY{X: left.Y, Y: -left.X}.Scale(by / left.Len())
	b.left, b.right, b.s = plane.Snap(b.left.Add(way)), plane.Snap(b.right.Add(way)), b.s+by
	return b
}

// shortened appends unbroken work without so many metres of travel at its ends;
// nothing when no more is left.
func shortened(out, chain []bar, ahead, behind float64) []bar {
	n := len(chain)
	from, to := chain[0].s+ahead, chain[n-1].s-behind
	if !(from < to) {
		return out
	}
	i := 0
	for chain[i+1].s <= from {
		i++
	}
	out = append(out, chain[i].between(chain[i+1], from))
	for i++; chain[i].s < to; i++ {
		out = append(out, chain[i])
	}
	last := chain[i-1].between(chain[i], to)
	last.next = cut
	return append(out, last)
}

// between is the bar at a travel between b and the next, a; it goes on as b does.
func (b bar) between(a bar, s float64) bar {
	t := 0.0
	if l := a.s - b.s; l > 0 {
		t = math.Min((s-b.s)/l, 1)
	}
	return bar{plane.Snap(b.left.Lerp(a.left, t)), plane.Snap(b.right.Lerp(a.right, t)), s, b.next, b.told}
}
