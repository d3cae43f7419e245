package vector

import (
	"io"
	"math"
	"slices"
	"strconv"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// statesLayer is the name of the layer that is read back as a track.
const statesLayer = "states"

// stateDecimals of a degree are written in the layer of states, which is read
// back as a track: 1e-14° is a nanometre, so that the balance stays the
// same to 1e-9 of the field; with 12 decimals it does not.
const stateDecimals = 14

// qualityNames are the words our readers know for how a fix was won.
var qualityNames = [...]string{
	geo.QualityUnknown: "unknown", geo.QualityNone: "none", geo.QualitySingle: "single", geo.QualityDifferential: "differential",
	geo.QualityFloat: "float", geo.QualityFixed: "fixed", geo.QualityEstimated: "estimated",
}

// writeStates writes what the set did, a line per stretch of the log. Read back as a
// track it gives the same balance: lines that share a fix are one pass, and the
// columns of the log stand beside the line as lists. "state" is what a reader
// goes by: change it to "working" or "lifted" to override it. The fix quality's
// HDOP, which no balance needs, is not written, and stretches on one spot may be
// left out: see drawn.
func writeStates(w io.Writer, r coverage.Result) error {
	s := newStream(w, statesLayer)
	log, left := drawn(r.Log)
	for _, one := range log {
		s.begin("LineString")
		s.buf = append(s.buf, '[')
		for i, q := range one.Line {
			if i > 0 {
				s.buf = append(s.buf, ',')
			}
			s.buf = appendPlace(s.buf, placeOf(r.Local.Point(q), stateDecimals), stateDecimals)
		}
		s.buf = append(s.buf, ']')
		if err := s.end(stateProperties(one, r.Local)); err != nil {
			return err
		}
	}
	var extra properties
	if left > 0 {
		extra.integer("stretches_on_one_spot_left_out", left)
	}
	return s.close(extra)
}

// still: a line whose points lie nearer to each other than this is no line, m.
const still = 1e-6

// drawn is the log with the stretches on one spot, which are no lines, joined to
// the one before or behind if that is in the same pass or in none as well. Others
// are left out, where no ground is lost, and counted.
func drawn(log []coverage.Stretch) (out []coverage.Stretch, left int) {
	var carried *coverage.Stretch // to be joined to the next
	for i, one := range log {
		if carried != nil {
			one, carried = joined(*carried, one, one), nil
		}
		moved := false
		for _, q := range one.Line {
			moved = moved || q.Dist(one.Line[0]) >= still
		}
		n := len(out) - 1
		switch {
		case moved:
			out = append(out, one)
		case n >= 0 && goesOn(out[n], one):
			out[n] = joined(out[n], one, out[n])
		case i+1 < len(log) && goesOn(one, log[i+1]):
			carried = &one
		default:
			left++
		}
	}
	return out, left
}

// goesOn says whether b begins at the fix at which a ends, and both belong to a
// pass or neither does.
func goesOn(a, b coverage.Stretch) bool {
	n := len(a.Line) - 1
	return a.Track == b.Track && a.Worked == b.Worked && a.Line[n] == b.Line[0] && (a.Seconds[n] == b.Seconds[0] || math.IsNaN(a.Seconds[n]) && math.IsNaN(b.Seconds[0]))
}

// joined is a and then b as one stretch that says of itself what like does.
func joined(a, b, like coverage.Stretch) coverage.Stretch {
	like.From, like.To, like.Length = a.From, b.To, a.Length+b.Length
	like.Line, like.Seconds, like.State = and(a.Line, b.Line), and(a.Seconds, b.Seconds), and(a.State, b.State)
	like.Width, like.Offset, like.Speed = and(a.Width, b.Width), and(a.Offset, b.Offset), and(a.Speed, b.Speed)
	like.Compass, like.Quality = and(a.Compass, b.Compass), and(a.Quality, b.Quality)
	return like
}

// and is a column with the one that begins at its last fix.
func and[T any](a, b []T) []T {
	if a == nil {
		return nil
	}
	return slices.Concat(a, b[1:])
}

func stateProperties(one coverage.Stretch, l geo.Local) properties {
	var p properties
	p.states(one)
	p.words("activity", string(one.Activity))
	p.truth("inferred", one.Inferred)
	p.words("why", one.Why)
	p.integer("track", one.Track+1)
	p.instant("from", dated(one.From))
	p.instant("to", dated(one.To))
	p.number("length_m", one.Length, 2)
	timed := false
	for _, v := range one.Seconds {
		timed = timed || !math.IsNaN(v)
	}
	if timed {
		p.column("times", one.Seconds)
	}
	p.column("widths", one.Width)
	p.column("offsets", one.Offset)
	p.column("speeds", one.Speed)
	if one.Compass != nil {
		p.column("headings", bearings(one.Compass, one.Line, l))
	}
	if one.Quality != nil {
		list(&p, "quality", len(one.Quality), func(i int) { p.text = appendString(p.text, qualityNames[one.Quality[i]]) })
	}
	return p
}

// states writes the work state: a word, or a list where a pass holds fixes whose
// state is not logged.
func (p *properties) states(one coverage.Stretch) {
	mixed := false
	for _, v := range one.State {
		mixed = mixed || v != geo.Working
	}
	switch {
	case !one.Worked:
		p.words("state", "lifted")
	case !mixed:
		p.words("state", "working")
	default:
		list(p, "state", len(one.State), func(i int) {
			p.text = append(p.text, map[geo.WorkState]string{geo.Working: `"working"`, geo.Lifted: `"lifted"`, geo.StateUnknown: "null"}[one.State[i]]...)
		})
	}
}

// bearings are the true bearings of unit vectors on the plane; NaN for zero ones.
func bearings(facing, line []plane.XY, l geo.Local) []float64 {
	out := make([]float64, len(facing))
	for i, u := range facing {
		out[i] = math.NaN()
		if u != (plane.XY{}) {
			grid := math.Atan2(u.X, u.Y) * 180 / math.Pi
			out[i] = math.Mod(grid+l.Convergence(l.Point(line[i]))+360, 360)
		}
	}
	return out
}

// column writes a list with all digits of its values, null for NaN; nil: nothing.
func (p *properties) column(name string, v []float64) {
	if v == nil {
		return
	}
	list(p, name, len(v), func(i int) {
		if math.IsNaN(v[i]) || math.IsInf(v[i], 0) {
			p.text = append(p.text, "null"...)
			return
		}
		p.text = strconv.AppendFloat(p.text, v[i], 'f', -1, 64)
	})
}

func list(p *properties, name string, n int, item func(i int)) {
	p.key(name)
	p.text = append(p.text, '[')
	for i := range n {
		if i > 0 {
			p.text = append(p.text, ',')
		}
		item(i)
	}
	p.text = append(p.text, ']')
}
