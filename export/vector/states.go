package vector

import (
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

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
	var line []place
	var props properties
	for _, one := range log {
		s.begin("LineString")
		line = line[:0]
		for _, q := range one.Logged {
			line = append(line, placeOf(r.Local.Point(q), stateDecimals))
		}
		s.lineText(line, stateDecimals)
		props.text = props.text[:0]
		props.stretch(one, r)
		if err := s.end(props); err != nil {
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
func drawn(log []drive.Stretch) (out []drive.Stretch, left int) {
	var carried *drive.Stretch // to be joined to the next
	for i, one := range log {
		if carried != nil {
			one, carried = joined(*carried, one, one), nil
		}
		moved := false
		for _, q := range one.Logged {
			moved = moved || q.Dist(one.Logged[0]) >= still
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
	like.Line, like.Logged, like.Seconds, like.State = and(a.Line, b.Line), and(a.Logged, b.Logged), and(a.Seconds, b.Seconds), and(a.State, b.State)
	like.Width, like.Offset, like.Speed = and(a.Width, b.Width), and(a.Offset, b.Offset), and(a.Speed, b.Speed)
	like.Height = and(a.Height, b.Height)
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

// stretch writes what is told of a stretch.
func (p *properties) stretch(one drive.Stretch, r coverage.Result) {
	p.words(markColumn, statesLayer)
	p.states(one)
	p.words("activity", string(one.Activity))
	p.truth("inferred", one.Inferred)
	p.words("why", one.Why)
	p.integer("track", one.Track+1)
	p.instant("from", dated(one.From))
	p.instant("to", dated(one.To))
	p.number("length_m", one.Length, 2)
	if timed(one) {
		p.column("times", one.Seconds)
	}
	p.column("widths", one.Width)
	p.column("offsets", one.Offset)
	p.column("speeds", one.Speed)
	if one.Compass != nil {
		p.column("headings", bearings(one.Compass, one.Logged, r.Local))
	}
	p.qualities("quality", one.Quality)
	p.column("heights", one.Height)
	if r.Slope != nil {
		up, left := slopesOf(r, one.Line)
		p.column("up_pct", up)
		p.column("left_pct", left)
	}
}

// slopesOf are the slopes on a way and to the left of it, percent to a tenth, a value for every fix.
func slopesOf(r coverage.Result, line []plane.XY) (up, left []float64) {
	for _, l := range r.LiesAlong(line) {
		up, left = append(up, math.Round(1000*l.Up)/10), append(left, math.Round(1000*l.Left)/10)
	}
	return up, left
}

// timed says whether a fix of a stretch has a time.
func timed(s drive.Stretch) bool {
	return slices.ContainsFunc(s.Seconds, func(v float64) bool { return !math.IsNaN(v) })
}

// qualities writes a list of how fixes were won; nil: nothing.
func (p *properties) qualities(name string, q []geo.Quality) {
	if q != nil {
		list(p, name, len(q), func(i int) { p.text = appendString(p.text, qualityNames[q[i]]) })
	}
}

// states writes the work state: a word, or a list where a pass holds fixes whose
// state is not logged.
func (p *properties) states(one drive.Stretch) {
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

// listNames are the columns of the layer of states that hold a list, a value per fix.
var listNames = []string{"times", "widths", "offsets", "speeds", "headings", "quality", "heights"}

// given says whether a property is for giving a layer back, and tells people nothing that its activity does not.
func (p Property) given() bool {
	return p.Name == markColumn || p.Name == "state" || slices.Contains(listNames, p.Name)
}

// listColumns are the columns of the layer of states by which it can be given back as a track, for formats
// that have no lists: the text is that of the list in JSON.
func listColumns(l geo.Local) []column[drive.Stretch] {
	const name = "list"
	var out []column[drive.Stretch]
	for _, n := range append([]string{"state"}, listNames...) {
		out = append(out, column[drive.Stretch]{Property{Name: n, Holds: Words}, func(s drive.Stretch) any {
			var p properties
			switch n {
			case "state":
				p.states(s)
				if words := strings.Trim(string(p.text[len(n)+3:]), `"`); words[0] != '[' {
					return words
				}
				return string(p.text[len(n)+3:])
			case "times":
				if timed(s) {
					p.column(name, s.Seconds)
				}
			case "widths":
				p.column(name, s.Width)
			case "offsets":
				p.column(name, s.Offset)
			case "speeds":
				p.column(name, s.Speed)
			case "headings":
				if s.Compass != nil {
					p.column(name, bearings(s.Compass, s.Logged, l))
				}
			case "quality":
				p.qualities(name, s.Quality)
			case "heights":
				p.column(name, s.Height)
			}
			if len(p.text) == 0 {
				return nil
			}
			return string(p.text[len(name)+3:])
		}})
	}
	return out
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
		for k := from; k < len(s.Logged); k++ {
			if k > 0 && s.Inferred && !s.Worked && s.State != nil && s.State[k] == geo.Working && s.State[k-1] == geo.Working {
				part++ // the tool was up between them, and no fix says so
			}
			all = append(all, fixOf{&log[i], k, part})
		}
	}
	digits := func(column []float64, k int) any {
		if column == nil || math.IsNaN(column[k]) {
			return nil
		}
		return strconv.FormatFloat(column[k], 'f', -1, 64)
	}
	words := func(name string, of func(f fixOf) any) column[fixOf] {
		return column[fixOf]{Property{Name: name, Holds: Words}, of}
	}
	columns := []column[fixOf]{
		words("state", func(f fixOf) any {
			switch {
			case f.of.State != nil:
				return map[geo.WorkState]any{geo.Working: "working", geo.Lifted: "lifted", geo.StateUnknown: "unknown"}[f.of.State[f.k]]
			case f.of.Worked:
				return "working"
			}
			return "lifted"
		}),
		words("activity", func(f fixOf) any { return string(f.of.Activity) }),
		words("time", func(f fixOf) any { return digits(f.of.Seconds, f.k) }),
		words("width", func(f fixOf) any { return digits(f.of.Width, f.k) }),
		words("offset_m", func(f fixOf) any { return digits(f.of.Offset, f.k) }),
		words("speed", func(f fixOf) any { return digits(f.of.Speed, f.k) }),
		words("heading", func(f fixOf) any {
			if f.of.Compass == nil {
				return nil
			}
			return digits(bearings(f.of.Compass[f.k:f.k+1], f.of.Logged[f.k:f.k+1], r.Local), 0)
		}),
		words("quality", func(f fixOf) any {
			if f.of.Quality == nil {
				return nil
			}
			return qualityNames[f.of.Quality[f.k]]
		}),
		{Property{Name: "pass", Holds: Whole}, func(f fixOf) any { return f.part + 1 }},
	}
	if slices.ContainsFunc(log, func(s drive.Stretch) bool { return s.Height != nil }) {
		columns = append(columns, words("height", func(f fixOf) any { return digits(f.of.Height, f.k) }))
	}
	l := Layer{Name: statesLayer, Title: "What the set did, fix by fix", Kind: Points, Style: Style{Line: "#555555"}, LeftOut: left}
	return listed(l, all, columns, func(i int) shape { return shape{degrees: r.Local.Point(all[i].of.Logged[all[i].k])} }).marked().layer()
}

// meets says whether b begins at the fix at which a ends.
func meets(a, b drive.Stretch) bool {
	n := len(a.Logged) - 1
	return a.Logged[n] == b.Logged[0] && (a.Seconds[n] == b.Seconds[0] || math.IsNaN(a.Seconds[n]) && math.IsNaN(b.Seconds[0]))
}

// column writes a list with all digits of its values, null for NaN; nil: nothing.
func (p *properties) column(name string, v []float64) {
	if v == nil {
		return
	}
	before := 0 // where the text of the value before begins
	list(p, name, len(v), func(i int) {
		from := len(p.text)
		switch {
		case math.IsNaN(v[i]) || math.IsInf(v[i], 0):
			p.text = append(p.text, "null"...)
		case i > 0 && v[i] == v[i-1] && v[i] != 0: // as widths nearly always are; 0 may be -0
			p.text = append(p.text, p.text[before:from-1]...)
		default:
			p.text = strconv.AppendFloat(p.text, v[i], 'f', -1, 64)
		}
		before = from
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
