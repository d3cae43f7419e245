package sheet

import (
	"fmt"
	"slices"
	"strings"

	"balk/coverage"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"
)

const (
	rowHeight  = 3.75 // mm
	tableHead  = 9.0
	tableNotes = 4.0
	// listedShare: more strips are in strips.csv; on paper nobody reads them.
	listedShare = 0.9
)

// tableHeight is what a table of so many strips takes.
func tableHeight(rows int) float64 {
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
	word  func(*checkSetting, coverage.Strip) string
}

var columns = []column{
	{"no.", 5, true, func(_ *checkSetting, s coverage.Strip) string { return numberOf(s) }},
	{"m²", 8, true, func(l *checkSetting, s coverage.Strip) string { return l.Digits(fmt.Sprintf("%.1f", s.Area)) }},
	{"length", 8.5, true, func(_ *checkSetting, s coverage.Strip) string { return fmt.Sprintf("%.0f m", s.Length) }},
	{"mean width", 10, true, func(l *checkSetting, s coverage.Strip) string { return l.Digits(fmt.Sprintf("%.2f m", s.MeanWidth)) }},
	{"widest", 9, true, func(l *checkSetting, s coverage.Strip) string { return l.Digits(fmt.Sprintf("%.2f m", s.MaxWidth)) }},
	{"how sure", 9, false, func(l *checkSetting, s coverage.Strip) string { return suretyWords(l.Language, s.Surety) }},
	{"likely cause", 27, false, func(l *checkSetting, s coverage.Strip) string { return l.Word(string(s.Cause)) }},
	{"place (lat, lon)", 24, false, func(l *checkSetting, s coverage.Strip) string { return answer.Place(l.result, l.Language, s) }},
	{"beside passes", 17, false, func(l *checkSetting, s coverage.Strip) string { return passWords(l.Language, s.Passes) }},
}

func suretyWords(l words.Language, s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return l.Word("not known")
	}
	return l.Word(string(s))
}

// suretyPart is how sure a strip is, and in which part.
func suretyPart(l words.Language, s coverage.Strip) string {
	words := suretyWords(l, s.Surety)
	if s.Surety == coverage.SuretyUnknown {
		return words
	}
	return l.Say("%s (%.1f m² certain)", words, s.Certain)
}

// numberOf is a strip's number, with a question mark where it is not certain.
func numberOf(s coverage.Strip) string {
	if s.Surety == coverage.SuretyLikely || s.Surety == coverage.SuretyPossible {
		return fmt.Sprintf("%d?", s.Number)
	}
	return fmt.Sprint(s.Number)
}

// passWords lists the neighbours of a strip.
func passWords(l words.Language, passes []int) string {
	const most = 4
	var words []string
	for _, p := range passes[:min(most, len(passes))] {
		words = append(words, fmt.Sprint(p))
	}
	if more := len(passes) - most; more > 0 {
		words = append(words, l.Say("%d more", more))
	}
	return strings.Join(words, ", ")
}

// listPage goes on with the table of strips where the first page ends: as many as
// the page holds.
func (s *checkSetting) listPage() *leaf {
	l := s.newLeaf()
	top := s.pageHead(l, s.Word("More missed strips"))
	b := s.inner()
	b.Y, b.H = top, b.Y+b.H-top
	s.stripTable(l, b, columns, s.rows, min(s.enough(), s.rows+int((b.H-tableHead-tableNotes)/rowHeight)))
	return l
}

// enough is how many strips hold listedShare of the ground of all.
func (s *checkSetting) enough() (n int) {
	sum, all := 0.0, 0.0
	for _, one := range s.result.Strips {
		all += one.Area
	}
	for n < len(s.result.Strips) && sum < listedShare*all {
		sum += s.result.Strips[n].Area
		n++
	}
	return n
}

