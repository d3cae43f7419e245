package geo

import (
	"fmt"
	"math"
	"slices"

	"github.com/tidwall/rtree"
)

const (
	// disorderKnown: fewer fixes without times tell nothing about their order.
	disorderKnown = 20
	// A jump is a step that no log has: over 25 m, which is ten steps of a 1 Hz log at field speed, and
	// over five steps as usual for this one: the limits of a log gap (common practice, no source).
	jumpLeast, jumpSteps = 25.0, 5.0 // m
	// Points are out of order if this part of the way from point to point is jumps, and there are so
	// many: a log with gaps, or over several fields, has a few (common practice, no source).
	jumpShare, jumpCount = 0.3, 10
	// Or if few steps go on within 45° of the one before, and few lead to one of the nearest points,
	// not farther than nearBy times the nearest. Rows go straight on, and rows of two points lead to the
	// next row every other time; of points in random order a fifth goes on, and hardly any leads to one near.
	straightShare, nearShare, nearBy = 0.4, 0.25, 3.0
	// Where points say where the machine was heading, less than this part of the steps within 45° of that,
	// forwards or backwards, is no driving: of random steps half is.
	// And alignedShare of them is, however bent the way.
	headingShare, alignedShare = 0.65, 0.8
	// Where they say how far it was from the one before or how fast, as many of the steps are to each other as that
	// says, but for this part of it: of random steps half are.
	measureWithin = 0.5
	// At least so many steps must tell.
	tellingSteps = 20
	// nearSample: of so many points the nearest is looked for.
	nearSample = 2000
)

// disorder is how points without times follow each other.
type disorder struct {
	limit    float64 // m, a longer step was not driven
	jumps    int     // steps longer than that
	steps    int
	way, far float64 // m, of all steps and of the jumps
	why      string  // "": nothing says that they are out of order
}

// outOfOrder looks at points without times.
func (o *ordering) outOfOrder(came Came) disorder {
	var lengths []float64
	var d disorder
	for k := range o.c.steps() {
		if l := o.c.apart(k-1, k); l >= moved {
			lengths = append(lengths, l)
		}
	}
	if len(lengths) < disorderKnown {
		return d
	}
	slices.Sort(lengths)
	usual := lengths[len(lengths)/2]
	d.limit = max(jumpLeast, jumpSteps*usual)
	o.count(&d)
	straight, aligned := o.goingOn()
	measured := o.asMeasured(came.Apart)
	if math.IsNaN(measured) && straight < straightShare { // a speed says less: fixes may be metres apart, not seconds
		measured = o.asMeasured(o.t.Speed)
	}
	switch {
	case d.jumps >= jumpCount && d.far > jumpShare*d.way:
		d.why = fmt.Sprintf("%d steps from point to point are longer than %.0f m, where %.1f m is usual: %.0f %% of the way", d.jumps, d.limit, usual, 100*d.far/d.way)
	case straight < straightShare || (aligned < headingShare || measured < headingShare) && straight < headingShare:
		nearest, near := o.nearby()
		random := straight < straightShare && near < nearShare && !(aligned >= alignedShare || measured >= alignedShare)
		astray := (aligned < headingShare || measured < headingShare) && near < straightShare
		if !random && !astray {
			return d
		}
		d.limit = max(moved, nearBy*nearest)
		o.count(&d)
		d.why = fmt.Sprintf("%.0f %% of the steps from point to point go on as the one before, and %.0f %% lead to one of the nearest points, %.1f m off in the middle; a step is %.1f m", 100*straight, 100*near, nearest, usual)
		if !math.IsNaN(aligned) {
			d.why += fmt.Sprintf(", and %.0f %% go where the points say that the machine was heading", 100*aligned)
		}
		if !math.IsNaN(measured) {
			d.why += fmt.Sprintf(", and %.0f %% are as long to each other as logged", 100*measured)
		}
	}
	return d
}

// count counts the steps and the jumps among them.
func (o *ordering) count(d *disorder) {
	d.jumps, d.steps, d.way, d.far = 0, 0, 0, 0
	for k := range o.c.steps() {
		l := o.c.apart(k-1, k)
		d.steps, d.way = d.steps+1, d.way+l
		if l > d.limit {
			d.jumps, d.far = d.jumps+1, d.far+l
		}
	}
}

