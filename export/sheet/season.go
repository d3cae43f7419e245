package sheet

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"balk/coverage"
	"balk/coverage/season"
	"balk/export/sheet/paper"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// SeasonField is a field over its operations.
type SeasonField struct {
	Field      geo.Field
	Official   string // number by which offices know it; "" = none
	Ground     []plane.Polygon
	Day        time.Time // that the sheet is of
	Operations []SeasonOperation
	Result     season.Result
	Weather    []SeasonDay // day by day; none where no station was read
	Checks     []SeasonCheck
	Together   []string // what the operations did together, in sentences
	Seen       []string // what spot checks prove
	Due        []string // what is due
	Wear       []string // how far sweeps went in the ground
}

// SeasonOperation is one of its operations, in the order of time.
type SeasonOperation struct {
	Number  int64
	At      int       // its index in SeasonField.Result; -1: it could not be laid with the others
	Begin   time.Time // zero: not known
	Does    []string
	Set     string
	Depth   float64 // cm; 0 = not said
	Area    float64 // m² of the field
	Missed  float64 // m²
	Weather string  // after it, in a sentence; "" = not read
}

// SeasonDay is what a station read on a day, mm.
type SeasonDay struct {
	Day          time.Time
	Rain, Demand float64
}

// SeasonCheck is a spot check.
type SeasonCheck struct {
	At      orb.Point
	Cut     geo.Yes // nothing was left standing there
	Against bool    // it contradicts the map
}

// SeasonPDF writes the season sheet of fields, each on a page of its own. The same fields and page give the same bytes. It fails, and
// writes nothing, where SeasonPages fails.
func SeasonPDF(ctx context.Context, w io.Writer, fields []SeasonField, page Page) error {
	var leaves []*paper.Leaf
	var when time.Time
	for _, f := range fields {
		more, err := SeasonPages(ctx, f, page)
		if err != nil {
			return err
		}
		if leaves = append(leaves, more...); f.Day.After(when) {
			when = f.Day
		}
	}
	return paper.PDF(w, leaves, when)
}

// SeasonPages draws a field over its operations: these on a line of time with rain and the drying demand of the air, maps of what each
// left beside one of all together (of those that cut, where any does), a table, what they did together, what spot checks prove and what is due. What the page has no
// room for follows on another. All that tells kinds apart is told in grey too. It fails where no operation was laid, the field
// has no extent, or page is not valid.
func SeasonPages(ctx context.Context, f SeasonField, page Page) ([]*paper.Leaf, error) {
	var texts []string
	for _, o := range f.Operations {
		texts = append(texts, o.Set)
	}
	base, err := setOn(f.Field, f.Result.Local, f.Ground, page, append(texts, f.Official)...)
	if err != nil {
		return nil, err
	}
	size := papers["A4"]
	base.w, base.h = size[1], size[0]
	s := &seasonSetting{setting: base, of: f}
	for _, o := range f.Operations {
		if o.At >= 0 {
			s.laid = append(s.laid, o)
		}
	}
	if len(s.laid) == 0 {
		return nil, errors.New("a season without operations: nothing to print")
	}
	if err := s.draw(ctx); err != nil {
		return nil, err
	}
	first, rest := s.front()
	leaves := []*leaf{first}
	for len(rest) > 0 {
		var l *leaf
		l, rest = s.more(rest)
		leaves = append(leaves, l)
	}
	return s.numbered(leaves), nil
}

type seasonSetting struct {
	setting
	of    SeasonField
	laid  []SeasonOperation // those that were laid
	alone [][]season.Part   // by those of them that have a map: missed, worked
	most  season.Together   // those of the last map: all that cut, or all where none does
	all   []season.Part     // missed by these, worked once, twice ...
}

// mostMaps is how many operations have a map of their own, the latest.
const mostMaps = 3

func (s *seasonSetting) draw(ctx context.Context) (err error) {
	r := &s.of.Result
	s.most = *r.Main()
	if s.all, err = r.WorkedTimes(ctx, s.most); err != nil {
		return err
	}
	for _, o := range s.laid[max(0, len(s.laid)-mostMaps):] {
		parts, err := r.WorkedTimes(ctx, season.Together{Operations: []int{o.At}})
		if err != nil {
			return err
		}
		s.alone = append(s.alone, parts)
	}
	return nil
}

// someMark is ground that some of the operations worked.
var someMark = paper.Hatching{Fill: "#FBF6E6", Lines: []paper.HatchLines{{Turn: 45, Apart: 1.2, With: paper.Pen{Colour: "#8A7A4A", Width: 0.18}}}, Rim: paper.Pen{Colour: "#8A7A4A", Width: 0.08}}

