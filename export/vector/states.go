package vector

import (
	"io"
	"math"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
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
	told := slices.DeleteFunc(slices.Clone(stretchColumns), func(c column[drive.Stretch]) bool { return c.Name == "doubtful" })
	back := backColumns(r.Local)
	mark := column[drive.Stretch]{markProperty, func(drive.Stretch) any { return statesLayer }}
	columns := slices.Concat([]column[drive.Stretch]{mark}, back[:1], told, back[1:])
	var props properties
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
		props.text = props.text[:0]
		for _, c := range columns {
			if v := c.of(one); v != nil {
				props.value(c.Property, v)
			}
		}
		if err := s.end(props); err != nil {
			return err
		}
	}
	var extra properties
	if left > 0 {
		extra.value(Property{Name: "stretches_on_one_spot_left_out"}, left)
	}
	return s.close(extra)
}

// still: a line whose points lie nearer to each other than this is no line, m.
const still = 1e-6

// drawn is the log with the stretches on one spot, which are no lines, joined to
// the one before or behind if that is in the same pass or in none as well. Others
// are left out, where no ground is lost, and counted.
func drawn(log []drive.Stretch) (out []drive.Stretch, left int) {
	var carried *drive.Stretch // to be joined to the next
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
func goesOn(a, b drive.Stretch) bool {
	return a.Track == b.Track && a.Worked == b.Worked && meets(a, b)
}

// joined is a and then b as one stretch that says of itself what like does.
func joined(a, b, like drive.Stretch) drive.Stretch {
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

// perFix are the columns of a log, but for its state, by which a layer can be given back as a track: their names as a list
// beside a line and as a value beside a point, whether a stretch has them, and the value at a fix.
var perFix = []struct {
	list, point string
	logged      func(s drive.Stretch) bool
	at          func(s drive.Stretch, k int, l geo.Local) any
}{
	{"times", "time", timed, func(s drive.Stretch, k int, _ geo.Local) any { return exactly(s.Seconds[k]) }},
	{"widths", "width", func(s drive.Stretch) bool { return s.Width != nil }, func(s drive.Stretch, k int, _ geo.Local) any { return exactly(s.Width[k]) }},
	{"offsets", "offset_m", func(s drive.Stretch) bool { return s.Offset != nil }, func(s drive.Stretch, k int, _ geo.Local) any { return exactly(s.Offset[k]) }},
	{"speeds", "speed", func(s drive.Stretch) bool { return s.Speed != nil }, func(s drive.Stretch, k int, _ geo.Local) any { return exactly(s.Speed[k]) }},
	{"headings", "heading", func(s drive.Stretch) bool { return s.Compass != nil }, func(s drive.Stretch, k int, l geo.Local) any {
		return exactly(bearing(s.Compass[k], s.Line[k], l))
	}},
	{"quality", "quality", func(s drive.Stretch) bool { return s.Quality != nil }, func(s drive.Stretch, k int, _ geo.Local) any { return qualityNames[s.Quality[k]] }},
}

// exactly is a number with all its digits; nil where it is none.
func exactly(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return raw(appendShortest(nil, v))
}

// timed says whether a fix of a stretch has a time.
func timed(s drive.Stretch) bool {
	return slices.ContainsFunc(s.Seconds, func(v float64) bool { return !math.IsNaN(v) })
}

// stateOf is the work state of a stretch: a word, or a list where a pass holds fixes whose
// state is not logged.
func stateOf(s drive.Stretch) any {
	switch {
	case !s.Worked:
		return "lifted"
	case !slices.ContainsFunc(s.State, func(v geo.WorkState) bool { return v != geo.Working }):
		return "working"
	}
	return listOf(len(s.State), func(k int) any {
		return map[geo.WorkState]any{geo.Working: "working", geo.Lifted: "lifted"}[s.State[k]]
	})
}

// bearing is the true bearing of a unit vector at a place of the plane; NaN for a zero one.
func bearing(facing, at plane.XY, l geo.Local) float64 {
	if facing == (plane.XY{}) {
		return math.NaN()
	}
	grid := math.Atan2(facing.X, facing.Y) * 180 / math.Pi
	return math.Mod(grid+l.Convergence(l.Point(at))+360, 360)
}

// backColumns are the columns of the layer of states by which it can be given back as a track, its state first. Formats
// that have no lists hold the text of the list.
func backColumns(l geo.Local) []column[drive.Stretch] {
	columns := []column[drive.Stretch]{{Property{Name: "state", Holds: Words}, stateOf}}
	for _, c := range perFix {
		columns = append(columns, column[drive.Stretch]{Property{Name: c.list, Holds: Words, silent: true}, func(s drive.Stretch) any {
			if !c.logged(s) {
				return nil
			}
			return listOf(len(s.Line), func(k int) any { return c.at(s, k, l) })
		}})
	}
	return columns
}

// StateFixes is the layer of states with a point per fix in place of a line per stretch, for shapefiles, whose
// tables have no room for lists. Read back as a track it gives the same balance.
func StateFixes(r coverage.Result) (Layer, error) {
	type fixOf struct {
		of   *drive.Stretch
		k    int
		part int
	}
	log, left := drawn(r.Log)
	var all []fixOf
	part := 0
	for i, s := range log {
		from := 0
		if i > 0 {
			if b := log[i-1]; meets(b, s) {
				from = 1
			} else {
				part++
			}
		}
		for k := from; k < len(s.Line); k++ {
			if k > 0 && !s.Worked && s.State != nil && s.State[k] == geo.Working && s.State[k-1] == geo.Working {
				part++ // the tool was up between them, and no fix says so
			}
			all = append(all, fixOf{&log[i], k, part})
		}
	}
	columns := []column[fixOf]{
		{Property{Name: "state", Holds: Words}, func(f fixOf) any {
			switch {
			case f.of.State != nil:
				return map[geo.WorkState]any{geo.Working: "working", geo.Lifted: "lifted", geo.StateUnknown: "unknown"}[f.of.State[f.k]]
			case f.of.Worked:
				return "working"
			}
			return "lifted"
		}},
		{Property{Name: "activity", Holds: Words}, func(f fixOf) any { return string(f.of.Activity) }},
	}
	for _, c := range perFix {
		columns = append(columns, column[fixOf]{Property{Name: c.point, Holds: Words}, func(f fixOf) any {
			if !c.logged(*f.of) {
				return nil
			}
			return c.at(*f.of, f.k, r.Local)
		}})
	}
	columns = append(columns, column[fixOf]{Property{Name: "pass", Holds: Whole}, func(f fixOf) any { return f.part + 1 }})
	l := Layer{Name: statesLayer, Title: "What the set did, fix by fix", Kind: Points, Style: Style{Line: "#555555"}, LeftOut: left}
	return listed(l, all, columns, func(i int) shape { return shape{degrees: r.Local.Point(all[i].of.Line[all[i].k])} }).marked().layer()
}

// meets says whether b begins at the fix at which a ends.
func meets(a, b drive.Stretch) bool {
	n := len(a.Line) - 1
	return a.Line[n] == b.Line[0] && (a.Seconds[n] == b.Seconds[0] || math.IsNaN(a.Seconds[n]) && math.IsNaN(b.Seconds[0]))
}
