package drive

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
)

// WidthSource says who says how wide the bar is.
type WidthSource string

const (
	WidthGiven  WidthSource = "given"          // by hand; "" means the same
	WidthFile   WidthSource = "implement file" // by the machine's description
	WidthLogged WidthSource = "logged"         // by the log, fix by fix
)

func (s WidthSource) validate() error {
	switch s {
	case "", WidthGiven, WidthFile, WidthLogged:
		return nil
	}
	return fmt.Errorf("width from %q: must be one of %q, %q and %q", string(s), WidthGiven, WidthFile, WidthLogged)
}

// Bar says which working width a result stands on, and how much of the way of work
// the bar was that wide.
type Bar struct {
	Width  float64     `json:"width"`            // m, of the whole bar: Work.Width
	From   WidthSource `json:"from"`             // who says so
	Logged float64     `json:"logged,omitempty"` // m, of the whole bar by the log, whoever says how wide it is; 0 = not logged
	Least  float64     `json:"least"`            // m, the least width worked with ...
	Most   float64     `json:"most"`             // ... and the greatest
	Whole  float64     `json:"whole"`            // share of the way of work with the whole bar
}

// Mixed says whether the bar was not as wide all the way.
func (b Bar) Mixed() bool { return b.Most-b.Least > widthSlack }

// widthSlack: widths are logged in whole centimetres or tenths of a foot, 3 cm.
const widthSlack = 0.03 // m

// The whole bar is the widest width logged but for the widest hundredth of the working
// fixes, or two of them if there are twenty: a wild value is no bar, and a set works
// with all of it for more than that.
const (
	wildShare = 0.01
	wildFixes = 2
	fewWidths = 20
)

// workedAt says whether fix k of a track is work by its state; where none is logged it may be.
func workedAt(state []geo.WorkState, k int) bool { return state == nil || state[k] == geo.Working }

// WholeLogged is the width of the whole bar in metres by what the tracks of one operation have
// logged: by the machine's description of itself where there is one, else the widest
// that was worked with for more than a moment; 0 where no width is logged.
func WholeLogged(tracks []geo.Track) float64 {
	widest := 0.0
	var widths []float64
	for _, t := range tracks {
		widest = max(widest, t.Bar)
		for k, w := range t.Width {
			if plausible(w) && (len(t.State) == 0 || workedAt(t.State, k)) {
				widths = append(widths, w)
			}
		}
	}
	if widest > 0 || len(widths) == 0 {
		return widest
	}
	wild := int(wildShare * float64(len(widths)))
	if len(widths) >= fewWidths {
		wild = max(wild, wildFixes)
	}
	return Nth(widths, len(widths)-1-wild)
}

// plausible says whether a logged width is one.
func plausible(w float64) bool { return w > 0 && w <= rig.MaxWidth }

// WithLogged takes the width from the log where w asks for it (WidthLogged, Width 0).
// Error: none is logged.
func (w Work) WithLogged(tracks []geo.Track) (Work, error) {
	if w.WidthFrom != WidthLogged {
		return w, nil
	}
	whole := WholeLogged(tracks)
	if whole == 0 {
		return w, errors.New("the working width is to be the logged one, but none is logged: give it in metres")
	}
	if w.Width = whole; len(w.Sections) > 0 && math.Abs(sum(w.Sections)-whole) > widthSlack {
		w.Sections = nil // those of another width
	}
	return w, nil
}

func sum(v []float64) float64 {
	all := 0.0
	for _, x := range v {
		all += x
	}
	return all
}

// barAt is the width of the bar at work at fix k, and how far its middle lies right of where
// the mount has it, m. What is given is the width of the whole bar; where the log has
// less than its own whole bar, parts of the bar were lifted, and the same share of the given one was:
//
//	logged   ├──── 6 m ────┤      3 of 6 m: the right half, its middle 1.5 m right of the bar's
//	               ├───────┤
//	given  ├───── 8 m ───────┤    4 of 8 m, its middle 2 m right of the bar's
//	                ├────────┤
//
// With WidthLogged widths are as logged.
func (t *trail) barAt(k int, w Work) (width, shift float64) {
	width = w.Width
	if t.Offset != nil && math.Abs(t.Offset[k]) <= rig.MaxWidth {
		shift = t.Offset[k]
	}
	if t.Width == nil || !(t.Width[k] > 0) || math.IsInf(t.Width[k], 0) {
		return width, shift
	}
	logged := t.Width[k]
	if w.WidthFrom == WidthLogged {
		return logged, shift
	}
	if logged >= t.whole-widthSlack {
		return width, shift
	}
	wider := w.Width / t.whole
	if math.Abs(w.Width-t.whole) <= widthSlack {
		return min(logged, w.Width), shift // the log's own bar
	}
	return logged * wider, t.middle + (shift-t.middle)*wider
}

// unsided says whether a part of the bar was lifted at fix k, of which the log does not say on which side it is.
func (t *trail) unsided(k int, width float64, w Work) bool {
	return width < w.Width-widthSlack && (t.Offset == nil || math.IsNaN(t.Offset[k]))
}