// Parts of the page, mm.
const (
	timeHeight    = 15.0 // line of time
	weatherHeight = 17.0 // above it, rain and demand
	leastMaps     = 58.0
	seasonStep    = 3.2 // from line to line of text
	seasonRows    = 8   // operations in the table, at most, the latest
)

var (
	seasonLettering = paper.Lettering{Size: 7.3}
	seasonHead      = paper.Lettering{Size: 8.5, Bold: true}
)

// block is a head with paragraphs.
type block struct {
	head  string
	words []string
}

// said are blocks that have words.
func said(all ...block) []block {
	return slices.DeleteFunc(all, func(b block) bool { return len(b.words) == 0 })
}

func (s *seasonSetting) heightOf(width float64, blocks []block) (high float64) {
	for _, b := range blocks {
		high += 5
		for _, w := range b.words {
			high += seasonStep*float64(len(s.fonts.Wrap(seasonLettering, w, width))) + 0.8
		}
	}
	return high
}

// say writes blocks into a box, as much of them as has room, and gives the rest. A paragraph that no page has room for is written all the same.
func (s *seasonSetting) say(l *leaf, b paper.Box, blocks []block) (rest []block) {
	y := b.Y
	for i, one := range blocks {
		head := true
		for k, w := range one.words {
			high := seasonStep * float64(len(s.fonts.Wrap(seasonLettering, w, b.W)))
			if head {
				high += 5
			}
			if y+high > b.Y+b.H && high < s.h/2 {
				return append([]block{{one.head, one.words[k:]}}, blocks[i+1:]...)
			}
			if head {
				y += 4.2
				l.Text(b.X, y, seasonHead, one.head)
				y, head = y+0.8, false
			}
			y = l.Paragraph(b.X, y+seasonStep-0.6, b.W, seasonStep, seasonLettering, w) - seasonStep + 0.6 + 0.8
		}
	}
	return nil
}

// front is the page, and what it has no room for.
func (s *seasonSetting) front() (*leaf, []block) {
	l := s.newLeaf()
	name := s.name()
	if s.of.Official != "" {
		name += ", " + s.of.Official
	}
	l.head(s.Say("%s: the season", name), s.Say("%s, as of %s", s.Count(len(s.of.Operations), "operation"), s.day(s.of.Day)))
	b := s.inner()
	b.Y, b.H = b.Y+pictureHead, b.H-pictureHead
	y := s.timeLine(l, paper.Rect(b.X, b.Y, b.W, timeHeight))
	caution := s.AfterWork()
	foot := cautionLine * float64(len(s.fonts.Wrap(cautionLettering, caution, b.W)))
	l.Paragraph(b.X, b.Y+b.H-foot+cautionLine-0.6, b.W, cautionLine, cautionLettering, caution)

	left := (b.W - 2*partGap) / 2
	bottom := b.Y + b.H - foot - 2
	beside, below := said(block{s.Word("What is due"), s.of.Due}, block{s.Word("Together"), s.of.Together}), said(block{s.Word("Spot checks"), s.of.Seen}, block{s.Word("Wear of sweeps"), s.of.Wear})
	room := bottom - y - leastMaps - 2*partGap
	for s.rows = min(seasonRows, len(s.of.Operations)); s.rows > 1 && s.tableHeight(left) > room; s.rows-- {
	}
	table := s.tableHeight(left)
	if room-table < s.heightOf(left, below) && room-table < room-s.heightOf(left, beside) { // more of it stands on the other side
		beside, below = append(beside, below...), nil
	}
	low := min(max(table+s.heightOf(left, below), s.heightOf(left, beside)), room)
	s.maps(l, paper.Rect(b.X, y, b.W, bottom-low-partGap-y))
	s.table(l, paper.Rect(b.X, bottom-low, left, low))
	rest := s.say(l, paper.Rect(b.X+left+2*partGap, bottom-low, left, low), beside)
	return l, append(rest, s.say(l, paper.Rect(b.X, bottom-low+table, left, low-table), below)...)
}

// more is a page of what the ones before had no room for.
func (s *seasonSetting) more(blocks []block) (*leaf, []block) {
	l := s.newLeaf()
	y := s.pageHead(l, s.Word("The season, continued"))
	b := s.inner()
	return l, s.say(l, paper.Rect(b.X, y, b.W, b.Y+b.H-y), blocks)
}

func (s *setting) day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.In(s.page.zone()).Format(s.Day())
}

