package drive

import (
	"cmp"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// A set that drives straight on at working speed with its tool lifted moves as one that works. What tells the two
// apart is the ground: nobody works again what is worked already. So a stretch of work is looked at whose ground other
// stretches cover:
//
//   - on the way to or from a turn, over ground that was worked before, it is driven with the tool lifted;
//   - with work before and after it, it is if it is driven at another speed, and over ground worked before or straight
//     across the passes of others;
//   - else it stays work, as does a long one at the usual speed: a pass driven twice.
//
// All of these are doubtful, and marked so: the ground is worked either way, only how often is open.
//
//	═══════════╗          ╔═════  pass
//	═══════════╬══╌╌╌╌╌╌══╬═════  ╌ to the next row, over ground that the round along the boundary works
//	═══════════╝          ╚═════
//
// The figures are chosen on logs whose work state is known, see TestInferredWorkOnMachineLogs and
// TestInferredWorkAgainstTheTruth; none has a source.
const (
	// The ground is looked at in stations so far apart, of the credited width, at so many places across the bar.
	stationShare  = 0.5
	stationPlaces = 5
	// stationReach: the bar of a station covers the ground for so much of the distance to the next, each way; more than
	// half, as bars stand apart on the outside of bends.
	stationReach = 0.65
	// selfReach: a stretch does not cover its own ground within so many working widths of way.
	selfReach = 3.0
	// Shorter stretches are not looked at: the end of a pass laps the headland, and a pass that another crosses is
	// covered for a width and a little more. In working widths; the second between work, where the tool would have been
	// lifted and lowered again for it.
	transportLeast, transportBetween = 1.0, 4.0
	// againLeast: so many working widths at the usual speed over worked ground are a pass driven again.
	againLeast = 8.0
	// Slower or faster than the usual working speed by these factors is another speed.
	slowSpeed, fastSpeed = 0.8, 1.25
	// mostly is the share of what covers a stretch that was worked before, or that it runs across.
	mostly = 0.6
	// throughLeast: whose ground is crossed farther than so many working widths from where its work begins and ends is
	// crossed for good; nearer the round along the boundary laps its ends.
	throughLeast = 3.0
	acrossSine   = 0.5 // sine of the angle between two ways from which on one runs across the other: 30°
	// workedTwice: where more than this share of the way is over ground that was worked before, the field was worked
	// more than once on purpose (crosswise, a second time), and all of it stays work.
	workedTwice = 0.4
)

const (
	whyTransport = "over ground that other passes work"
	whyAgain     = "on the field, at working speed, over ground that other passes work too"
	whyAlone     = "over ground that nothing else works"
)

// station is a bar of a stretch that is taken as work.
type station struct {
	at    plane.XY
	along plane.XY // unit vector of the way
	way   float64  // m along its trail
	when  float64  // seconds since 1970 UTC
	fix   int      // the station lies on the step to this fix
	owner int      // index of the trail
	lane  int
}

// lane is a stretch of work between two turns, lifts or gaps.
type lane struct {
	owner    int
	steps    span // fixes
	stations span
}

// carpet is the ground of all stretches that are taken as work, in stations.
type carpet struct {
	credited, width float64
	stations        []station
	lanes           []lane
	cells           map[[2]int32][]int32
	cover           []int32 // stations that cover places, place after place
	ends            []int32 // by station and place: where its part of cover ends; see by
	lifted          []bool  // by station: judged already, and no longer counted as cover
}

// judgeGround judges by what other work covers, over all trails of the operation.
func judgeGround(all []*witness, w Work) {
	if !slices.ContainsFunc(all, func(d *witness) bool { return d.inferred }) {
		return
	}
	c := newCarpet(all, w)
	more := false
	for _, d := range all {
		more = d.inferred && c.restore(d) || more
	}
	if more {
		c = newCarpet(all, w)
	}
	c.findCover(all[0].scene)
	lifted, again := c.transports(all)
	way := 0.0
	for _, r := range lifted {
		way += c.length(r)
	}
	if way > workedTwice*c.spacing()*float64(len(c.stations)) {
		lifted, again = nil, append(again, lifted...)
	}
	for _, r := range lifted {
		all[c.stations[r.from].owner].mark(c.steps(r), verdict{ActivityTurn, whyTransport, true})
	}
	for _, r := range again {
		all[c.stations[r.from].owner].mark(c.steps(r), verdict{ActivityWork, whyAgain, true})
	}
	for _, d := range all {
		for _, part := range d.told.parts {
			if d.inferred && len(lifted) > 0 {
				d.judgeShort(part)
			}
		}
	}
}

func (c *carpet) spacing() float64 { return stationShare * c.credited }

func (c *carpet) length(r span) float64 { return c.spacing() * float64(r.to-r.from+1) }

// newCarpet lays the stations along all work.
func newCarpet(all []*witness, w Work) *carpet {
	c := &carpet{credited: w.Credited(), width: w.Width, cells: map[[2]int32][]int32{}}
	for owner, d := range all {
		way := 0.0
		limit := limitsOf(d.t, w)
		for _, part := range d.told.parts {
			from := part.from
			for k := part.from + 1; k <= part.to; k++ {
				switch a := d.activity(k); {
				case limit.gap(d.t, k) || a != ActivityWork && a != ActivityIdle:
					way = c.lay(d, owner, span{from, k - 1}, way)
					way += d.bar[k].Dist(d.bar[k-1])
					from = k
				}
			}
			way = c.lay(d, owner, span{from, part.to}, way)
		}
	}
	for i, s := range c.stations {
		key := c.cell(s.at)
		c.cells[key] = append(c.cells[key], int32(i))
	}
	c.lifted = make([]bool, len(c.stations))
	return c
}

// activity is what the set did on the step to fix k: as told, or as logged.
func (d *witness) activity(k int) Activity {
	if d.t.State != nil && (d.t.State[k] != geo.Working || d.t.State[k-1] != geo.Working) {
		return ActivityTurn
	}
	return d.told.at(k).activity
}

// lay puts the stations of one stretch of work, and gives the way at its end.
func (c *carpet) lay(d *witness, owner int, steps span, way float64) float64 {
	next, first := way, len(c.stations)
	for k := steps.from + 1; k <= steps.to; k++ {
		if d.told.at(k).activity == ActivityIdle {
			continue
		}
		a, b := d.bar[k-1], d.bar[k]
		l := a.Dist(b)
		for ; next < way+l; next += c.spacing() {
			c.stations = append(c.stations, station{at: a.Lerp(b, (next-way)/l), way: next, when: d.t.seconds[k], fix: k, owner: owner, lane: len(c.lanes)})
		}
		way += l
	}
	last := len(c.stations) - 1
	if last <= first { // no longer than a station: no direction either
		c.stations = c.stations[:first]
		return way
	}
	for i := first; i <= last; i++ {
		c.stations[i].along = c.stations[min(i+1, last)].at.Sub(c.stations[max(i-1, first)].at).Unit()
	}
	c.lanes = append(c.lanes, lane{owner, steps, span{first, last}})
	return way
}

func (c *carpet) cell(p plane.XY) [2]int32 {
	return [2]int32{int32(math.Floor(p.X / c.credited)), int32(math.Floor(p.Y / c.credited))}
}

// covers says whether the bar of a station, for as far as the next, lies over p.
func (c *carpet) covers(s station, p plane.XY) bool {
	v := p.Sub(s.at)
	return math.Abs(v.Dot(s.along)) <= stationReach*c.spacing() && math.Abs(v.Cross(s.along)) <= c.credited/2
}

// places calls do for the places across the bar of a station.
func (c *carpet) places(s station, do func(p plane.XY)) {
	for k := range stationPlaces {
		f := (float64(k)+0.5)/stationPlaces - 0.5
		do(s.at.Add(s.along.Left().Scale(f * c.credited)))
	}
}

// near appends the stations of the cells around p: all that cover what lies within half a bar of it.
func (c *carpet) near(p plane.XY, to []int32) []int32 {
	at := c.cell(p)
	for x := at[0] - 1; x <= at[0]+1; x++ {
		for y := at[1] - 1; y <= at[1]+1; y++ {
			to = append(to, c.cells[[2]int32{x, y}]...)
		}
	}
	return to
}

// outOfField covers a place outside the field, where nothing is to be worked.
const outOfField = -1

// findCover notes for every place of every station which others cover it; the boundary does for those outside.
func (c *carpet) findCover(scene *scene) {
	c.ends = make([]int32, 0, stationPlaces*len(c.stations))
	var around []int32
	for _, s := range c.stations {
		around = slices.DeleteFunc(c.near(s.at, around[:0]), func(i int32) bool {
			o := c.stations[i]
			return o.owner == s.owner && math.Abs(o.way-s.way) <= selfReach*c.width
		})
		c.places(s, func(p plane.XY) {
			if scene.at(p) > zoneHeadland {
				c.cover = append(c.cover, outOfField)
			} else {
				for _, i := range around {
					if c.covers(c.stations[i], p) {
						c.cover = append(c.cover, i)
					}
				}
			}
			c.ends = append(c.ends, int32(len(c.cover)))
		})
	}
}

// by are the stations that cover a place of a station.
func (c *carpet) by(station, place int) []int32 {
	k := stationPlaces*station + place
	from := int32(0)
	if k > 0 {
		from = c.ends[k-1]
	}
	return c.cover[from:c.ends[k]]
}

// covered says whether other work, without what is judged already, covers all of the bar at a station.
func (c *carpet) covered(i int) bool {
	for place := range stationPlaces {
		if !slices.ContainsFunc(c.by(i, place), func(o int32) bool { return o == outOfField || !c.lifted[o] }) {
			return false
		}
	}
	return true
}

// coveredRuns are the runs of covered stations of some, over interruptions of less than a width.
func (c *carpet) coveredRuns(of span) []span {
	var out []span
	for i := of.from; i <= of.to; i++ {
		if c.lifted[i] || !c.covered(i) {
			continue
		}
		if n := len(out) - 1; n >= 0 && float64(i-out[n].to-1)*c.spacing() < c.width {
			out[n].to = i
		} else {
			out = append(out, span{i, i})
		}
	}
	return out
}

// transports are the runs of stations taken as driven with the tool lifted, and those over worked ground that stay
// work. Of two stretches that cover each other only one comes up: the longer is looked at first, and of those that stay
// work the later.
func (c *carpet) transports(all []*witness) (lifted, again []span) {
	take := func(into *[]span, order func(a, b span) int, fits func(r span, between bool) bool) {
		var suspects []span
		for _, l := range c.lanes {
			if all[l.owner].inferred {
				suspects = append(suspects, c.coveredRuns(l.stations)...)
			}
		}
		slices.SortStableFunc(suspects, order)
		for _, s := range suspects {
			for _, r := range c.coveredRuns(s) {
				l := c.lanes[c.stations[r.from].lane].stations
				between := r.from > l.from+1 && r.to < l.to-1
				if least := map[bool]float64{false: transportLeast, true: transportBetween}[between]; c.length(r) < least*c.width || !fits(r, between) {
					continue
				}
				*into = append(*into, r)
				for i := r.from; i <= r.to; i++ {
					c.lifted[i] = true
				}
			}
		}
	}
	take(&lifted, func(a, b span) int { return (b.to - b.from) - (a.to - a.from) }, func(r span, between bool) bool {
		d := all[c.stations[r.from].owner]
		ratio := c.speed(d, r) / d.usual
		odd := ratio > fastSpeed || ratio < slowSpeed
		before, across := c.coveredHow(r)
		if between {
			return odd && (before >= mostly || across >= mostly)
		}
		return before >= mostly && (odd || c.length(r) < againLeast*c.width)
	})
	take(&again, func(a, b span) int { return cmp.Compare(c.stations[b.from].when, c.stations[a.from].when) }, func(span, bool) bool { return true })
	return lifted, again
}

// coveredHow is which share of what covers a run was worked before it, and which share it runs straight across.
func (c *carpet) coveredHow(r span) (before, across float64) {
	n := 0.0
	for i := r.from; i <= r.to; i++ {
		s := c.stations[i]
		for place := range stationPlaces {
			for _, k := range c.by(i, place) {
				if k == outOfField || c.lifted[k] {
					continue
				}
				o := c.stations[k]
				n++
				if o.when < s.when {
					before++
				}
				if of := c.lanes[o.lane].stations; math.Abs(o.along.Cross(s.along)) > acrossSine && float64(min(int(k)-of.from, of.to-int(k)))*c.spacing() > throughLeast*c.width {
					across++
				}
			}
		}
	}
	return before / n, across / n
}

// speed is the mean speed over a run of stations, m/s; NaN where there are no times.
func (c *carpet) speed(d *witness, r span) float64 {
	a, b := c.stations[r.from], c.stations[r.to]
	return (b.way - a.way) / (d.t.seconds[b.fix] - d.t.seconds[a.fix])
}

// steps are the fixes of a run of stations; all of its lane's end where it reaches that.
func (c *carpet) steps(r span) span {
	l := c.lanes[c.stations[r.from].lane]
	out := span{c.stations[r.from].fix - 1, c.stations[r.to].fix}
	if r.from == l.stations.from {
		out.from = l.steps.from
	}
	if r.to == l.stations.to {
		out.to = l.steps.to
	}
	return out
}

// restore takes doubtful turns for work where most of their ground is covered by nothing else: the set swerved with
// the tool in the ground.
func (c *carpet) restore(d *witness) (any bool) {
	var around []int32
	for _, part := range d.told.parts {
		for k := part.from + 1; k <= part.to; k++ {
			n := d.told.of[k]
			if v := d.told.verdicts[n]; v.activity != ActivityTurn || !v.doubtful {
				continue
			}
			from := k - 1
			for k < part.to && d.told.of[k+1] == n {
				k++
			}
			covered, places := 0, 0
			lone := carpet{credited: c.credited, width: c.width}
			lone.lay(d, 0, span{from, k}, 0)
			for _, s := range lone.stations {
				around = c.near(s.at, around[:0])
				c.places(s, func(p plane.XY) {
					if places++; slices.ContainsFunc(around, func(i int32) bool { return c.covers(c.stations[i], p) }) {
						covered++
					}
				})
			}
			if 2*covered < places {
				d.told.verdicts[n] = verdict{ActivityWork, d.told.verdicts[n].why + ", but " + whyAlone, true}
				any = true
			}
		}
	}
	return any
}