// noSides says where a part of the bar was lifted on a side that the log does not say.
func (t *trail) noSides(w Work) []geo.Finding {
	some, work, first := 0, 0, 0
	for k := range t.at {
		if !workedAt(t.State, k) {
			continue
		}
		work++
		if width, _ := t.barAt(k, w); t.unsided(k, width, w) {
			if some++; some == 1 {
				first = k
			}
		}
	}
	if some == 0 {
		return nil
	}
	return []geo.Finding{{File: t.source, Record: t.recordOf(first),
		What: fmt.Sprintf("at %d of %d fixes at work a part of the bar was lifted, and the log does not say on which side: its middle is taken to have worked, and what lies beside that is not certain", some, work)}}
}

// measureBar finds the whole bar of a trail, and where its middle lies when all of it works.
func (t *trail) measureBar(whole float64) {
	t.whole, t.middle = whole, 0
	if t.Offset == nil || t.Width == nil {
		return
	}
	for k, w := range t.Width {
		if w >= whole-widthSlack && workedAt(t.State, k) && math.Abs(t.Offset[k]) <= rig.MaxWidth {
			t.middle = t.Offset[k]
			return
		}
	}
}

// barOf sums up the widths the runs were worked with.
func barOf(runs []Run, w Work, logged float64) Bar {
	b := Bar{Width: w.Width, From: w.WidthFrom, Logged: logged, Least: math.Inf(1)}
	if b.From == "" {
		b.From = WidthGiven
	}
	way, whole := 0.0, 0.0
	for _, r := range runs {
		for i, a := range r.Stops {
			if a.Next != StepWorked || i+1 == len(r.Stops) {
				continue
			}
			l := r.Stops[i+1].S - a.S
			way += l
			width := r.Parts[a.Part].Width
			if b.Least, b.Most = min(b.Least, width), max(b.Most, width); math.Abs(width-w.Width) <= widthSlack {
				whole += l
			}
		}
	}
	if way == 0 {
		b.Least, b.Most, b.Whole = w.Width, w.Width, 1
		return b
	}
	b.Whole = whole / way
	return b
}

// withoutWidth is how many fixes of a trail, lifted ones left out, have no logged width.
func (t *trail) withoutWidth() int {
	n := 0
	for k := range t.at {
		if workedAt(t.State, k) && (t.Width == nil || !(t.Width[k] > 0)) {
			n++
		}
	}
	return n
}

// oddWidths says where a log's widths are none that the implement's sections can
// make; they are taken as logged all the same.
func (t *trail) oddWidths(w Work) []geo.Finding {
	if len(w.Sections) == 0 || t.Width == nil || math.Abs(w.Width-t.whole) > widthSlack {
		return nil
	}
	im := w.implement()
	makes := map[float64]bool{}
	odd, first := 0, 0
	for k, width := range t.Width {
		if !(width > 0) || !workedAt(t.State, k) {
			continue
		}
		ok, seen := makes[width]
		if !seen {
			ok = im.Adds(width)
			makes[width] = ok
		}
		if !ok {
			if odd++; odd == 1 {
				first = k
			}
		}
	}
	if odd == 0 {
		return nil
	}
	return []geo.Finding{{File: t.source, Record: t.recordOf(first),
		What: fmt.Sprintf("%d working fixes have a width that no sections side by side have together: first %.2f m at fix %d; taken as logged", odd, t.Width[first], first+1)}}
}

// otherWidth says where the whole bar is another by the log than by what is given, which is
// what counts, and where some of the log is wider than what is taken for the whole bar.
func otherWidth(trails []*trail, w Work, logged float64) []geo.Finding {
	if logged == 0 {
		return nil
	}
	var found []geo.Finding
	for _, t := range trails {
		found = append(found, t.otherWidth(w, logged)...)
	}
	return slices.CompactFunc(found, func(a, b geo.Finding) bool { return a.File == b.File && a.What == b.What })
}

// otherWidth is that of one trail.
func (t *trail) otherWidth(w Work, logged float64) (found []geo.Finding) {
	say := func(fix int, format string, args ...any) {
		found = append(found, geo.Finding{File: t.source, Record: t.recordOf(fix), What: fmt.Sprintf(format, args...)})
	}
	if w.WidthFrom == WidthLogged {
		if without := t.withoutWidth(); without > 0 {
			say(0, "%d of %d fixes have no logged width: taken as the whole bar of %.2f m", without, len(t.at), w.Width)
		}
	}
	n, beyond, at := 0, 0, -1
	for k, width := range t.Width {
		if !(width > 0) || !workedAt(t.State, k) {
			continue
		}
		if n++; at < 0 {
			at = k
		}
		if width > logged+widthSlack {
			beyond++
		}
	}
	if beyond > 0 && w.WidthFrom != WidthLogged {
		say(at, "%d of %d logged widths are above the %.2f m of the whole bar: taken as the whole bar", beyond, n, logged)
	}
	if n > 0 && math.Abs(w.Width-logged) > widthSlack {
		given := "given is one of %.2f m: what is given counts"
		if w.WidthFrom == WidthFile {
			given = "the implement file one of %.2f m: the implement file counts"
		}
		say(at, "the log has a bar of %.2f m, "+given+"; --width logged takes what is logged", logged, w.Width)
	}
	return found
}
