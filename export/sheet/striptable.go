package sheet

import (
	"fmt"
	"strings"

	"balk/coverage"

	"github.com/tdewolff/canvas"
)

const (
	rowHeight  = 3.75 // mm
	tableHead  = 9.0
	tableNotes = 4.0
)

// tableHeight is what a table of so many strips takes.
func (s *setting) tableHeight(rows int) float64 {
	if rows == 0 {
		return 11
	}
	return tableHead + rowHeight*float64(rows) + tableNotes
}

// column is one of the table of strips.
type column struct {
	head  string
	width float64 // share of the table
	right bool
	word  func(coverage.Strip) string
}

var columns = []column{
	{"no.", 5, true, numberOf},
	{"m²", 8, true, func(s coverage.Strip) string { return fmt.Sprintf("%.1f", s.Area) }},
	{"length", 8.5, true, func(s coverage.Strip) string { return fmt.Sprintf("%.0f m", s.Length) }},
	{"mean width", 11, true, func(s coverage.Strip) string { return fmt.Sprintf("%.2f m", s.MeanWidth) }},
	{"widest", 9, true, func(s coverage.Strip) string { return fmt.Sprintf("%.2f m", s.MaxWidth) }},
	{"surety", 9, false, func(s coverage.Strip) string { return suretyWords(s.Surety) }},
	{"likely cause", 25, false, func(s coverage.Strip) string { return string(s.Cause) }},
	{"place (lon, lat)", 25, false, func(s coverage.Strip) string { return fmt.Sprintf("%.6f, %.6f", s.At[0], s.At[1]) }},
	{"beside passes", 17, false, func(s coverage.Strip) string { return passWords(s.Passes) }},
}

func suretyWords(s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return "not known"
	}
	return string(s)
}

// passWords lists the neighbours of a strip.
func passWords(passes []int) string {
	const most = 4
	var words []string
	for _, p := range passes[:min(most, len(passes))] {
		words = append(words, fmt.Sprint(p))
	}
	if more := len(passes) - most; more > 0 {
		words = append(words, fmt.Sprintf("%d more", more))
	}
	return strings.Join(words, ", ")
}

// listPage goes on with the table of strips where the first page ends: as many as
// the page holds.
func (s *setting) listPage() *Leaf {
	l := newLeaf(s.w, s.h, s.fonts)
	top := s.pageHead(l, "More missed strips")
	b := s.inner()
	b.y, b.h = top, b.y+b.h-top
	rows := int((b.h - tableHead - tableNotes) / rowHeight)
	s.stripTable(l, b, s.rows, min(len(s.result.Strips), s.rows+rows))
	return l
}

// stripTable lists strips by size, from one index up to another, and sums the
// smaller ones.
func (s *setting) stripTable(l *Leaf, b rect, from, to int) {
	r := s.result
	y := b.y + 3.2
	if len(r.Strips) == 0 {
		l.text(b.x, y, lettering{size: 9, bold: true}, "No missed strips")
		l.text(b.x, y+4.5, lettering{size: 7.5}, restWords(r, 0))
		return
	}
	title := fmt.Sprintf("Missed strips, all %d", len(r.Strips))
	switch {
	case len(r.Strips) == 1:
		title = "The missed strip"
	case from > 0:
		title = fmt.Sprintf("Missed strips, numbers %d to %d of %d by area", from+1, to, len(r.Strips))
	case to < len(r.Strips):
		title = fmt.Sprintf("Missed strips, the %d largest of %d", to, len(r.Strips))
	}
	l.text(b.x, y, lettering{size: 9, bold: true}, title)
	y += 4.3
	total := 0.0
	for _, c := range columns {
		total += c.width
	}
	cell := func(t lettering, word func(column) string) {
		x := b.x
		for _, c := range columns {
			w := b.w * c.width / total
			at, t := x, t
			if c.right {
				at, t.align = x+w-2, canvas.Right
			}
			l.text(at, y, t, l.fonts.fit(t, word(c), w-1))
			x += w
		}
	}
	cell(lettering{size: 6.5, grey: true}, func(c column) string { return c.head })
	l.line(b.x, y+1, b.x+b.w, y+1, pen{colour: black, width: 0.15})
	for i, one := range r.Strips[from:to] {
		y += rowHeight
		if i%2 == 1 {
			l.fill(rect{b.x, y - 2.8, b.w, rowHeight}.path(), "#F3F3F0")
		}
		cell(lettering{size: 7}, func(c column) string { return c.word(one) })
	}
	words := restWords(r, to)
	if from == 0 && to < len(r.Strips) {
		// Behind the page with detail maps, which there is where there are strips.
		words += " The list is continued on page 3."
	}
	l.paragraph(b.x, y+rowHeight+0.4, b.w, 2.6, lettering{size: 6.5, grey: true}, words)
}

// restWords sums what the table of strips does not list.
func restWords(r coverage.Result, rows int) string {
	var parts []string
	if rest := r.Strips[rows:]; len(rest) > 0 {
		area, widest := 0.0, 0.0
		for _, one := range rest {
			area, widest = area+one.Area, max(widest, one.MaxWidth)
		}
		parts = append(parts, fmt.Sprintf("%s, %.1f m² together, the widest %.2f m", count(len(rest), "more strip"), area, widest))
	}
	if r.Noise.Pieces > 0 {
		parts = append(parts, fmt.Sprintf("%s within receiver noise, %.1f m²", count(r.Noise.Pieces, "strip"), r.Noise.Area))
	}
	if r.Slivers > 0 {
		parts = append(parts, fmt.Sprintf("%s too narrow to list, %.1f m²", count(r.Slivers, "piece"), r.SliverArea))
	}
	if len(parts) == 0 {
		return "Nothing more was missed."
	}
	return "Not listed here: " + strings.Join(parts, "; ") + "."
}

// count is a number with its word, in the plural where it is one.
func count(n int, word string) string {
	if n != 1 {
		word += "s"
	}
	return fmt.Sprintf("%d %s", n, word)
}