// maps draws what the latest operations left, each, and at last what all left together.
func (s *seasonSetting) maps(l *leaf, b paper.Box) {
	n := len(s.alone)
	keys := []key{groundKey(s.Word("worked by all"), onceMark), groundKey(s.Word("by some of them"), someMark), groundKey(s.Word("missed"), missedMark), groundKey(s.Word("unknown (log gap)"), unknownMark)}
	if len(s.of.Checks) > 0 {
		keys = append(keys, checkKeys(s)...)
	}
	if n == 1 && len(s.laid) == 1 {
		keys = append(keys[:1:1], keys[2:]...)
		n = 0 // all is that one
	}
	if hidden := len(s.laid) - len(s.alone); hidden > 0 {
		keys = append(keys, key{words: s.Say("%d earlier without a map of their own", hidden), sample: func(*leaf, float64, float64) {}})
	}
	b.H -= keyStep*float64(len(keyLines(l.Fonts, b.W, keys))) + 2
	l.keys(b, b.Y+b.H+0.5, keys)
	const title = 4.0
	views := s.mapViews(paper.Rect(b.X, b.Y+title, b.W, b.H-title), n)
	for k, v := range views[:n] {
		o, x, unit := s.laid[len(s.laid)-n+k], v.frame.X, v.frame.W
		l.Text(x, b.Y+2.6, paper.Lettering{Size: 7.5, Bold: true}, l.Fonts.Fit(paper.Lettering{Size: 7.5, Bold: true}, fmt.Sprintf("%s, %s", s.does(o), s.day(o.Begin)), unit))
		l.figure(fmt.Sprintf("%s, %s", s.does(o), s.day(o.Begin)), func() { s.worked(l, v, s.alone[k], 1) })
	}
	v := views[n]
	frame := v.frame
	n = len(s.most.Operations)
	name := s.Say("all together (%d)", n)
	if n < len(s.laid) {
		name = s.Say("all that cut (%d)", n)
	}
	l.Text(frame.X, b.Y+2.6, paper.Lettering{Size: 7.5, Bold: true}, name)
	l.figure(name, func() { s.together(l, v, n) })
}

// together draws the map of all operations, with checks and strips.
func (s *seasonSetting) together(l *leaf, v view, n int) {
	frame := v.frame
	s.worked(l, v, s.all, n)
	taken := []paper.Box{l.scaleBox(frame.X+1, frame.Y+frame.H-1, frame.W/3, v)}
	taken = append(taken, l.northArrow(v, s.of.Ground, s.all[0].Ground, northSmall, taken))
	taken = s.checks(l, v, taken)
	var strips []coverage.Strip
	for _, one := range s.most.Strips[:min(mapStrips, len(s.most.Strips))] {
		strips = append(strips, coverage.Strip{Number: one.Number, At: one.At, Surety: one.Surety})
	}
	l.numbers(v, s.local, strips, taken)
}

// mapViews are n maps beside each other and a wider one behind them, whose north arrow and scale hold for the way all lie.
func (s *seasonSetting) mapViews(b paper.Box, n int) []view {
	const shareOfLast = 1.3
	unit := (b.W - partGap*float64(n)) / (float64(n) + shareOfLast)
	last := viewOf(paper.Rect(b.X+b.W-shareOfLast*unit, b.Y, shareOfLast*unit, b.H), s.hull)
	var out []view
	for k := range n {
		frame := paper.Rect(b.X+float64(k)*(unit+partGap), b.Y, unit, b.H)
		lying := lie(s.hull, last.turn, frame.Inset(mapPad))
		out = append(out, newView(frame, lying.middle, lying.scale, last.turn))
	}
	return append(out, last)
}

// worked draws ground by how often it was worked: missed, by some of n, by all.
func (s *seasonSetting) worked(l *leaf, v view, parts []season.Part, n int) {
	l.Fill(v.frame.Path(), mapColour)
	l.Cover(v.rings(s.of.Ground), unknownMark)
	var some []plane.Polygon
	for _, p := range parts {
		if p.Number > 0 && p.Number < n {
			some = append(some, p.Ground...)
		}
	}
	l.Cover(v.rings(parts[n].Ground), onceMark)
	l.Cover(v.rings(some), someMark)
	l.Cover(v.rings(parts[0].Ground), missedMark)
	l.Stroke(v.rings(slices.DeleteFunc(slices.Clone(parts[0].Ground), func(p plane.Polygon) bool {
		return 2*p.Area()/p[0].Perimeter() < stressed
	})), paper.Pen{Colour: pink, Width: showMissed})
	l.rims(v, s.of.Ground, nil)
}

