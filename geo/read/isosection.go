package read

import (
	"fmt"
	"math"
	"strings"

	"balk/geo"
)

// implementLog works out state, width and offset of the implement from the
// values of a log, index by index of its DLV list.
//
//   - State: working where a section works and no element above it is logged as
//     off; without section states the work state (DDI 141), working where one
//     element above the sections says so.
//   - Width: the logged actual width (DDI 67, else 68, 70) of a function or
//     device, else the fixed one of the description, else the sum of the sections.
//     Where sections are off it is at most the sum of those working.
//   - Offset: the middle of the working sections (each weighted by its width), of
//     all sections where none is known to work, or of the element itself, to the
//     right of the receiver. Sections that are off between working ones leave
//     ground in the middle that one width cannot tell; split counts such changes.
type implementLog struct {
	widthAt   int   // DLV of the main width; -1: fixed
	stateAt   []int // DLVs of work states above the sections
	fixed     float64
	whole     float64 // m, of all sections by the description, else the fixed one; NaN: not told
	sections  []sectionLog
	states    bool // a section's state is logged
	hasWidth  bool
	hasOffset bool
	right     float64 // m, of the element; NaN: not told
	antenna   float64 // m
	odd       []string

	split, badWidth int
}

// sectionLog is a section: where it lies and which values tell of it.
type sectionLog struct {
	right, width float64 // m; NaN: not told
	widthAt      int     // DLV of its width; -1: fixed
	stateAt      int     // DLV of its state, alone or among others; -1: none
	shift        int     // of its two bits there; -1: the value is its state
}

// logged is a value of a log by its DLV index.
type logged struct {
	now  int32
	seen bool
}

// work is what the implement does, in m.
type work struct {
	state         geo.WorkState
	width, offset float64
}

// dlv is an entry of a log's header.
type dlv struct {
	ddi     int
	element string
}

// placeOf finds the element a DLV speaks of.
func placeOf(devices []isoDevice, id string) (dev int, e isoElement, ok bool) {
	for i, v := range devices {
		for _, e := range v.Elements {
			if e.ID == id {
				return i, e, true
			}
		}
	}
	return 0, isoElement{}, false
}

func newImplementLog(list []dlv, devices []isoDevice) *implementLog {
	im := &implementLog{widthAt: -1, fixed: math.NaN(), right: math.NaN()}
	part := func(e isoElement) bool { return e.kind() == detSection || e.kind() == detUnit }
	// The main element: where the width is logged, else where a state is.
	best, dev := -1, -1
	var main isoElement
	var widths []string
	for i, l := range list {
		rank := 0
		switch {
		case l.ddi == ddiActualWidth:
			rank = 300
		case l.ddi == ddiDefaultWidth, l.ddi == ddiMaxWidth:
			rank = 200
		case l.ddi >= ddiSections && l.ddi <= ddiSectionsLast:
			rank = 100
		case l.ddi == ddiWorkState:
			rank = 50
		default:
			continue
		}
		d, e, found := placeOf(devices, l.element)
		if found && part(e) {
			if dev < 0 {
				dev = d
			}
			continue
		}
		if rank >= 300 {
			widths = append(widths, l.element)
		}
		switch {
		case found && e.kind() == detFunction:
			rank += 3
		case found && e.kind() == detDevice:
			rank += 2
		case found:
			rank++
		}
		if rank > best {
			best, main = rank, e
			if found {
				dev = d
			}
			if im.widthAt = -1; rank >= 200 {
				im.widthAt = i
			}
		}
	}
	if len(widths) > 1 {
		im.odd = append(im.odd, fmt.Sprintf("the width is logged for %d elements (%s): that of %s is used", len(widths), strings.Join(widths, ", "), list[im.widthAt].element))
	}
	if dev >= 0 {
		v := devices[dev]
		im.antenna = antennaRight(devices, dev)
		im.right = v.right(main)
		if im.fixed = v.width(main); math.IsNaN(im.fixed) {
			im.fixed = im.fixedOf(v)
		}
	}
	im.addSections(list, devices, dev, main, part)
	if dev >= 0 {
		im.lever(devices, dev, main)
	}
	im.hasWidth = im.widthAt >= 0 || !math.IsNaN(im.fixed)
	im.hasOffset = !math.IsNaN(im.right)
	var whole bar
	for _, s := range im.sections {
		whole.add(s.right, s.width)
	}
	if im.whole = whole.width; whole.partly || whole.width == 0 {
		im.whole = im.fixed
	}
	for _, s := range im.sections {
		im.states = im.states || s.stateAt >= 0
		im.hasOffset = im.hasOffset || !math.IsNaN(s.right)
		im.hasWidth = im.hasWidth || s.widthAt >= 0 || !math.IsNaN(s.width)
	}
	return im
}

