package sheet

import (
	"fmt"
	"io"
	"math"
	"time"

	"balk/coverage"
	"balk/coverage/ground"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
)

const (
	paperMargin = 10.0 // mm
	footHeight  = 5.0  // mm, for the page's number
)

// leaf is a page with what only maps of a field have on it.
type leaf struct {
	*paper.Leaf
	words.Language
}

// setting is what the pages of any sheet are set from.
type setting struct {
	words.Language
	page   Page
	field  geo.Field
	local  geo.Local
	title  string   // of the pages, for readers of the files
	when   string   // the time of the work in words; "" = still to be done
	answer []string // what the check found, in paragraphs; none = nothing was checked
	slopes string   // how steep the ground is, in sentences; "" = not known
	fonts  *paper.Fonts
	w, h   float64 // mm, of the paper
	hull   []plane.XY
	view   view   // of the map on the first page, or of its first window
	views  []view // its windows; one if it shows the field whole
	parts  parts  // of the first page
	wide   bool   // its map is as wide as the paper, which lies across
	rows   int    // strips in its table, at most
	rest   string // of the remarks: what the first page had no room for
	total  int    // pages
}

// checkSetting is what the pages on a checked operation are set from.
type checkSetting struct {
	setting
	result  coverage.Result
	table   Table
	details int        // strips with a detail map
	codes   [][][]bool // QR codes of their places
}

// Pages draws the sheet: the map with balance and largest strips; detail maps of
// strips, if there are any; a page with more strips, if the first has no room for all; the re-work, if one is planned;
// how it was driven, with the cautions; remarks that the first page has no room for; the layout of the sweeps, if it is wanted. It fails
// when the balance does not add up, the field has no extent or p is not valid.
func Pages(r coverage.Result, p Page) ([]*paper.Leaf, error) {
	s, err := setUp(r, p)
	if err != nil {
		return nil, err
	}
	leaves := []*leaf{s.front()}
	if s.details > 0 {
		leaves = append(leaves, s.detailPage())
	}
	if s.rows < s.enough() {
		leaves = append(leaves, s.listPage())
	}
	if p.Rework != nil && len(p.Rework.Passes) > 0 {
		l, err := s.reworkPage()
		if err != nil {
			return nil, err
		}
		leaves = append(leaves, l)
	}
	leaves = append(leaves, s.drivenPages()...)
	if s.rest != "" {
		leaves = append(leaves, s.remarksPage())
	}
	if leaves, err = s.withSweeps(leaves); err != nil {
		return nil, err
	}
	return s.numbered(leaves), nil
}

// withSweeps are leaves with that of the sweeps, if it is wanted.
func (s *setting) withSweeps(leaves []*leaf) ([]*leaf, error) {
	if s.page.Sweeps == nil {
		return leaves, nil
	}
	l, err := Sweeps(*s.page.Sweeps, s.page)
	if err != nil {
		return nil, err
	}
	return append(leaves, &leaf{l, s.Language}), nil
}

// PDF writes the sheet to print. It fails, and writes nothing, where Pages fails.
// The same result and page give the same bytes: the file's date is that of the
// operation, or missing if no time was logged.
func PDF(w io.Writer, r coverage.Result, p Page) error {
	leaves, err := Pages(r, p)
	if err != nil {
		return err
	}
	var when time.Time
	if n := len(r.Passes); n > 0 {
		when = r.Passes[n-1].To
	}
	return paper.PDF(w, leaves, when)
}

// numbered writes the feet of the pages.
func (s *setting) numbered(leaves []*leaf) []*paper.Leaf {
	s.total = len(leaves)
	out := make([]*paper.Leaf, len(leaves))
	for i, l := range leaves {
		s.foot(l, i+1)
		out[i] = l.Leaf
	}
	return out
}

func (s *setting) newLeaf() *leaf {
	return newLeaf(s.w, s.h, s.fonts, s.Language, s.title)
}

// name is the field's, or its number.
func (s *setting) name() string { return fieldName(s.field, s.Language) }

// setOn is a setting for a field on its plane; texts are those on the paper that come from outside.
func setOn(field geo.Field, local geo.Local, ground []plane.Polygon, p Page, texts ...string) (setting, error) {
	f, err := p.open(append(texts, field.Name)...)
	if err != nil {
		return setting{}, err
	}
	hull, err := outlineOf(ground)
	return setting{Language: p.Language, page: p, field: field, local: local, title: fieldName(field, p.Language), fonts: f, hull: hull}, err
}

