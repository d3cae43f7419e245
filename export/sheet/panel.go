package sheet

import (
	"fmt"
	"strings"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"

	"github.com/paulmach/orb"
)

// caution is the short form for a map that tells where to work again.
const caution = "Before anyone drives there again: watch overhead lines when folding, slopes and rollover, wet ground and drains, " +
	"axle and drawbar loads, people nearby and buried services. A receiver map is no legal survey. Local rules, " +
	"the machine's manual and licensed practice come first."

func heading(r coverage.Result, l Language) string {
	return l.say("%s: what was worked and what was missed", fieldName(r, l))
}

// panel draws the heading, the legend with the balance, the strips and the
// caution; it returns how far down it came, in pixels.
func (d *drawing) panel(r coverage.Result) float64 {
	d.text(margin, 40, 21, `font-weight="bold"`, shorten(heading(r, English), 88))
	sub := fmt.Sprintf("working width %s, planned overlap %.2f m, so credited width %.2f m", Width(r.Bar), r.Work.Overlap, r.Work.Width-r.Work.Overlap)
	if from, to, ok := span(r.Passes); ok {
		sub += "; worked " + from + " to " + to + " UTC"
	}
	d.text(margin, 63, 12.5, `fill="#333333"`, sub)

	y := d.balance(r, mapTop+12)
	y = d.headland(r, y+10)
	y = d.strips(r, y+18)
	for _, line := range wrap(caution, 58) {
		y += 14
		d.text(panelLeft, y, 10.5, `fill="#333333"`, line)
	}
	return y
}

func span(passes []drive.Pass) (from, to string, ok bool) {
	if len(passes) == 0 {
		return "", "", false
	}
	a, b := passes[0].From, passes[len(passes)-1].To
	if a.IsZero() || b.IsZero() {
		return "", "", false
	}
	if !geo.Dated(a) {
		return a.Format("15:04"), b.Format("15:04") + ", no date logged,", true
	}
	layout := "2006-01-02 15:04"
	from, to = a.UTC().Format(layout), b.UTC().Format(layout)
	if from[:10] == to[:10] {
		to = to[11:]
	}
	return from, to, true
}

// balance draws the legend with hectares and shares; the rows add up to the
// total.
func (d *drawing) balance(r coverage.Result, y float64) float64 {
	const haX, shareX = panelLeft + 258, panelLeft + panelWidth
	d.text(panelLeft, y, 13, `font-weight="bold"`, "Balance at credited width")
	d.text(haX, y, 11, `text-anchor="end" fill="#333333"`, "ha")
	d.text(shareX, y, 11, `text-anchor="end" fill="#333333"`, "% of field")
	row := func(mark string, r Row, weight string) {
		y += 21
		if mark != "" {
			fmt.Fprintf(d, `<rect x="%d" y="%.1f" width="26" height="14" %s/>`+"\n", panelLeft, y-11, mark)
		}
		d.text(panelLeft+36, y, 12, weight, r.Words)
		d.text(haX, y, 12, `text-anchor="end" `+weight, r.Ha)
		d.text(shareX, y, 12, `text-anchor="end" `+weight, r.Share)
	}
	t := TableOf(r)
	for i, mark := range []string{`fill="#E3CF9B" stroke="#8A7A4A"`, `fill="url(#twice)" stroke="#33475C"`, `fill="url(#more)" stroke="#27364A"`,
		`fill="#C2247F" stroke="#5A0F3A"`, `fill="url(#unknown)" stroke="#6F6F6F"`} {
		row(mark, t.Parts[i], "")
	}
	fmt.Fprintf(d, `<path d="M%d %.1fH%d" stroke="#222222"/>`+"\n", panelLeft+36, y+6, panelLeft+panelWidth)
	row("", t.Field, `font-weight="bold"`)
	row(`fill="url(#outside)" stroke="#B96B0C"`, t.Outside, "")
	row("", t.FullMissed, "")
	y += 21
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#222222" stroke-width="1.6"/>`+"\n", panelLeft, y-4)
	d.text(panelLeft+36, y, 12, "", "boundary")
	fmt.Fprintf(d, `<rect x="%d" y="%.1f" width="26" height="14" fill="url(#obstacle)" stroke="#222222" stroke-width="1.4"/>`+"\n", panelLeft+140, y-11)
	d.text(panelLeft+174, y, 12, "", "obstacle")
	y += 19
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#333333" stroke-width="1.1" stroke-dasharray="7 4"/>`+"\n", panelLeft, y-4)
	d.text(panelLeft+36, y, 12, "", "headland")
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#A08A4E" stroke-width="0.8"/>`+"\n", panelLeft+140, y-4)
	d.text(panelLeft+174, y, 12, "", "pass (bar centre)")
	if t := drive.TurningOf(r.Turns); t.Tight > 0 {
		y += 19
		d.tightTurn(orb.Point{panelLeft + 13, y - 4})
		d.text(panelLeft+36, y, 12, "", fmt.Sprintf("%d turns tighter than the set may turn", t.Tight))
	}
	y += 17
	d.text(panelLeft, y, 10, `fill="#555555"`, fmt.Sprintf("Strips of %.2f m and more are drawn at least 1.3 pixels wide,", stressed))
	y += 13
	d.text(panelLeft, y, 10, `fill="#555555"`, fmt.Sprintf("pieces narrower than %.0f mm not at all; the numbers hold all of them.", 1000*faint/d.scale))
	return y
}

