package coverage

import (
	"context"
	"math"

	"balk/coverage/drive"
	"balk/coverage/slope"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Slope is how the ground lies by the heights of the log. Slopes are m per m.
type Slope struct {
	Mean    float64         `json:"mean"`           // where it rises most, over the way at work
	Most    Steepest        `json:"most"`           // on the way at work
	Across  Steepest        `json:"across"`         // the greatest across the way at work, to either side
	Error   float64         `json:"error"`          // 95 %, of the slope across; on half of the way at work it is less
	LeftOut float64         `json:"leftOut"`        // m, by how much heights lie off the ground as all other stretches of the log have it, root of the mean square
	Known   float64         `json:"known"`          // share of the way at work on which the slope is known
	Map     float64         `json:"map"`            // m² of the field where it is known, on the map
	Ground  float64         `json:"ground"`         // m² of the same along the slope
	Crab    *slope.Crabbing `json:"crab,omitempty"` // by how much the set turns uphill; nil: headings are not logged, or do not tell
	Passes  []PassSlope     `json:"passes"`         // those on which it is known
}

// Steepest is a greatest slope and where it is.
type Steepest struct {
	Slope float64   `json:"slope"`
	At    orb.Point `json:"at"` // lon, lat
}

// PassSlope is how the ground lies along a pass, m per m.
type PassSlope struct {
	Pass   int     `json:"pass"`   // its number
	Across float64 `json:"across"` // mean, rise to the left of its way
	Most   float64 `json:"most"`   // the greatest across, to either side
	Up     float64 `json:"up"`     // the greatest uphill on its way
	Down   float64 `json:"down"`   // the greatest downhill
}

// Lies is how the ground lies at the middle of a strip, m per m, whichever way it is driven.
type Lies struct {
	Along  float64 `json:"along"`
	Across float64 `json:"across"`
	Error  float64 `json:"error"` // 95 %, of the slope across
}

// unsureSlope: a slope whose error is greater, 95 %, is none to tell of.
const unsureSlope = 0.05

// Driven reads the tracks of an operation, where the set is said to crab by so much per percent of slope on the ground that their heights tell. of is w on that
// ground.
func Driven(ctx context.Context, field []plane.Polygon, local geo.Local, tracks []geo.Track, w drive.Work) (log drive.Log, of drive.Work, err error) {
	log, err = drive.Read(ctx, field, local, tracks, w, drive.AsJudged)
	if err != nil || w.Drift.PerPercent == 0 || len(log.Runs) == 0 {
		return log, w, err
	}
	ground := slope.Of(slope.HeightsOf(log.Stretches))
	w.Drift = w.Drift.On(func(way []plane.XY) []plane.XY {
		lies, known := ground.Along(way)
		rises := make([]plane.XY, len(way))
		for i, l := range lies {
			_, ex := l.Along(plane.XY{X: 1})
			_, ey := l.Along(plane.XY{Y: 1})
			if rises[i] = l.Rise; !known[i] || drive.In95*math.Hypot(ex, ey) > unsureSlope {
				rises[i] = plane.XY{X: math.NaN(), Y: math.NaN()}
			}
		}
		return rises
	})
	if log, err = drive.Read(ctx, field, local, tracks, w, drive.AsJudged); err == nil && !log.Crab.Supposed() && log.Crab != nil && log.Crab.Angle == 0 {
		log.Findings = append(log.Findings, geo.Finding{File: tracks[0].Source, What: noSlopes})
	}
	return log, w, err
}

// noSlopes is said where a crab angle per percent of slope comes to nothing.
const noSlopes = "a crab angle per percent of slope is given, and the log tells no slope where it tells no heading: none is applied"

// sloped puts the surface through the log's heights into r, and what that says of passes and strips; nothing where none is known.
func (r *Result) sloped(runs []drive.Run) {
	heights := slope.HeightsOf(r.Log)
	if len(heights) == 0 {
		return
	}
	r.Surface = slope.Of(heights)
	s := &Slope{Passes: []PassSlope{}}
	way, known, rises := 0.0, 0.0, 0.0
	var errors []weighted
	for _, run := range runs {
		p := PassSlope{Pass: run.Pass.Number}
		line, long := run.Pass.Line, 0.0
		lies := r.LiesAlong(line)
		for i := range line[:max(0, len(line)-1)] {
			l := line[i+1].Dist(line[i])
			if way += l; math.IsNaN(lies[i].Left) {
				continue
			}
			here := lies[i]
			long, rises = long+l, rises+l*here.Steep
			p.Across += l * here.Left
			p.Most, p.Up, p.Down = max(p.Most, math.Abs(here.Left)), max(p.Up, here.Up), max(p.Down, -here.Up)
			errors = append(errors, weighted{here.Error, l})
			s.Most.raise(r.Local, here.Steep, line[i])
			s.Across.raise(r.Local, math.Abs(here.Left), line[i])
		}
		if known += long; long > 0 {
			p.Across /= long
			s.Passes = append(s.Passes, p)
		}
	}
	if known == 0 {
		return
	}
	half := []float64{known / 2}
	quantiles(errors, half)
	s.Mean, s.Known, s.Error = rises/known, known/way, half[0]
	s.LeftOut = r.Surface.LeftOut()
	share, times := r.Surface.Ground(r.Layers.Field)
	s.Map = share * r.Balance.Field
	s.Ground = times * s.Map
	if c, ok := slope.Fit(r.Surface.Pieces(r.Log)); ok {
		s.Crab = &c
	}
	for k := range r.Strips {
		strip := &r.Strips[k]
		at, u := r.Local.XY(strip.At), r.Local.HeadingOf(strip.Bearing).Ahead()
		if l := r.LiesAlong([]plane.XY{at, at.Add(u)})[0]; !math.IsNaN(l.Left) {
			strip.Lies = &Lies{math.Abs(l.Up), math.Abs(l.Left), l.Error}
		}
	}
	r.Slope = s
}

// Lie is how the ground lies under a set on its way, m per m; NaN where that is not known.
type Lie struct {
	Up    float64 // on its way
	Left  float64 // to the left of it
	Steep float64 // where it rises most
	Error float64 // 95 %, of Left
}

// LiesAlong is how the ground lies at every point of a way, on to the next.
func (r *Result) LiesAlong(line []plane.XY) []Lie {
	lies, known := r.Surface.Along(line)
	out := make([]Lie, len(line))
	none := Lie{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	var u plane.XY
	for i := range line {
		if i+1 < len(line) && line[i+1] != line[i] {
			u = line[i+1].Sub(line[i]).Unit()
		}
		out[i] = none
		if !known[i] || u == (plane.XY{}) {
			continue
		}
		up, _ := lies[i].Along(u)
		left, err := lies[i].Along(u.Left())
		steep, _ := lies[i].Steep()
		if err *= drive.In95; err <= unsureSlope {
			out[i] = Lie{up, left, steep, err}
		}
	}
	return out
}

// raise takes a slope that is greater.
func (s *Steepest) raise(l geo.Local, slope float64, at plane.XY) {
	if slope > s.Slope {
		s.Slope, s.At = slope, l.Point(at)
	}
}

// WaySlope is the greatest slope on a way, m per m.
type WaySlope struct {
	Across  float64 `json:"across"`            // to either side
	Down    float64 `json:"down"`              // downhill on the way
	Turning bool    `json:"turning,omitempty"` // where it goes down most it turns
}

const (
	bendReach = 5.0  // m of way to each side of a place over which a way turns
	bendLeast = 20.0 // degrees over that, so that it does: a radius below 30 m
)

// WaySlope is that of a way in the direction driven; ok is false where no slope is known on it.
func (r *Result) WaySlope(line []plane.XY) (w WaySlope, ok bool) {
	if r.Slope == nil {
		return WaySlope{}, false
	}
	var at []plane.XY
	for i, p := range line {
		if i > 0 { // a straight has its ends only
			n := math.Ceil(p.Dist(line[i-1]) / bendReach)
			for k := 1.0; k < n; k++ {
				at = append(at, line[i-1].Lerp(p, k/n))
			}
		}
		at = append(at, p)
	}
	steepest := 0
	for i, l := range r.LiesAlong(at) {
		if math.IsNaN(l.Left) {
			continue
		}
		ok = true
		w.Across = max(w.Across, math.Abs(l.Left))
		if -l.Up > w.Down {
			w.Down, steepest = -l.Up, i
		}
	}
	if w.Down > 0 {
		from, to := steepest, steepest
		for way := 0.0; from > 0 && way < bendReach; from-- {
			way += at[from].Dist(at[from-1])
		}
		for way := 0.0; to < len(at)-1 && way < bendReach; to++ {
			way += at[to].Dist(at[to+1])
		}
		if from < to {
			in, out := at[from+1].Sub(at[from]), at[to].Sub(at[to-1])
			w.Turning = math.Abs(in.AngleTo(out)) >= bendLeast*math.Pi/180
		}
	}
	return w, ok
}
