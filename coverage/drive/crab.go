package drive

import (
	"fmt"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// Drift is how a set slips downhill: on a slope it runs with its front turned
// uphill by the crab angle. The zero value is none.
//
//	driven east, downhill south     ────────────→ way of the antenna
//	                                 ╲ crab angle
//	                                  ╲ bar, behind and below the way
type Drift struct {
	Angle      float64     `json:"angle,omitempty"`      // degrees, crab angle where the set drives square to the slope; 0 to 30
	Downhill   geo.Bearing `json:"downhill,omitempty"`   // degrees from true north
	Measure    bool        `json:"measure,omitempty"`    // take the angle from the logged headings of passes driven in opposite directions
	PerPercent float64     `json:"perPercent,omitempty"` // degrees of crab angle per percent of slope across the way, by the heights of the log
	rises      Rises
}

// Rises tells how the ground rises at every point of a way, m per m uphill; NaN where that is not known.
type Rises func(way []plane.XY) []plane.XY

// On is d on ground that rises so. Without it PerPercent turns nothing.
func (d Drift) On(r Rises) Drift {
	d.rises = r
	return d
}

// maxCrab is the largest crab angle taken; more is no drift but a typing error.
const maxCrab = 30.0 // degrees

// Validate says what is wrong with d.
func (d Drift) Validate() error {
	if !(d.Angle >= 0 && d.Angle <= maxCrab) {
		return fmt.Errorf("crab angle %g°: must be from 0 to %g°", d.Angle, maxCrab)
	}
	if b := float64(d.Downhill); !(b >= 0 && b <= 360) {
		return fmt.Errorf("downhill bearing %g°: must be from 0 to 360°", b)
	}
	if d.Measure && d.Angle != 0 {
		return fmt.Errorf("crab angle %g°: must not be given where it is to be measured", d.Angle)
	}
	if d.PerPercent != 0 && (d.Measure || d.Angle != 0) {
		return fmt.Errorf("crab angle %g° per percent: must not be given beside an angle, or where it is to be measured", d.PerPercent)
	}
	return nil
}

// turned is the way a bar faces that moves along u: uphill of it by the part of
// the crab angle that falls to this direction. uphill is as long as the crab angle
// of a way square to it, degrees.
func turned(u, uphill plane.XY) plane.XY {
	sin, cos := math.Sincos(uphill.Dot(u.Left()) * math.Pi / 180)
	return u.Scale(cos).Add(u.Left().Scale(sin))
}

// Crab is the crab angle of an operation.
type Crab struct {
	Angle      float64     `json:"angle"`                // degrees, square to the slope; by PerPercent the greatest at work
	Downhill   geo.Bearing `json:"downhill"`             // true; measured: square to the passes; 0 by PerPercent
	PerPercent float64     `json:"perPercent,omitempty"` // degrees per percent of slope across the way, as given; 0 = it is alike everywhere
	Shift      float64     `json:"shift"`                // m, how far it moves the middle of the bar downhill; by PerPercent at the most
	Share      float64     `json:"share,omitempty"`      // of the way at work on which the set is turned so: elsewhere its heading is logged, or the slope not known
	Spread     float64     `json:"spread,omitempty"`     // degrees, measured angle ± at 95 %
	Sensor     float64     `json:"sensor,omitempty"`     // degrees the headings point left of the way in both directions: the sensor is not in line
	Passes     [2]int      `json:"passes,omitzero"`      // straight runs measured, there and back
	Measured   bool        `json:"measured"`
	Applied    bool        `json:"applied"` // false: measured and reported only
}

// Supposed says whether it is no measured angle by which the set is turned.
func (c *Crab) Supposed() bool { return c != nil && c.Applied && !c.Measured && c.Share > 0 }

const (
	crabStraight = 10.0 // degrees a run may turn to be straight
	crabRun      = 30.0 // m, shortest straight run measured
	crabRuns     = 3    // runs each way that an estimate needs
	crabAxis     = 15.0 // degrees off the main direction
	crabBase     = 2.0  // m over which the way's direction is taken: 2 cm of noise are then 0.8°, averaged over a run
)

// crabSample is how the headings of one straight run lie to its way.
type crabSample struct {
	way    plane.XY // mean direction, unit vector
	length float64  // m
	left   float64  // degrees, mean of heading − way, positive to the left
}

// crabOf measures the crab angle from logged headings: on passes driven there the
// heading stands uphill of the way, on passes driven back as well, which is the
// other side. So half the difference of the two means is the crab angle, and half
// their sum how far the sensor is out of line. ok is false where too few
// straight runs with headings lie in opposite directions.
func crabOf(trails []*trail, local geo.Local) (c Crab, ok bool) {
	var runs []crabSample
	for _, t := range trails {
		if t.facing != nil {
			runs = append(runs, t.crabSamples()...)
		}
	}
	if len(runs) < 2*crabRuns {
		return Crab{}, false
	}
	// main direction: directions doubled, so that there and back add up
	var axis plane.XY
	for _, r := range runs {
		axis = axis.Add(plane.XY{X: r.way.X*r.way.X - r.way.Y*r.way.Y, Y: 2 * r.way.X * r.way.Y}.Scale(r.length))
	}
	sin, cos := math.Sincos(math.Atan2(axis.Y, axis.X) / 2)
	d := plane.XY{X: cos, Y: sin}
	var means [2][]float64
	for _, r := range runs {
		if along := d.Dot(r.way); math.Abs(along) >= math.Cos(crabAxis*math.Pi/180) {
			side := 0
			if along < 0 {
				side = 1
			}
			means[side] = append(means[side], r.left)
		}
	}
	if len(means[0]) < crabRuns || len(means[1]) < crabRuns {
		return Crab{}, false
	}
	there, v0 := MeanOf(means[0])
	back, v1 := MeanOf(means[1])
	angle := (there - back) / 2
	c = Crab{
		Angle: math.Abs(angle), Sensor: (there + back) / 2, Passes: [2]int{len(means[0]), len(means[1])}, Measured: true,
		Spread: 1.96 * math.Sqrt(v0/float64(len(means[0]))+v1/float64(len(means[1]))) / 2,
	}
	down := d.Left().Scale(-math.Copysign(1, angle)) // heading left of d: uphill is left of d
	c.Downhill = geo.Bearing(math.Mod(math.Atan2(down.X, down.Y)*180/math.Pi+local.Convergence(local.Centre)+360, 360))
	return c, true
}

// MeanOf is the mean of v and its variance.
func MeanOf(v []float64) (mean, variance float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		variance += (x - mean) * (x - mean) / float64(max(len(v)-1, 1))
	}
	return mean, variance
}

