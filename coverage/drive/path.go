package drive

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

const (
	// farAway: a fix farther than this from the field's middle belongs to
	// another place or is a receiver's nonsense.
	farAway = 50e3 // m
	// ownBearing: a logged heading is believed when it lies within 45° of the
	// line of travel, forwards or backwards; cos 45°.
	ownBearing = 0.7071
)

// trail is one track, or several that join, on the plane. Columns are nil when
// not logged.
type trail struct {
	at      []plane.XY // the antenna's way; from place on that of the middle of the bar
	antenna []plane.XY
	seconds []float64 // since 1970 UTC, NaN where not logged
	// As logged: a width that is NaN or <= 0 is all of the bar. The offset is told from the middle of the bar, the
	// heading by facing.
	geo.Columns
	whole  float64    // m, of the whole bar by the log; 0 = not logged
	middle float64    // m, offset of the whole bar
	facing []plane.XY // unit vector of the logged heading; zero where not logged
	// m, 95 %, of the difference of two places, since coordinates are rounded
	rounding float64
	angle    []float64  // degrees, between tractor and implement; nil: not trailed
	compass  []plane.XY // facing as logged; facing is from place on the bar's

	inferred bool  // state is told by rules, not logged
	breaks   []int // indices of fixes that do not follow the one before
	tracks   []trackStart
	source   string
	timed    bool
	last     pace // of the track that was joined last, where follows asks for it
}

// trackStart says from which fix of a trail on it belongs to which track, and the number of
// that in its file, from 1.
type trackStart struct{ from, track, record int }

// trackOf is the index of the track that holds fix k.
func (t *trail) trackOf(k int) int {
	n := 0
	for _, s := range t.tracks {
		if s.from <= k {
			n = s.track
		}
	}
	return n
}

// recordOf is the number in its file of the track that holds fix k.
func (t *trail) recordOf(k int) int {
	n := t.tracks[0].record
	for _, s := range t.tracks {
		if s.from <= k {
			n = s.record
		}
	}
	return n
}

// trailsOf takes tracks to the plane. Fixes without a finite place or farther
// than 50 km from the field's middle are left out and counted. A part that
// starts at the very fix (place and time) at which the part before ended is
// joined to it; so is a track that goes on where one before ended (see follows and cameFrom).
func trailsOf(ctx context.Context, local geo.Local, tracks []geo.Track, w Work) ([]*trail, []geo.Finding, error) {
	var trails []*trail
	var findings []geo.Finding
	bound := boundByHDOP(tracks, w)
	for n, t := range tracks {
		if !bound {
			t.HDOP = nil
		}
		if t.Line == nil || t.Fixes() == 0 {
			findings = append(findings, geo.Finding{File: t.Source, Record: t.Record(n), What: "track without fixes", Lost: true})
			continue
		}
		if err := t.Columns.Fits(t.Fixes()); err != nil {
			return nil, nil, fmt.Errorf("track %d of %s: %w", n+1, t.Source, err)
		}
		tr, found, err := trailOf(ctx, local, t, n, w)
		if err != nil {
			return nil, nil, err
		}
		findings = append(findings, found...)
		if len(tr.at) == 0 {
			continue
		}
		if len(tracks) > 1 && tr.timed {
			tr.last = paceOf(tr, w)
		}
		if before, shared := cameFrom(trails, tr); before != nil {
			before.join(tr, shared)
			continue
		}
		trails = append(trails, tr)
	}
	return trails, findings, nil
}