// fixedOf is the fixed width of a device by its functions, else by itself.
func (im *implementLog) fixedOf(v isoDevice) float64 {
	for _, kind := range []int{detFunction, detDevice} {
		for _, e := range v.Elements {
			if w := v.width(e); e.kind() == kind && w > 0 {
				if math.IsNaN(im.right) {
					im.right = v.right(e)
				}
				return w
			}
		}
	}
	return math.NaN()
}

// lever says how far apart receiver and working element lie lengthwise: fixes
// are the receiver's, and the track has no column for it.
func (im *implementLog) lever(devices []isoDevice, dev int, main isoElement) {
	work, ok := devices[dev].property(main, ddiOffsetX)
	for _, s := range devices[dev].below(main, detSection) {
		if ok {
			break
		}
		work, ok = devices[dev].property(s, ddiOffsetX)
	}
	for i, v := range devices {
		for _, e := range v.Elements {
			antenna, there := v.property(e, ddiOffsetX)
			if e.kind() != detNavigation || !there {
				continue
			}
			switch {
			case !ok:
				im.odd = append(im.odd, fmt.Sprintf("the device description puts the antenna %.3g m ahead of the reference point of %q: not applied to the fixes", antenna/1000, v.Designator))
			case i == dev:
				im.odd = append(im.odd, fmt.Sprintf("the device description puts the antenna %.3g m ahead of the working element: not applied to the fixes", (antenna-work)/1000))
			default:
				im.odd = append(im.odd, fmt.Sprintf("the device description puts the antenna %.3g m ahead of the reference point of %q, the working element %.3g m ahead of that of %q: not applied to the fixes", antenna/1000, v.Designator, work/1000, devices[dev].Designator))
			}
			return
		}
	}
}

// addSections finds the sections and the values that tell of them.
func (im *implementLog) addSections(list []dlv, devices []isoDevice, dev int, main isoElement, part func(isoElement) bool) {
	index := map[string]int{}
	add := func(v isoDevice, elements []isoElement) {
		for _, e := range elements {
			if _, there := index[e.ID]; !there {
				index[e.ID] = len(im.sections)
				im.sections = append(im.sections, sectionLog{right: v.right(e), width: v.width(e), widthAt: -1, stateAt: -1})
			}
		}
	}
	if dev >= 0 {
		v := devices[dev]
		kind, from := detSection, main
		s := v.below(main, kind)
		if len(s) == 0 && main.kind() != detFunction { // the device, or nothing: all sections
			for _, e := range v.Elements {
				if e.kind() == detDevice {
					from = e
				}
			}
			s = v.below(from, kind)
		}
		add(v, s)
	}
	for i, l := range list {
		switch {
		case l.ddi == ddiWorkState || l.ddi == ddiActualWidth:
			d, e, found := placeOf(devices, l.element)
			if !found || !part(e) {
				if l.ddi == ddiWorkState {
					im.stateAt = append(im.stateAt, i)
				}
				continue
			}
			if d != dev || e.kind() == detUnit {
				continue
			}
			add(devices[d], []isoElement{e})
			if s := &im.sections[index[e.ID]]; l.ddi == ddiWorkState {
				s.stateAt, s.shift = i, -1
			} else {
				s.widthAt = i
			}
		}
	}
	known := len(im.sections)
	for i, l := range list { // states of sixteen are finer than an element's own
		if l.ddi < ddiSections || l.ddi > ddiSectionsLast {
			continue
		}
		first := 16 * (l.ddi - ddiSections)
		for k := first; k < first+16; k++ {
			if known > 0 && k >= known {
				break
			}
			for k >= len(im.sections) { // no description: states without a place
				im.sections = append(im.sections, sectionLog{right: math.NaN(), width: math.NaN(), widthAt: -1, stateAt: -1})
			}
			im.sections[k].stateAt, im.sections[k].shift = i, 2*(k-first)
		}
	}
}