// shortColumns are those for a narrow table.
var shortColumns = slices.DeleteFunc(slices.Clone(columns), func(c column) bool {
	return !slices.Contains([]string{"no.", "m²", "length", "mean width", "likely cause"}, c.head)
})

// stripTable lists strips by size, from one index up to another, and sums the
// smaller ones.
func (s *checkSetting) stripTable(l *leaf, b paper.Box, columns []column, from, to int) {
	r := s.result
	y := b.Y + 3.2
	if r.Telling.Strips == coverage.GraspNone {
		l.section(b.X, y, s.Word("No strips are listed: the log cannot tell them"))
		return
	}
	if len(r.Strips) == 0 {
		l.section(b.X, y, s.Word("No missed strips"))
		l.Text(b.X, y+4.5, paper.Lettering{Size: 7.5}, restWords(s.Language, r, 0))
		return
	}
	title := s.Say("Missed strips, all %d", len(r.Strips))
	switch {
	case len(r.Strips) == 1:
		title = s.Word("The missed strip")
	case from > 0:
		title = s.Say("Missed strips, numbers %d to %d of %d by area", from+1, to, len(r.Strips))
	case to < len(r.Strips):
		title = s.Say("Missed strips, the %d largest of %d", to, len(r.Strips))
	}
	l.section(b.X, y, title)
	y += 4.3
	total := 0.0
	for _, c := range columns {
		total += c.width
	}
	row := func(kind paper.Part, t paper.Lettering, word func(column) string) {
		l.As(paper.Row, "", func() {
			x := b.X
			for _, c := range columns {
				w := b.W * c.width / total
				at, t := x, t
				if c.right {
					at, t.Align = x+w-2, paper.Right
				}
				l.As(kind, "", func() { l.Text(at, y, t, l.Fonts.Fit(t, word(c), w-1)) })
				x += w
			}
		})
	}
	row(paper.HeadCell, paper.Lettering{Size: 6.5, Grey: true}, func(c column) string { return s.Word(c.head) })
	l.Line(b.X, y+1, b.X+b.W, y+1, paper.Pen{Colour: paper.Black, Width: 0.15})
	for i, one := range r.Strips[from:to] {
		y += rowHeight
		if i%2 == 1 {
			l.Fill(paper.Rect(b.X, y-2.8, b.W, rowHeight).Path(), "#F3F3F0")
		}
		row(paper.Cell, paper.Lettering{Size: 7}, func(c column) string { return c.word(s, one) })
	}
	words := restWords(s.Language, r, to)
	switch {
	case to == len(r.Strips) || s.details == 0:
	case to < s.enough() && from == 0:
		// Behind the page with detail maps, which there is where there are strips.
		words += s.Word(" The list is continued on page 3.")
	default:
		words += s.Word(" strips.csv holds all strips.")
	}
	l.Paragraph(b.X, y+rowHeight+0.4, b.W, 2.6, paper.Lettering{Size: 6.5, Grey: true}, words)
}

// restWords sums what the table of strips does not list.
func restWords(l words.Language, r coverage.Result, rows int) string {
	var parts []string
	if rest := r.Strips[rows:]; len(rest) > 0 {
		area, widest := 0.0, 0.0
		for _, one := range rest {
			area, widest = area+one.Area, max(widest, one.MaxWidth)
		}
		parts = append(parts, l.Say("%s, %.1f m² together, the widest %.2f m", l.Count(len(rest), "more strip"), area, widest))
	}
	if r.Noise.Pieces > 0 {
		parts = append(parts, l.Say("%s only possible, %.1f m²", l.Count(r.Noise.Pieces, "strip"), r.Noise.Area))
	}
	if r.Slivers > 0 {
		parts = append(parts, l.Say("%s too narrow to list, %.1f m²", l.Count(r.Slivers, "piece"), r.SliverArea))
	}
	if len(parts) == 0 {
		return l.Word("Nothing more was missed.")
	}
	return l.Say("Not listed here: %s.", strings.Join(parts, "; "))
}
