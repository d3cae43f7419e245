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
// not logged, and so is State where it is never known.
type trail struct {
	at      []plane.XY // the antenna's way; from place on that of the middle of the bar
	antenna []plane.XY
	calm    []plane.XY // the antenna's way without white noise, where the motion was estimated; else as antenna
	seconds []float64  // since 1970 UTC, NaN where not logged
	geo.Columns
	facing  []plane.XY     // unit vector of the logged heading, zero where not logged; from place on the bar's
	compass []plane.XY     // facing as logged
	turned  turning        // uphill, see place
	bent    map[int][]pose // of the bar between a fix and the one before, where it goes on a bend
	angle   []float64      // degrees, between tractor and implement; nil: not trailed
	whole   float64        // m, of the whole bar by the log; 0 = not logged
	middle  float64        // m, offset of the whole bar
	// m/s, of the antenna where the motion was estimated; zero where that tells no way, nil where it was not
	velocity []plane.XY
	white    float64 // m, standard deviation of the places' white noise across the way; 0: not told
	// m, 95 %, of the difference of two places, since coordinates are rounded
	rounding float64

	inferred bool                  // State is told by rules, not logged
	assumed  bool                  // State is not logged: only what worked is (assumeWork)
	logged   []geo.WorkState       // State as logged, where delay has changed it
	lag      map[[2]int][2]float64 // s before or after the working fix in which the switch lies, by it and its neighbour; see delay
	switches map[[2]int]switchover // by working fix and its lifted neighbour
	breaks   []int                 // indices of fixes that do not follow the one before
	tracks   []trackStart
	source   string
	timed    bool
	apart    bool // by its times its fixes usually lie farApart or more from each other
	last     pace // of the track that was joined last, where follows asks for it
}

// trackStart says from which fix of a trail on it belongs to which track, and the number of
// that in its file, from 1.
type trackStart struct{ from, track, record int }

// trackAt is the last track that begins at fix k or before.
func (t *trail) trackAt(k int) trackStart {
	behind, _ := slices.BinarySearchFunc(t.tracks, k+1, func(s trackStart, k int) int { return s.from - k })
	return t.tracks[behind-1]
}

// recordOf is the number in its file of the track that holds fix k.
func (t *trail) recordOf(k int) int { return t.trackAt(k).record }

// trailsOf takes tracks to the plane. Fixes without a finite place or farther
// than 50 km from the field's middle are left out and counted. A part that
// starts at the very fix (place and time) at which the part before ended is
// joined to it; so is a track that goes on where one before ended (see follows and cameFrom).
func trailsOf(ctx context.Context, local geo.Local, tracks []geo.Track, w Work) ([]*trail, []geo.Finding, error) {
	var trails []*trail
	north, findings := compassOf(tracks)
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
		tr, found, err := trailOf(ctx, local, t, n, north, w)
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

func trailOf(ctx context.Context, local geo.Local, t geo.Track, number int, north compass, w Work) (*trail, []geo.Finding, error) {
	at, err := project(ctx, local, t.Line.FlatCoords(), t.Line.Stride(), w.Workers)
	if err != nil {
		return nil, nil, err
	}
	tr := &trail{source: t.Source, tracks: []trackStart{{0, number, t.Record(number)}}}
	if !slices.ContainsFunc(t.State, func(s geo.WorkState) bool { return s != geo.StateUnknown }) {
		t.State = nil
	}
	states, held := tr.hold(t, t.Record(number))
	t.State = states
	rows, left := tr.take(t, at)
	headings := t.Heading
	t.Heading = nil
	tr.Columns = t.Columns.Keep(rows)
	if headings != nil && !t.Course && north != nil { // a course is the way driven once more
		tr.facing = make([]plane.XY, len(rows))
		for i, k := range rows {
			tr.facing[i] = facing(local, pointOf(t, k), north(headings[k]))
		}
	}
	for i := range left {
		left[i].Lost, left[i].File, left[i].Record = true, t.Source, t.Record(number)
	}
	return tr, append(append(left, held...), tr.rounded(t, w)...), nil
}

func pointOf(t geo.Track, k int) orb.Point {
	flat, stride := t.Line.FlatCoords(), t.Line.Stride()
	return orb.Point{flat[k*stride], flat[k*stride+1]}
}

// take takes the places and times of a track over, which lie at at on the plane, and says which of its fixes these are and
// what was left out.
func (t *trail) take(track geo.Track, at []plane.XY) (rows []int, left []geo.Finding) {
	flat, stride, m := track.Line.FlatCoords(), track.Line.Stride(), track.Line.Layout().MIndex()
	t.at, t.seconds, rows = at[:0], make([]float64, 0, len(at)), make([]int, 0, len(at))
	var bad, far []int // left out
	ends, part, fresh := track.Line.Ends(), 0, true
	for k, p := range at {
		for part < len(ends) && k*stride >= ends[part] {
			part, fresh = part+1, true
		}
		if math.IsNaN(p.X) {
			bad = append(bad, k)
			continue
		}
		if p.Len() > farAway {
			far = append(far, k)
			continue
		}
		sec := math.NaN()
		if m >= 0 && !math.IsInf(flat[k*stride+m], 0) {
			sec = flat[k*stride+m]
		}
		if n := len(rows); fresh && n > 0 {
			if last := rows[n-1]; p == t.at[n-1] && sameNumber(sec, t.seconds[n-1]) && (track.State == nil || track.State[k] == track.State[last]) {
				fresh = false // the part goes on where the last one stopped
				continue
			}
			t.breaks = append(t.breaks, n)
		}
		fresh = false
		t.at = append(t.at, p) // never ahead of k: writes behind the reader
		t.seconds, rows = append(t.seconds, sec), append(rows, k)
		t.timed = t.timed || !math.IsNaN(sec)
	}
	if len(bad) > 0 {
		left = append(left, geo.Finding{What: fmt.Sprintf("%d of %d fixes have no place on earth (first: fix %d) and were left out", len(bad), len(at), bad[0]+1)})
	}
	if len(far) > 0 {
		p := pointOf(track, far[0])
		left = append(left, geo.Finding{At: &p,
			What: fmt.Sprintf("%d of %d fixes lie more than %g km from the field (first: fix %d) and were left out", len(far), len(at), farAway/1000, far[0]+1)})
	}
	return rows, left
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