// stateIn reads a state of 0 off, 1 on; all else says nothing.
func stateIn(v int32) geo.WorkState {
	switch v {
	case 0:
		return geo.Lifted
	case 1:
		return geo.Working
	}
	return geo.StateUnknown
}

// metres reads a logged width.
func (im *implementLog) metres(v int32) float64 {
	w := float64(v) / 1000
	if w < 0 || w > maxWidth {
		im.badWidth++
		return math.NaN()
	}
	return w
}

// now works out the state of things from the values as they stand.
func (im *implementLog) now(values []logged) work {
	master := geo.StateUnknown
	for _, i := range im.stateAt {
		if !values[i].seen {
			continue
		}
		if s := stateIn(values[i].now); s == geo.Working || master == geo.StateUnknown {
			master = s
		}
	}
	out := work{state: master, width: im.fixed, offset: im.right - im.antenna}
	if im.widthAt >= 0 && values[im.widthAt].seen {
		out.width = im.metres(values[im.widthAt].now)
	}
	var all, on bar
	known, working := 0, 0
	gap := 0 // 1: a section off after a working one, 2: and one working after it
	for _, s := range im.sections {
		w := s.width
		if s.widthAt >= 0 && values[s.widthAt].seen {
			w = im.metres(values[s.widthAt].now)
		}
		all.add(s.right, w)
		if s.stateAt < 0 || !values[s.stateAt].seen {
			continue
		}
		v := values[s.stateAt].now
		if s.shift >= 0 {
			v = v >> s.shift & 3
		}
		switch stateIn(v) {
		case geo.Working:
			known++
			working++
			on.add(s.right, w)
			if gap == 1 {
				gap = 2
			}
		case geo.Lifted:
			known++
			if working > 0 && gap == 0 {
				gap = 1
			}
		}
	}
	bar := all
	if known > 0 {
		switch {
		case working == 0:
			out.state = geo.Lifted
		case master != geo.Lifted:
			out.state = geo.Working
		}
		if working > 0 {
			bar = on
			if gap == 2 {
				im.split++
			}
		}
	}
	if w := bar.width; !bar.partly && w > 0 && (math.IsNaN(out.width) || known > 0 && w < out.width) {
		out.width = w
	}
	if y := bar.middle(); !math.IsNaN(y) {
		out.offset = y - im.antenna
	}
	return out
}

// bar is sections put together.
type bar struct {
	n      int
	width  float64 // m
	moment float64 // m²
	partly bool    // the width or place of one is not told
	lost   bool    // the place of one is not told
}

func (b *bar) add(right, width float64) {
	b.n++
	if math.IsNaN(width) {
		b.partly = true
		return
	}
	b.width += width
	if math.IsNaN(right) {
		b.lost = true
		return
	}
	b.moment += right * width
}

// middle is how far the middle lies to the right of the device's reference
// point; NaN where the sections do not tell.
func (b *bar) middle() float64 {
	if b.n == 0 || b.partly || b.lost || b.width == 0 {
		return math.NaN()
	}
	return b.moment / b.width
}
