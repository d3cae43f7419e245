package isobus

import (
	"fmt"
	"math"
	"slices"
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
	element      string  // its id; "": not described
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
func placeOf(devices []Device, id string) (dev int, e Element, ok bool) {
	for i, v := range devices {
		for _, e := range v.Elements {
			if e.ID == id {
				return i, e, true
			}
		}
	}
	return 0, Element{}, false
}

// isPart says whether an element is a part of an implement: what is logged of it is not of the whole.
func isPart(e Element) bool { return e.kind() == detSection || e.kind() == detUnit }

func newImplementLog(list []dlv, devices []Device) *implementLog {
	im := &implementLog{widthAt: -1, fixed: math.NaN(), right: math.NaN()}
	main, dev := im.findMain(list, devices)
	if dev >= 0 {
		v := devices[dev]
		im.antenna = antennaRight(devices, dev)
		im.right = v.right(main)
		if im.fixed = v.width(main); math.IsNaN(im.fixed) {
			im.fixed = im.fixedOf(v)
		}
		im.describedSections(devices[dev], main)
	}
	im.loggedSections(list, devices, dev)
	im.sectionStates(list)
	if dev >= 0 {
		im.lever(devices, dev, main)
	}
	im.hasWidth = im.widthAt >= 0 || !math.IsNaN(im.fixed)
	im.hasOffset = !math.IsNaN(im.right)
	var whole bar
	for _, s := range im.sections {
		whole.add(s.right, s.width)
		im.states = im.states || s.stateAt >= 0
		im.hasOffset = im.hasOffset || !math.IsNaN(s.right)
		im.hasWidth = im.hasWidth || s.widthAt >= 0 || !math.IsNaN(s.width)
	}
	if im.whole = whole.width; whole.partly || whole.width == 0 {
		im.whole = im.fixed
	}
	return im
}

// rankOf is how well a value tells which element is the main one: where the width is logged, else where a state
// is; 0: not at all.
func rankOf(ddi int) int {
	switch {
	case ddi == ddiActualWidth:
		return 300
	case ddi == ddiDefaultWidth, ddi == ddiMaxWidth:
		return 200
	case ddi >= ddiSections && ddi <= ddiSectionsLast:
		return 100
	case ddi == ddiWorkState:
		return 50
	}
	return 0
}

// findMain finds the main element, and the device it is of; -1: none of those described.
func (im *implementLog) findMain(list []dlv, devices []Device) (main Element, dev int) {
	best := -1
	dev = -1
	var widths []string
	for i, l := range list {
		rank := rankOf(l.ddi)
		if rank == 0 {
			continue
		}
		d, e, found := placeOf(devices, l.element)
		if found && isPart(e) {
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
	return main, dev
}

// fixedOf is the fixed width of a device by its functions, else by itself.
func (im *implementLog) fixedOf(v Device) float64 {
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
func (im *implementLog) lever(devices []Device, dev int, main Element) {
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

// section is a section by the element it is, which is put to the others if it is not among them.
func (im *implementLog) section(v Device, e Element) *sectionLog {
	i := slices.IndexFunc(im.sections, func(s sectionLog) bool { return s.element == e.ID })
	if i < 0 {
		i = len(im.sections)
		im.sections = append(im.sections, sectionLog{element: e.ID, right: v.right(e), width: v.width(e), widthAt: -1, stateAt: -1})
	}
	return &im.sections[i]
}

// describedSections are the sections below the main element, or all of a device where there is none.
func (im *implementLog) describedSections(v Device, main Element) {
	sections := v.below(main, detSection)
	if len(sections) == 0 && main.kind() != detFunction {
		from := main
		for _, e := range v.Elements {
			if e.kind() == detDevice {
				from = e
			}
		}
		sections = v.below(from, detSection)
	}
	for _, e := range sections {
		im.section(v, e)
	}
}

// loggedSections finds the values that tell of elements: of sections, and states of what is above them.
func (im *implementLog) loggedSections(list []dlv, devices []Device, dev int) {
	for i, l := range list {
		if l.ddi != ddiWorkState && l.ddi != ddiActualWidth {
			continue
		}
		d, e, found := placeOf(devices, l.element)
		switch {
		case !found || !isPart(e):
			if l.ddi == ddiWorkState {
				im.stateAt = append(im.stateAt, i)
			}
		case d != dev || e.kind() == detUnit:
		case l.ddi == ddiWorkState:
			s := im.section(devices[d], e)
			s.stateAt, s.shift = i, -1
		default:
			im.section(devices[d], e).widthAt = i
		}
	}
}

// sectionStates finds the values that hold the states of sixteen sections, which are finer than an element's own.
func (im *implementLog) sectionStates(list []dlv) {
	known := len(im.sections)
	for i, l := range list {
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
	if w < 0 || w > geo.MaxWidth {
		im.badWidth++
		return math.NaN()
	}
	return w
}

// master is the state of what is above the sections: working where one element says so.
func (im *implementLog) master(values []logged) geo.WorkState {
	master := geo.StateUnknown
	for _, i := range im.stateAt {
		if !values[i].seen {
			continue
		}
		if s := stateIn(values[i].now); s == geo.Working || master == geo.StateUnknown {
			master = s
		}
	}
	return master
}

// state is that of a section as the values stand.
func (s *sectionLog) state(values []logged) geo.WorkState {
	if s.stateAt < 0 || !values[s.stateAt].seen {
		return geo.StateUnknown
	}
	v := values[s.stateAt].now
	if s.shift >= 0 {
		v = v >> s.shift & 3
	}
	return stateIn(v)
}

// now works out the state of things from the values as they stand.
func (im *implementLog) now(values []logged) work {
	master := im.master(values)
	out := work{state: master, width: im.fixed, offset: im.right - im.antenna}
	if im.widthAt >= 0 && values[im.widthAt].seen {
		out.width = im.metres(values[im.widthAt].now)
	}
	var all, on bar
	lifted, off, split := 0, false, false // off: a section after a working one is; split: and one working after it
	for i := range im.sections {
		s := &im.sections[i]
		w := s.width
		if s.widthAt >= 0 && values[s.widthAt].seen {
			w = im.metres(values[s.widthAt].now)
		}
		all.add(s.right, w)
		switch s.state(values) {
		case geo.Working:
			on.add(s.right, w)
			split = split || off
		case geo.Lifted:
			lifted++
			off = off || on.n > 0
		}
	}
	known, bar := on.n+lifted, all
	switch {
	case on.n > 0:
		bar = on
		if master != geo.Lifted {
			out.state = geo.Working
		}
		if split {
			im.split++
		}
	case lifted > 0:
		out.state = geo.Lifted
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
