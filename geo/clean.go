package geo

import (
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// Fault is why fixes of a track were set aside, in words for the user.
type Fault string

const (
	FaultNoFix    Fault = "without position"
	FaultClock    Fault = "with a wrong clock" // only the time is set aside, the fix stays
	FaultRepeat   Fault = "with a repeated position"
	FaultThrown   Fault = "thrown far off"
	FaultStanding Fault = "standing still"
)

// faults is the order of the steps, and of what is said about them.
var faults = [...]Fault{FaultNoFix, FaultClock, FaultRepeat, FaultThrown, FaultStanding}

// SetAside is one run of consecutive fixes of a track set aside for one reason.
// A run of FaultClock with Fixes = 0 is a note: at First the clock goes back,
// and the times were kept.
type SetAside struct {
	Why      Fault
	First    int       // index of the first fix in the track as logged, from 0
	Fixes    int       // how many in a row
	From, To time.Time // UTC, first and last time logged in the run, wrong or not; zero: not logged
	At       orb.Point // lon, lat of the first fix as logged: no place on earth where Why is FaultNoFix
	Off      float64   // m, FaultThrown: how far the farthest lies off the nearer end of the way that stays
	By       float64   // s, FaultClock: the clock was ahead (> 0) or behind (< 0) by this
}

// Clean sets aside what of a track cannot be true. In this order: fixes without a
// position, wrong times, repeated positions, fixes thrown far off the way, and
// the receiver's wandering while the set stands still. The rule of each stands
// at its step.
//
//  1. No place, and no value of a column, is changed; a time becomes NaN or stays.
//  2. Kept fixes stay in order and in their parts; a part that loses all of its
//     fixes vanishes.
//  3. Kept fixes and those set aside (FaultClock apart) are all fixes, once each.
//  4. Cleaning a cleaned track sets nothing further aside. Hence the rounds: what
//     a later step takes away may open a view for an earlier one.
//  5. The argument is not changed, and comes back itself if nothing was set aside.
//  6. Parts are never compared by the way between them; only a block sent again in a
//     later part is.
//
// The runs come in the order of their first fix. A track whose columns do not
// fit its fixes is returned as it is: to judge that is not done here.
func Clean(t Track) (Track, []SetAside) {
	if t.Fixes() == 0 || t.Columns.Fits(t.Fixes()) != nil {
		return t, nil
	}
	c := cleaning{fixes: t.fixes(), t: t}
	for c.round() {
	}
	return c.track(), c.runs(t)
}

// cleaning is a track on its way through the steps. Steps mark fixes with drop
// and close with cut, after which the columns hold only what is kept.
type cleaning struct {
	*fixes
	t Track

	own   bool      // the columns are ours to change
	raw   []int     // index in the track as logged; nil: the same
	gone  []bool    // fixes that the step at work sets aside; nil: none yet
	why   []int8    // per fix as logged: 1 + place in faults, 0 = kept; nil: all kept
	wrong []float64 // per fix as logged: seconds the clock was off, 0 = right; nil: all right
	back  []note    // where the clock goes back and the times were kept
	more  bool      // this round set something aside
}

// note is a fix as logged at which the clock goes by so many seconds.
type note struct {
	raw int
	by  float64
}

// round takes every step once and says whether anything was set aside.
func (c *cleaning) round() bool {
	c.more, c.back = false, c.back[:0]
	c.noPosition()
	c.clocks()
	c.repeats()
	c.thrown()
	c.standing()
	return c.more
}

// logged is the index of a fix in the track as logged.
func (c *cleaning) logged(k int) int {
	if c.raw == nil {
		return k
	}
	return c.raw[k]
}

// drop marks a fix to be set aside at the end of the step.
func (c *cleaning) drop(k int, why Fault) {
	if c.gone == nil {
		c.gone = make([]bool, c.len())
	}
	if c.why == nil {
		c.why = make([]int8, c.len()) // the first to go: all fixes are still there
	}
	c.gone[k] = true
	c.why[c.logged(k)] = int8(1 + slices.Index(faults[:], why))
}

// dropped says whether the step at work has marked a fix.
func (c *cleaning) dropped(k int) bool { return c.gone != nil && c.gone[k] }

// unclock takes away the time of a fix that is off by so many seconds.
func (c *cleaning) unclock(k int, by float64) {
	c.takeOver()
	if c.wrong == nil {
		n := c.len()
		if c.why != nil {
			n = len(c.why)
		}
		c.wrong = make([]float64, n)
	}
	c.wrong[c.logged(k)] = by
	c.flat[k*c.stride+c.m] = math.NaN()
	c.more = true
}

// takeOver makes the columns ours before the first change.
func (c *cleaning) takeOver() {
	if c.own {
		return
	}
	c.own = true
	c.flat = slices.Clone(c.flat)
	c.t.Columns.clone()
	c.raw = upTo(0, c.len())
}

// cut takes the marked fixes out of every column alike.
func (c *cleaning) cut() {
	if c.gone == nil {
		return
	}
	c.takeOver()
	gone := c.gone
	kept, part := 0, 0
	ends := c.ends[:0]
	for k := range gone {
		if !gone[k] {
			copy(c.flat[kept*c.stride:], c.flat[k*c.stride:(k+1)*c.stride])
			kept++
		}
		for part < len(c.ends) && c.ends[part] <= k+1 {
			if last := len(ends) - 1; kept > 0 && (last < 0 || ends[last] < kept) {
				ends = append(ends, kept) // never ahead of part: writes behind the reader
			}
			part++
		}
	}
	c.flat, c.ends = c.flat[:kept*c.stride], ends
	c.raw = without(c.raw, gone)
	c.t.Columns.drop(gone)
	c.gone, c.more = nil, true
}

// without takes the marked values out of a column, in place.
func without[T any](column []T, gone []bool) []T {
	kept := column[:0]
	for k, v := range column {
		if !gone[k] {
			kept = append(kept, v)
		}
	}
	return kept
}

// track is what is left.
func (c *cleaning) track() Track {
	if !c.own {
		return c.t
	}
	t := c.t
	ends := make([]int, len(c.ends))
	for i, e := range c.ends {
		ends[i] = e * c.stride
	}
	t.Line = geom.NewMultiLineStringFlat(t.Line.Layout(), c.flat, ends).SetSRID(t.Line.SRID())
	return t
}

// tells says whether a fix carries news beside its place and time: work state,
// width or side shift differ from those at another fix.
func (c *cleaning) tells(k, other int) bool {
	t := &c.t
	return len(t.State) > 0 && t.State[k] != t.State[other] ||
		len(t.Width) > 0 && !sameValue(t.Width[k], t.Width[other]) ||
		len(t.Offset) > 0 && !sameValue(t.Offset[k], t.Offset[other])
}

func (c *cleaning) samePlace(a, b int) bool {
	a, b = a*c.stride, b*c.stride
	return c.flat[a] == c.flat[b] && c.flat[a+1] == c.flat[b+1]
}

func sameValue(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// runs puts together what was set aside, from the track as logged.
func (c *cleaning) runs(raw Track) []SetAside {
	if c.why == nil && c.wrong == nil && len(c.back) == 0 {
		return nil
	}
	r := raw.fixes()
	var out []SetAside
	for start, end := range r.parts() { // a run ends with its part
		for k := start; c.why != nil && k < end; {
			from, why := k, c.why[k]
			for k < end && c.why[k] == why {
				k++
			}
			if why == 0 {
				continue
			}
			s := r.run(faults[why-1], from, k)
			if s.Why == FaultThrown {
				s.Off = c.off(r, from, k, start, end)
			}
			out = append(out, s)
		}
		for k := start; c.wrong != nil && k < end; {
			from, by := k, c.wrong[k]
			for k < end && c.wrong[k] == by {
				k++
			}
			if by != 0 {
				s := r.run(FaultClock, from, k)
				s.By = by
				out = append(out, s)
			}
		}
	}
	for _, b := range c.back {
		s := r.run(FaultClock, b.raw, min(b.raw+1, r.len()))
		s.Fixes, s.By = 0, b.by
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b SetAside) int { return a.First - b.First })
	return out
}

// run describes the fixes from..to-1 of a track as logged.
func (f *fixes) run(why Fault, from, to int) SetAside {
	lon, lat := f.lonLat(from)
	s := SetAside{Why: why, First: from, Fixes: to - from, At: orb.Point{lon, lat}}
	for k := from; k < to; k++ {
		if at := Instant(f.seconds(k)); !at.IsZero() {
			if s.From.IsZero() {
				s.From = at
			}
			s.To = at
		}
	}
	return s
}

// Findings says in words what Clean set aside from a track of so many fixes:
// one finding per reason. Only fixes without position are lost input: the rest
// says nothing about the ground that the kept fixes do not say.
func Findings(raw Track, record int, aside []SetAside) []Finding {
	var out []Finding
	for _, why := range faults {
		var runs, fixes int
		var far float64
		var first *SetAside
		for i, s := range aside {
			if s.Why == why && s.Fixes > 0 {
				if first == nil {
					first = &aside[i]
				}
				runs, fixes, far = runs+1, fixes+s.Fixes, max(far, s.Off)
			}
		}
		if first != nil {
			f := first.finding(raw, record)
			what := fmt.Sprintf("%d of %d fixes in %s %s (first: %s", fixes, raw.Fixes(), countOf(runs, "run"), why, first.words())
			switch why {
			case FaultThrown:
				what += fmt.Sprintf(", up to %.0f m off): set aside", far)
			case FaultClock:
				what += fmt.Sprintf(", off by %s): time set aside, place kept", longTime(first.By))
			default:
				what += "): set aside"
			}
			f.What, f.Lost = what, why == FaultNoFix
			out = append(out, f)
		}
	}
	backs := 0
	var first *SetAside
	for i, s := range aside {
		if s.Why == FaultClock && s.Fixes == 0 {
			if backs++; first == nil {
				first = &aside[i]
			}
		}
	}
	if first != nil {
		f := first.finding(raw, record)
		f.What = fmt.Sprintf("the clock goes back %s (first: %s, by %s): times kept", countOf(backs, "time"), first.words(), longTime(-first.By))
		out = append(out, f)
	}
	return out
}

// Placed says whether At is a place on earth.
func (s SetAside) Placed() bool { return OnEarth(s.At[0], s.At[1]) }

func (s *SetAside) finding(raw Track, record int) Finding {
	return Finding{File: raw.Source, Record: record, At: Place(s.At[0], s.At[1])}
}

// words is the number of the first fix, from 1, and its time if it has one.
func (s *SetAside) words() string {
	w := fmt.Sprintf("fix %d", s.First+1)
	if !s.From.IsZero() {
		w += ", " + Moment(s.From) + " UTC"
	}
	return w
}

// countOf is a number and the word for what is counted.
func countOf(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// longTime is a length of time in the unit people would use.
func longTime(seconds float64) string {
	switch a := math.Abs(seconds); {
	case a < 600:
		return fmt.Sprintf("%.4g s", seconds)
	case a < 2*24*3600:
		return fmt.Sprintf("%.4g h", seconds/3600)
	}
	return fmt.Sprintf("%.0f days", seconds/(24*3600))
}