// goingOn is which part of the steps goes on within 45° of the one before, and which part goes, forwards or
// backwards, within 45° of the logged heading; NaN: too few say one.
func (o *ordering) goingOn() (straight, aligned float64) {
	const cos45 = 0.7071
	var on, pairs, fit, told int
	var px, py float64
	last := -1 // fix at which the step before ended
	for k := range o.c.steps() {
		x, y := o.step(k)
		l := math.Hypot(x, y)
		if !(l >= moved) {
			continue
		}
		x, y = x/l, y/l
		if last == k-1 {
			pairs++
			if x*px+y*py >= cos45 {
				on++
			}
		}
		px, py, last = x, y, k
		if len(o.t.Heading) > 0 {
			if h := float64(o.t.Heading[k]) * math.Pi / 180; !math.IsNaN(h) {
				told++
				if math.Abs(x*math.Sin(h)+y*math.Cos(h)) >= cos45 {
					fit++
				}
			}
		}
	}
	straight, aligned = 1, math.NaN()
	if pairs >= tellingSteps {
		straight = float64(on) / float64(pairs)
	}
	if told >= tellingSteps {
		aligned = float64(fit) / float64(told)
	}
	return straight, aligned
}

// asMeasured is which part of the steps is as long as a logged way or speed says, up to a factor that is the same
// for all; NaN: too few say it.
func (o *ordering) asMeasured(logged []float64) float64 {
	var ratios []float64
	if len(logged) != o.c.len() {
		return math.NaN()
	}
	for k := range o.c.steps() {
		if l := o.c.apart(k-1, k); l >= moved && logged[k] > 0 {
			ratios = append(ratios, l/logged[k])
		}
	}
	if len(ratios) < tellingSteps {
		return math.NaN()
	}
	slices.Sort(ratios)
	middle, fit := ratios[len(ratios)/2], 0
	for _, r := range ratios {
		if math.Abs(r-middle) <= measureWithin*middle {
			fit++
		}
	}
	return float64(fit) / float64(len(ratios))
}

// step is the way to fix k from the one before it, m east and north.
func (o *ordering) step(k int) (x, y float64) {
	lon1, lat1 := o.c.lonLat(k - 1)
	lon2, lat2 := o.c.lonLat(k)
	return math.Remainder(lon2-lon1, 360) * degree * math.Cos(lat1*math.Pi/180), (lat2 - lat1) * degree
}

// nearby is how far the nearest other point is in the middle, m, and which part of the steps leads to
// one not farther than nearBy times the nearest.
func (o *ordering) nearby() (nearest, near float64) {
	var tree rtree.RTreeG[int]
	_, lat0 := o.c.lonLat(0)
	cos := math.Cos(lat0 * math.Pi / 180)
	place := func(k int) [2]float64 {
		lon, lat := o.c.lonLat(k)
		return [2]float64{lon * cos, lat}
	}
	n := o.c.len()
	for k := range n {
		p := place(k)
		tree.Insert(p, p, k)
	}
	var all []float64
	tell, lead := 0, 0
	every := max(1, n/nearSample)
	for k := range o.c.steps() {
		l := o.c.apart(k-1, k)
		if k%every != 0 || l < moved {
			continue
		}
		p := place(k - 1)
		tree.Nearby(rtree.BoxDist[float64, int](p, p, nil), func(_, _ [2]float64, i int, _ float64) bool {
			d := o.c.apart(k-1, i)
			if d < moved {
				return true // itself, or the same place once more
			}
			all = append(all, d)
			tell++
			if l <= nearBy*d {
				lead++
			}
			return false
		})
	}
	if tell == 0 {
		return 0, 1
	}
	slices.Sort(all)
	return all[len(all)/2], float64(lead) / float64(tell)
}

// jumps breaks points without times where they jump, if they are out of order; what would be pieces mostly
// is left out.
func (o *ordering) jumps(came Came) {
	d := o.outOfOrder(came)
	if d.why == "" {
		return
	}
	n := o.c.len()
	hint := "a column that numbers them can be named: --column order=NAME"
	if came.Numbered != "" {
		hint = fmt.Sprintf("if column %q numbers them, name it: --column order=%s", came.Numbered, came.Numbered)
	}
	if 2*d.jumps > d.steps {
		o.say(0, true, "its %d points have no times and do not stand in the order driven (%s): left out; %s", n, d.why, hint)
		o.t = o.t.Cut(func(int) bool { return false }, true)
		return
	}
	was := o.c.byPart()
	part := make([]int32, n)
	for k := 1; k < n; k++ {
		part[k] = part[k-1]
		if was[k] != was[k-1] || o.c.apart(k-1, k) > d.limit {
			part[k]++
		}
	}
	o.say(0, true, "its %d points have no times and do not stand in the order driven (%s): what was worked is not known where they jump, and the track is broken there; %s", n, d.why, hint)
	o.take(upTo(0, n), part)
}