// setCheck looks at a result that is to be drawn.
func setCheck(r coverage.Result, p Page) (*checkSetting, error) {
	if err := addsUp(r.Balance); err != nil {
		return nil, err
	}
	for _, one := range r.Strips {
		if d := math.Abs(one.At[0]) + math.Abs(one.At[1]); !(d <= 360+90) {
			return nil, fmt.Errorf("strip %d lies at %g, %g: no place in degrees", one.Number, one.At[0], one.At[1])
		}
	}
	var texts []string
	for _, one := range r.Findings {
		texts = append(texts, p.Language.Finding(one))
	}
	base, err := setOn(r.Field, r.Local, r.Layers.Field, p, texts...)
	if err != nil {
		return nil, err
	}
	if r.Telling.Strips == coverage.GraspNone {
		r.Strips = nil // none that anyone should go to
	}
	base.title, base.when = heading(r.Field, p.Language), p.worked(r.Passes)
	said := answer.Of(r, p.Language)
	for _, part := range [][]string{said.Settle, said.Three, said.Holds} {
		if len(part) > 0 {
			base.answer = append(base.answer, answer.OnPaper(part...))
		}
	}
	base.slopes = answer.OnPaper(answer.Slopes(p.Language, r.Slope, r.Strips, r.Work.Steep))
	return &checkSetting{setting: base, result: r, table: TableOf(r).In(p.Language)}, nil
}

// setUp looks at what is to be printed and lays out the pages.
func setUp(r coverage.Result, p Page) (*checkSetting, error) {
	s, err := setCheck(r, p)
	if err != nil {
		return nil, err
	}
	s.details = min(mostDetails, len(s.result.Strips))
	s.codes = make([][][]bool, s.details)
	for i, one := range s.result.Strips[:s.details] {
		if s.codes[i], err = placeCode(one.At); err != nil {
			return nil, err
		}
	}
	listed := func(rows int) int { return min(rows, len(s.result.Strips)) }
	s.orient(parts{column: s.legendHeight(), side: codeSide + 2, rows: tableRows[p.Paper == "A3"], table: func(rows int) float64 { return tableHeight(listed(rows)) }, note: s.noteWords(0, false)})
	s.rows = listed(s.rows)
	return s, nil
}

// residualLimit is the share of the field by which a balance may miss before no
// map is drawn of it (DESIGN: never a map).
const residualLimit = 1e-6

// addsUp refuses a balance that misses by more than rounding.
func addsUp(b ground.Balance) error {
	if res, lim := math.Abs(b.Residual), residualLimit*b.Field; !(res <= lim) {
		return fmt.Errorf("the balance misses by %.3g m² (limit %.3g m²): no map of it", res, lim)
	}
	return nil
}

// tableRows are how many strips the first page may list, on A3 and else; fewer leave more room for
// the map.
var tableRows = map[bool][]int{false: {12, 10, 8, 6}, true: {24, 20, 16, 12}}

// fieldName is the name of a field, or its number.
func fieldName(f geo.Field, l words.Language) string {
	if f.Name == "" {
		return l.Say("field %d", f.Number)
	}
	return f.Name
}

// foot writes what every page says about itself.
func (s *setting) foot(l *leaf, number int) {
	y, right := l.Height-paperMargin, l.Width-paperMargin
	t := paper.Lettering{Size: 6.5, Grey: true}
	words := s.Word("Times in UTC.")
	switch z := s.page.Zone; {
	case z == time.Local:
		words = s.Word("Local times.")
	case z != nil && z != time.UTC:
		words = s.Say("Local times, zone %s.", s.Zone(z.String()))
	}
	words += s.Word(" Places in degrees WGS84, latitude and longitude.")
	if s.fonts.Lacking {
		words += s.Word(" [U+...]: letters that the fonts of this sheet lack, by their numbers in Unicode.")
	}
	l.Line(paperMargin, y-3.2, right, y-3.2, paper.Pen{Colour: "#999999", Width: 0.1})
	l.Text(paperMargin, y, t, words)
	t.Align = paper.Right
	l.Text(right, y, t, s.Say("page %d of %d", number, s.total))
}

// pageHead writes field and operation over a page behind the first, and gives how
// far down it came.
func (s *setting) pageHead(l *leaf, title string) float64 {
	b := s.inner()
	l.As(paper.Heading, "", func() { l.Text(b.X, b.Y+4.5, paper.Lettering{Size: 12, Bold: true}, title) })
	t := paper.Lettering{Size: 9, Align: paper.Right}
	room := b.W - l.Fonts.Width(paper.Lettering{Size: 12, Bold: true}, title) - 6
	l.Text(b.X+b.W, b.Y+3.6, t, l.Fonts.Fit(t, s.name(), room))
	t.Size, t.Grey = 7, true
	l.Text(b.X+b.W, b.Y+7.4, t, l.Fonts.Fit(t, s.when, room))
	return b.Y + 10
}