// Marks of spot checks: full where the ground was cut, crossed where it was not; a ring around both where that stands against the map.
const checkRadius = 0.9 // mm

func (l *leaf) checkMark(at orb.Point, c SeasonCheck) {
	if c.Cut == geo.NotSo {
		l.crossedRing(at, checkRadius+0.2, true, paper.Pen{Colour: paper.Black, Width: 0.25})
	} else {
		colour := paper.Black
		if c.Cut == geo.NotSaid {
			colour = "#FFFFFF"
		}
		l.Fill([]orb.LineString{paper.Ring(at, checkRadius)}, colour)
		l.Stroke([]orb.LineString{paper.Ring(at, checkRadius)}, paper.Pen{Colour: paper.Black, Width: 0.2})
	}
	if c.Against {
		l.Stroke([]orb.LineString{paper.Ring(at, 2*checkRadius)}, paper.Pen{Colour: paper.Black, Width: 0.25})
	}
}

func checkKeys(s *seasonSetting) (keys []key) {
	for _, k := range []struct {
		words string
		SeasonCheck
	}{{s.Word("seen cut"), SeasonCheck{Cut: geo.IsSo}}, {s.Word("seen not cut"), SeasonCheck{Cut: geo.NotSo}}, {s.Word("cut not looked at"), SeasonCheck{}}, {s.Word("against the map"), SeasonCheck{Cut: geo.IsSo, Against: true}}} {
		if slices.ContainsFunc(s.of.Checks, func(c SeasonCheck) bool { return c.Cut == k.Cut && (c.Against || !k.Against) }) {
			keys = append(keys, key{words: k.words, wide: 4, sample: func(l *leaf, x, y float64) { l.checkMark(orb.Point{x + 2, y - 1}, k.SeasonCheck) }})
		}
	}
	return keys
}

func (s *seasonSetting) checks(l *leaf, v view, taken []paper.Box) []paper.Box {
	for _, c := range s.of.Checks {
		at := v.at(s.local.XY(c.At))
		if !v.frame.Bound().Contains(at) {
			continue
		}
		l.checkMark(at, c)
		taken = append(taken, paper.Rect(at[0]-checkRadius, at[1]-checkRadius, 2*checkRadius, 2*checkRadius))
	}
	return taken
}

// seasonColumns are those of the table, in shares of its width; negative ends there.
var seasonColumns = []float64{0, 0.06, 0.22, 0.44, -0.79, -0.92, -1}

// listed are the operations in the table.
func (s *seasonSetting) listed() []SeasonOperation {
	return s.of.Operations[len(s.of.Operations)-s.rows:]
}

func (s *seasonSetting) tableHeight(width float64) float64 {
	high := 9.5
	for _, o := range s.listed() {
		high += 4
		if o.Weather != "" {
			high += seasonStep * float64(len(s.fonts.Wrap(seasonLettering, o.Weather, 0.94*width)))
		}
	}
	return high + cautionLine // of the line on earlier ones
}

// table lists the operations with the weather after each.
func (s *seasonSetting) table(l *leaf, b paper.Box) {
	y := b.Y + 4.2
	l.Text(b.X, y, seasonHead, s.Word("Operations"))
	grey := paper.Lettering{Size: 6.5, Grey: true}
	y += 4
	l.cells(b, y, grey, seasonColumns, s.Word("no."), s.Word("day"), s.Word("does"), s.Word("set"), s.Word("depth cm"), s.Word("missed m²"), "%")
	t := seasonLettering
	for _, o := range s.listed() {
		y += 4
		depth := "–"
		if o.Depth > 0 {
			depth = s.Say("%g", o.Depth)
		}
		l.cells(b, y, t, seasonColumns, fmt.Sprint(o.Number), s.day(o.Begin), l.Fonts.Fit(t, s.doing(o), 0.21*b.W), l.Fonts.Fit(t, o.Set, 0.24*b.W), depth, fmt.Sprintf("%.0f", math.Max(0, o.Missed)), s.Say("%.1f", 100*math.Max(0, o.Missed)/o.Area))
		if o.Weather != "" {
			t := paper.Lettering{Size: t.Size, Grey: true}
			y = l.Paragraph(b.X+0.06*b.W, y+seasonStep, 0.94*b.W, seasonStep, t, o.Weather) - seasonStep
		}
	}
	if n := len(s.of.Operations) - len(s.listed()); n > 0 {
		l.Text(b.X, y+cautionLine, grey, s.Say("and %d earlier ones", n))
	}
}
