package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	geom "github.com/twpayne/go-geom"
)

const (
	// sameInstant: points of one bar are written with one time.
	sameInstant = 1e-3 // s
	// barsShare: so many of the fixes share their time with another one, or none of this matters.
	barsShare = 0.5
	// barsTell: so many of the bars must lie square to the motion, or of the fixes along it.
	barsTell = 0.6
	// barsLeast: fewer bars prove nothing.
	barsLeast = 5
	// squareWithin 30° of square to the motion lies a bar; cos 60°.
	squareWithin = 0.5
	// A bar shorter than this is points on one place, and a step shorter than this tells no direction.
	barShort, barStep = 0.05, 0.3 // m
	// alongFactor: fixes whose clock is coarse lie on the way from one second to the next.
	alongFactor = 1.5
	// sectionApart: points farther apart than that are of two machines side by side (common practice, no source).
	sectionApart = 15.0 // m
	// wholeBar: a number of points is that of the whole bar if so many bars have it, and none that many has more.
	wholeBar = 0.1
	// sectionWide: a logged width of more spacings than this is that of the whole bar.
	sectionWide = 1.5
	// betweenBars: where the bar's middle is, is told from whole bars before and after within this time.
	betweenBars = 30.0 // s
)

// Bars puts together the points of one time that lie side by side, a point per section or row unit, to one fix in
// the middle of the bar, and the tracks that a section column made of one log.
//
//  1. They are told by their place: square to the motion. Points along the motion are of a clock that is
//     coarser than the log, and stay. Points of one time that are neither are an error, if most are: nobody can
//     say which drove where. Those of a section column stay tracks of their own then.
//  2. Width is that of the working points, by their logged widths or their spacing, and Offset where their middle
//     is. The bar works if one of them does.
//  3. A bar without some of its points, which were not written, lies where the whole ones before and after it
//     say.
//  4. All else is that of the bar's first point.
func Bars(tracks []Track) ([]Track, []Finding, error) {
	var out []Track
	var findings []Finding
	bySection := map[int][]int{} // tracks of a log's sections
	for i, t := range tracks {
		if t.Came.Section != "" {
			bySection[t.Came.Log] = append(bySection[t.Came.Log], i)
		}
	}
	for i, t := range tracks {
		of := []int{i}
		if t.Came.Section != "" {
			if of = bySection[t.Came.Log]; of[0] != i {
				continue // with the first of them
			}
		}
		var some []Track
		for _, k := range of {
			some = append(some, tracks[k])
		}
		one, found, err := barOf(some)
		if err != nil {
			return nil, nil, err
		}
		out, findings = append(out, one...), append(findings, found...)
	}
	return out, findings, nil
}

// abreast is the state of putting points together.
type abreast struct {
	tracks  []Track
	all     []moment
	groups  [][]moment // of one time, those of more than one
	several int        // fixes in groups of more than one
	patch
}

func barOf(tracks []Track) ([]Track, []Finding, error) {
	t := tracks[0]
	sections := t.Came.Section != ""
	if !t.Came.Points || sections && len(tracks) == 1 {
		return tracks, nil, nil
	}
	if len(tracks) == 1 && t.rises() {
		return tracks, nil, nil
	}
	b := abreast{tracks: tracks}
	if !b.gather() || float64(b.several) < barsShare*float64(len(b.all)) {
		return tracks, nil, nil
	}
	square, short, along, told := b.tell()
	switch {
	case told >= barsLeast && float64(square) >= barsTell*float64(told):
	case sections && 2*short >= len(b.groups):
	case sections:
		return tracks, nil, nil // machines, or sections that are not logged together
	case float64(along) >= barsTell*float64(told) || 2*short >= len(b.groups):
		return tracks, nil, nil
	default:
		first := b.groups[slices.IndexFunc(b.groups, func(g []moment) bool { return len(g) > 1 })]
		return nil, nil, fmt.Errorf("%s: %d of %d fixes have the time of another one at another place, %s first, and these lie neither in a row square to the way nor along it: which machine, section or row each is of, is not known\nhint: name the column that says it: --column section=NAME",
			t.Source, b.several, len(b.all), Instant(first[0].s).Format(time.RFC3339))
	}
	one, f := b.join()
	return []Track{one}, []Finding{f}, nil
}

// rises says whether no two of the fixes have one time, and none an earlier one than the fix before it.
func (t Track) rises() bool {
	f := t.fixes()
	last := math.Inf(-1)
	for _, s := range f.timed(0, f.len()) {
		if s-last <= sameInstant {
			return false
		}
		last = s
	}
	return true
}