func trailOf(ctx context.Context, local geo.Local, t geo.Track, number int, w Work) (*trail, []geo.Finding, error) {
	flat, stride, m := t.Line.FlatCoords(), t.Line.Stride(), t.Line.Layout().MIndex()
	n := len(flat) / stride
	at, err := project(ctx, local, flat, stride, w.Workers)
	if err != nil {
		return nil, nil, err
	}
	tr := &trail{source: t.Source, tracks: []trackStart{{0, number, t.Record(number)}}}
	tr.at, tr.seconds = at[:0], make([]float64, 0, n)
	logged := slices.ContainsFunc(t.State, func(s geo.WorkState) bool { return s != geo.StateUnknown })
	rows := make([]int, 0, n) // of the fixes taken
	var findings []geo.Finding
	bad, far, firstBad, firstFar := 0, 0, -1, -1
	ends, part, fresh := t.Line.Ends(), 0, true
	prev := -1 // raw index of the last fix taken
	for k := range n {
		for part < len(ends) && k*stride >= ends[part] {
			part, fresh = part+1, true
		}
		p := at[k]
		if math.IsNaN(p.X) {
			if bad++; firstBad < 0 {
				firstBad = k
			}
			continue
		}
		if p.Len() > farAway {
			if far++; firstFar < 0 {
				firstFar = k
			}
			continue
		}
		sec := math.NaN()
		if m >= 0 {
			sec = flat[k*stride+m]
		}
		if math.IsInf(sec, 0) {
			sec = math.NaN()
		}
		if fresh && prev >= 0 {
			same := p == tr.at[len(tr.at)-1] && sameNumber(sec, tr.seconds[len(tr.seconds)-1])
			if same && logged {
				same = t.State[k] == t.State[prev]
			}
			if same { // the part goes on where the last one stopped
				fresh, prev = false, k
				continue
			}
			tr.breaks = append(tr.breaks, len(tr.at))
		}
		fresh, prev = false, k
		tr.at = append(tr.at, p) // never ahead of k: writes behind the reader
		tr.seconds = append(tr.seconds, sec)
		tr.timed = tr.timed || !math.IsNaN(sec)
		rows = append(rows, k)
	}
	if tr.Columns = t.Columns.Keep(rows); !logged {
		tr.State = nil
	}
	if tr.Heading = nil; t.Heading != nil && !t.Course { // a course is the way driven once more
		tr.facing = make([]plane.XY, 0, len(rows))
		for _, k := range rows {
			tr.facing = append(tr.facing, facing(local, orb.Point{flat[k*stride], flat[k*stride+1]}, t.Heading[k]))
		}
	}
	if bad > 0 {
		findings = append(findings, geo.Finding{File: t.Source, Record: t.Record(number), Lost: true,
			What: fmt.Sprintf("%d of %d fixes have no place on earth (first: fix %d) and were left out", bad, n, firstBad+1)})
	}
	if far > 0 {
		p := orb.Point{flat[firstFar*stride], flat[firstFar*stride+1]}
		findings = append(findings, geo.Finding{File: t.Source, Record: t.Record(number), Lost: true, At: &p,
			What: fmt.Sprintf("%d of %d fixes lie more than %g km from the field (first: fix %d) and were left out", far, n, farAway/1000, firstFar+1)})
	}
	return tr, append(findings, tr.rounded(t, w)...), nil
}

// facing is the unit vector on the plane of a true bearing at p.
func facing(local geo.Local, p orb.Point, b geo.Bearing) plane.XY {
	if math.IsNaN(float64(b)) || math.IsInf(float64(b), 0) {
		return plane.XY{}
	}
	// Grid bearing = true bearing − convergence; a bearing turns clockwise from north.
	sin, cos := math.Sincos((float64(b) - local.Convergence(p)) * math.Pi / 180)
	return plane.XY{X: sin, Y: cos}
}

func sameNumber(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// projectChunk is how many fixes a worker projects before it asks for more:
// some tens of microseconds of work, and a chance to stop.
const projectChunk = 8192

// project takes flat coordinates to the plane; what is not on earth becomes NaN.
func project(ctx context.Context, local geo.Local, flat []float64, stride, on int) ([]plane.XY, error) {
	n := len(flat) / stride
	out := make([]plane.XY, n)
	err := workers.Chunks(ctx, n, projectChunk, on, func(from, to int) error {
		for k := from; k < to; k++ {
			lon, lat := flat[k*stride], flat[k*stride+1]
			out[k] = plane.XY{X: math.NaN(), Y: math.NaN()}
			if !(math.Abs(lon) <= 180 && math.Abs(lat) <= 90) {
				continue
			}
			if p := local.XY(orb.Point{lon, lat}); !math.IsNaN(p.X+p.Y) && !math.IsInf(p.X, 0) && !math.IsInf(p.Y, 0) {
				out[k] = p
			}
		}
		return nil
	})
	return out, err
}