// crabSamples measures the straight runs of a trail where it works, or may.
func (t *trail) crabSamples() []crabSample {
	var out []crabSample
	for _, part := range byBreaks(t) {
		var run []int
		flush := func() {
			if s, ok := t.crabSample(run); ok {
				out = append(out, s)
			}
			run = run[:0]
		}
		for k := part.from; k <= part.to; k++ {
			if t.State != nil && t.State[k] != geo.Working || t.facing[k] == (plane.XY{}) {
				flush()
				continue
			}
			if n := len(run); n > 0 && t.at[k].Dist(t.at[run[n-1]]) < parked {
				continue
			}
			if len(run) > 0 && t.facing[run[0]].Dot(t.facing[k]) < math.Cos(crabStraight*math.Pi/180) {
				flush()
			}
			run = append(run, k)
		}
		flush()
	}
	return out
}

func (t *trail) crabSample(run []int) (crabSample, bool) {
	if len(run) < 3 {
		return crabSample{}, false
	}
	length := t.at[run[len(run)-1]].Dist(t.at[run[0]])
	if length < crabRun {
		return crabSample{}, false
	}
	s := crabSample{length: length}
	s.way = t.at[run[len(run)-1]].Sub(t.at[run[0]]).Scale(1 / length)
	var sum, weight float64
	from := 0
	for i, k := range run {
		if t.at[k].Dist(t.at[run[from]]) < crabBase {
			continue
		}
		way := t.at[k].Sub(t.at[run[from]])
		for _, j := range run[from:i] {
			f := t.facing[j]
			if f.Dot(way) < 0 { // the set backs up, or the sensor looks backwards
				f = f.Scale(-1)
			}
			w := way.Len() / float64(i-from)
			sum += w * way.AngleTo(f)
			weight += w
		}
		from = i
	}
	if weight < crabRun/2 {
		return crabSample{}, false
	}
	s.left = sum / weight * 180 / math.Pi
	return s, true
}

// findCrab settles the drift of the operation: given, measured, or none.
func findCrab(trails []*trail, local geo.Local, w Work) (*Crab, error) {
	c, ok := crabOf(trails, local)
	switch {
	case w.Drift.Angle > 0:
		c = Crab{Angle: w.Drift.Angle, Downhill: w.Drift.Downhill, Applied: true}
	case w.Drift.PerPercent > 0 && w.Drift.rises != nil:
		c = Crab{PerPercent: w.Drift.PerPercent, Applied: true}
	case w.Drift.Measure && !ok:
		return nil, fmt.Errorf("crab angle cannot be measured: it takes logged headings, which a course is not, on at least %d straight runs of %g m each way", crabRuns, crabRun)
	case ok:
		c.Applied = w.Drift.Measure
	default:
		return nil, nil
	}
	c.Shift = w.shifted(c.Angle)
	return &c, nil
}

// shifted is how far the middle of the bar runs below the antenna's way at a crab angle, m.
func (w Work) shifted(angle float64) float64 {
	back := w.Mount.BarBehind
	if w.Mount.Trailed {
		back += w.Mount.Drawbar
	}
	return (w.Mount.Hitch + back) * math.Sin(angle*math.Pi/180)
}

// slip is how far a set is turned uphill at every point of a way: a vector uphill, as long as the crab angle of a way square to it, degrees; NaN where that
// is not known. Nil: not at all.
type slip func(way []plane.XY) []plane.XY

// slip is that of an operation.
func (c *Crab) slip(local geo.Local, w Work) slip {
	switch {
	case c == nil || !c.Applied:
		return nil
	case c.PerPercent > 0:
		return func(way []plane.XY) []plane.XY {
			out := slices.Clone(w.Drift.rises(way))
			for i, r := range out {
				out[i] = r.Scale(100 * c.PerPercent)
			}
			return out
		}
	}
	uphill := facing(local, local.Centre, c.Downhill).Scale(-c.Angle)
	return func(way []plane.XY) []plane.XY { return slices.Repeat([]plane.XY{uphill}, len(way)) }
}

// turning is how far, at work, a set was turned uphill.
type turning struct {
	way, turned float64 // m at work; of it turned by the slip
	most        float64 // degrees
}

// took puts into c what was done by it.
func (c *Crab) took(t turning, w Work) {
	if c == nil || !c.Applied || t.way == 0 {
		return
	}
	if c.Share = t.turned / t.way; c.PerPercent > 0 {
		c.Angle, c.Shift = t.most, w.shifted(t.most)
	}
}