// gather puts all fixes in the order of time; false: too few have one.
func (b *abreast) gather() bool {
	n := 0
	for i, t := range b.tracks {
		if n += t.Fixes(); t.Columns.Fits(t.Fixes()) != nil {
			return false
		}
		f := t.fixes()
		for k, s := range f.timed(0, f.len()) {
			lon, lat := f.lonLat(k)
			if !OnEarth(lon, lat) {
				continue
			}
			if len(b.all) == 0 {
				b.patch = patchAt(lon, lat)
			}
			x, y := b.xy(lon, lat)
			b.all = append(b.all, moment{x, y, s, int32(i), int32(k)})
		}
	}
	if 2*len(b.all) < n {
		return false
	}
	slices.SortStableFunc(b.all, func(p, q moment) int { return cmp.Or(cmp.Compare(p.s, q.s), cmp.Compare(p.track, q.track)) })
	for from := 0; from < len(b.all); {
		to := from + 1
		for to < len(b.all) && b.all[to].s-b.all[from].s <= sameInstant {
			to++
		}
		b.groups = append(b.groups, b.all[from:to])
		if to-from > 1 {
			b.several += to - from
		}
		from = to
	}
	return true
}

// middle is that of the points that lie farthest apart in a group, and the way from one to the other.
func middle(g []moment) (x, y, dx, dy float64) {
	far := func(p moment) (q moment) {
		best := -1.0
		for _, o := range g {
			if d := math.Hypot(o.x-p.x, o.y-p.y); d > best {
				best, q = d, o
			}
		}
		return q
	}
	a := far(g[0])
	c := far(a)
	return (a.x + c.x) / 2, (a.y + c.y) / 2, c.x - a.x, c.y - a.y
}

// tell says how many groups lie square to the motion, on one place, and along the motion, of those told.
func (b *abreast) tell() (square, short, along, told int) {
	for i, g := range b.groups {
		if len(g) < 2 || i+1 == len(b.groups) {
			continue
		}
		_, _, ax, ay := middle(g)
		if math.Hypot(ax, ay) < barShort {
			short++
			continue
		}
		next := b.groups[i+1]
		x1, y1, _, _ := middle(g)
		x2, y2, _, _ := middle(next)
		mx, my := x2-x1, y2-y1
		if math.Hypot(mx, my) < barStep {
			continue
		}
		told++
		if wide := math.Hypot(ax, ay); wide <= sectionApart*float64(len(g)-1) && math.Abs(ax*mx+ay*my) <= squareWithin*wide*math.Hypot(mx, my) {
			square++
		}
		way := 0.0
		for k := 1; k < len(g); k++ {
			way += math.Hypot(g[k].x-g[k-1].x, g[k].y-g[k-1].y)
		}
		last := g[len(g)-1]
		way += math.Hypot(next[0].x-last.x, next[0].y-last.y)
		if way <= alongFactor*math.Hypot(next[0].x-g[0].x, next[0].y-g[0].y) {
			along++
		}
	}
	return square, short, along, told
}

// layout is what the bar is made of.
type layout struct {
	whole   int     // points of a whole bar
	spacing float64 // m, 0: all on one place
	width   float64 // m, of one point as logged; NaN: not logged
	bar     bool    // width is that of the whole bar
}

func (b *abreast) layout() (l layout) {
	count := map[int]int{}
	for _, g := range b.groups {
		count[len(g)]++
	}
	for k, n := range count {
		if float64(n) >= wholeBar*float64(len(b.groups)) {
			l.whole = max(l.whole, k)
		}
	}
	var spacings, widths []float64
	for _, g := range b.groups {
		if len(g) == l.whole && l.whole > 1 {
			_, _, dx, dy := middle(g)
			spacings = append(spacings, math.Hypot(dx, dy)/float64(l.whole-1))
		}
	}
	if l.spacing = upperMedian(spacings); l.spacing < barShort {
		l.spacing = 0
	}
	for _, p := range b.all {
		if w := b.tracks[p.track].Width; len(w) > 0 && w[p.fix] > 0 {
			widths = append(widths, w[p.fix])
		}
	}
	l.width = math.NaN()
	if 2*len(widths) > len(b.all) {
		l.width = upperMedian(widths)
		l.bar = l.spacing > 0 && l.width > sectionWide*l.spacing
	}
	return l
}

func (b *abreast) state(p moment) WorkState {
	if s := b.tracks[p.track].State; len(s) > 0 {
		return s[p.fix]
	}
	return StateUnknown
}