func (d *drawing) headland(r coverage.Result, y float64) float64 {
	h := r.Headland
	if h.Depth == 0 {
		return y
	}
	y += 14
	d.text(panelLeft, y, 13, `font-weight="bold"`, fmt.Sprintf("Headland, %.2f m deep, %s ha", h.Depth, Hectares(h.Area)))
	for _, row := range []struct {
		words string
		m2    float64
	}{{"missed in the headland", h.Missed}, {"of it driven over with the tool lifted", h.Lifted}, {"worked twice or more", h.Twice}} {
		y += 18
		d.text(panelLeft+8, y, 12, "", row.words)
		d.text(panelLeft+panelWidth, y, 12, `text-anchor="end"`, fmt.Sprintf("%.2f %%", 100*row.m2/r.Balance.Field))
		d.text(panelLeft+panelWidth-62, y, 12, `text-anchor="end"`, fmt.Sprintf("%.0f m²", row.m2))
	}
	return y
}

func (d *drawing) strips(r coverage.Result, y float64) float64 {
	y += 8
	n := min(labelled, len(r.Strips))
	title := "No missed strips"
	if len(r.Strips) > 0 {
		title = fmt.Sprintf("Missed strips, %d largest of %d", n, len(r.Strips))
	}
	d.text(panelLeft, y, 13, `font-weight="bold"`, title)
	if n > 0 {
		y += 17
		for _, c := range []struct {
			x    float64
			name string
		}{{18, "no."}, {70, "m²"}, {122, "length"}, {196, "mean width"}} {
			d.text(panelLeft+c.x, y, 10, `text-anchor="end" fill="#333333"`, c.name)
		}
		d.text(panelLeft+208, y, 10, `fill="#333333"`, "likely cause")
	}
	for _, s := range r.Strips[:n] {
		y += 16
		d.text(panelLeft+18, y, 11, `text-anchor="end" font-weight="bold" fill="#5A0F3A"`, numberOf(s))
		d.text(panelLeft+70, y, 11, `text-anchor="end"`, fmt.Sprintf("%.1f", s.Area))
		d.text(panelLeft+122, y, 11, `text-anchor="end"`, fmt.Sprintf("%.0f m", s.Length))
		d.text(panelLeft+196, y, 11, `text-anchor="end"`, fmt.Sprintf("%.2f m", s.MeanWidth))
		d.text(panelLeft+208, y, 10.5, "", causeWords(s.Cause))
	}
	if r.Slivers > 0 {
		y += 17
		d.text(panelLeft, y, 10.5, `fill="#333333"`, fmt.Sprintf("and %d pieces too narrow to list, %.1f m² together", r.Slivers, r.SliverArea))
	}
	for _, line := range sureties(r, English) {
		y += 14
		d.text(panelLeft, y, 10.5, `fill="#333333"`, line)
	}
	return y + 6
}

// numberOf is a strip's number, with a question mark where it is not certain.
func numberOf(s coverage.Strip) string {
	if s.Surety == coverage.SuretyLikely || s.Surety == coverage.SuretyPossible {
		return fmt.Sprintf("%d?", s.Number)
	}
	return fmt.Sprint(s.Number)
}

// sureties says what the receiver's error leaves open.
func sureties(r coverage.Result, l Language) []string {
	n := r.Noise
	if n.PassErrorFrom == "" {
		return []string{l.word("How sure a strip is, is not known: no receiver error given.")}
	}
	var lines []string
	if n.Pieces > 0 {
		lines = append(lines, l.say("and %d strips only possible, %.1f m² together", n.Pieces, n.Area))
	}
	return append(lines, l.say("Pass-to-pass error %.3f m (95 %%): missed %s to %s ha.", n.PassError, l.digits(Hectares(n.MissedLeast)), l.digits(Hectares(n.MissedMost))),
		l.word("Numbers with ? are not certain."))
}

// causeWords keeps a cause within its column.
func causeWords(c coverage.Cause) string {
	if c == coverage.CauseLift {
		return "lifted early / lowered late"
	}
	return string(c)
}

// shorten cuts s to n letters and shows that it did.
func shorten(s string, n int) string {
	letters := []rune(s)
	if len(letters) <= n {
		return s
	}
	return string(letters[:n-1]) + "…"
}

// wrap breaks s into lines of at most n bytes where there are blanks.
func wrap(s string, n int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && len(line)+1+len(word) > n {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