// join makes one track of the bars.
func (b *abreast) join() (Track, Finding) {
	l := b.layout()
	n := len(b.groups)
	centre := b.centres(l.whole)
	t := b.tracks[0]
	out := Track{Name: t.Name, Source: t.Source, Course: t.Course, FieldRef: t.FieldRef, Told: t.Told, Counted: t.Counted, Came: t.Came}
	out.Came.Order, out.Came.Apart, out.Came.Section, out.Came.Pass = nil, nil, "", nil
	if t.Came.Section != "" {
		out.Name = ""
	}
	var columns []Columns
	for _, t := range b.tracks {
		columns = append(columns, t.Columns)
	}
	rows := make([]row, n)
	for i, g := range b.groups {
		rows[i] = row{int(g[0].track), int(g[0].fix)}
	}
	out.Columns = gathered(columns, rows)
	out.Width, out.Offset = make([]float64, n), make([]float64, n)
	flat := make([]float64, 0, 3*n)
	var ends []int
	pass := int32(0)
	partial, split := 0, 0
	var ux, uy float64 // the way the bar goes
	for i, g := range b.groups {
		a, c := centre[max(0, i-1)], centre[min(n-1, i+1)]
		if dx, dy := c.x-a.x, c.y-a.y; math.Hypot(dx, dy) >= barStep {
			ux, uy = dx/math.Hypot(dx, dy), dy/math.Hypot(dx, dy)
		}
		bar := b.barAt(g, centre[i], ux, uy, l)
		out.Width[i], out.Offset[i] = bar.width, bar.offset
		if out.State != nil {
			out.State[i] = bar.state
		}
		if bar.partial {
			partial++
		}
		if bar.split {
			split++
		}
		now := passAt(b.tracks[g[0].track], g[0].fix)
		if i > 0 && now != pass {
			ends = append(ends, len(flat))
		}
		pass = now
		lon, lat := b.lonLat(centre[i].x, centre[i].y)
		flat = append(flat, lon, lat, g[0].s)
	}
	if partial == 0 { // the middle is the middle
		out.Offset = nil
		if math.IsNaN(l.width) {
			out.Width = nil
		}
	}
	out.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, append(ends, len(flat)))
	what := fmt.Sprintf("%d points of each time stand side by side, %.2f m apart", l.whole, l.spacing)
	if l.spacing == 0 {
		what = fmt.Sprintf("%d points of each time, a section each, stand on one place", l.whole)
	}
	what += fmt.Sprintf(" (%d of %d): taken as one bar, %d fixes", b.several, len(b.all), n)
	if partial > 0 {
		what += fmt.Sprintf(", at %d of which some of them do not work or are missing", partial)
	}
	if split > 0 {
		what += fmt.Sprintf("; at %d some between working ones do not: the width is that of the working ones, set at their middle", split)
	}
	return out, Finding{File: t.Source, What: what}
}

// centres are the middles of the bars. That of a bar without some of its points lies where the whole ones before and
// after it say.
func (b *abreast) centres(whole int) []moment {
	centre := make([]moment, len(b.groups))
	for i, g := range b.groups {
		centre[i].x, centre[i].y, _, _ = middle(g)
		centre[i].s = g[0].s
	}
	last := -1 // whole bar before
	for i, g := range b.groups {
		if len(g) < whole {
			continue
		}
		a, c := centre[max(last, 0)], centre[i]
		for k := last + 1; k < i && last >= 0 && c.s-a.s <= betweenBars; k++ {
			t := (centre[k].s - a.s) / (c.s - a.s)
			centre[k].x, centre[k].y = a.x+t*(c.x-a.x), a.y+t*(c.y-a.y)
		}
		last = i
	}
	return centre
}

// barOfWork is what a bar does at one time.
type barOfWork struct {
	width, offset float64 // m; width NaN: not known
	state         WorkState
	partial       bool // some of its points do not work, or are missing
	split         bool // and these lie between working ones
}

// barAt is the work of the points of one time, with the bar's middle at centre and going along ux, uy.
func (b *abreast) barAt(g []moment, centre moment, ux, uy float64, l layout) barOfWork {
	var sides []float64 // of the points that work, to the right of the middle
	summed := 0.0       // m, their widths as logged
	out := barOfWork{width: math.NaN()}
	for _, p := range g {
		state := b.state(p)
		if state == Working || out.state == StateUnknown {
			out.state = state
		}
		if state == Lifted {
			continue
		}
		sides = append(sides, (p.x-centre.x)*uy-(p.y-centre.y)*ux)
		summed += valueAt(b.tracks[p.track].Width, p.fix)
	}
	k := len(sides)
	if k == 0 {
		return out
	}
	slices.Sort(sides)
	out.offset = (sides[0] + sides[k-1]) / 2
	switch {
	case l.bar:
		out.width = l.width * float64(k) / float64(l.whole)
	case !math.IsNaN(l.width):
		out.width = summed
	case l.spacing > 0:
		out.width = l.spacing * float64(k)
	}
	out.partial = k < l.whole
	out.split = l.spacing > 0 && sides[k-1]-sides[0] > (float64(k-1)+0.5)*l.spacing
	return out
}

// valueAt is a value of a column; NaN: not logged.
func valueAt(column []float64, k int32) float64 {
	if len(column) == 0 {
		return math.NaN()
	}
	return column[k]
}

func passAt(t Track, k int32) int32 {
	if len(t.Came.Pass) == 0 {
		return 0
	}
	return t.Came.Pass[k]
}
