package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"balk/coverage"
	"balk/coverage/ground"
	"balk/export/figures"
	"balk/export/words"
)

// Row is one line of a balance as people read it.
type Row struct {
	Words string
	Ha    string // hectares, 4 digits
	M2    string // square metres, as paper shows it
	Share string // per cent of the field, 2 digits
}

// Table is the balance of a field; the digits of its parts add up to those of Field, see figures.Balance.
type Table struct {
	Title                Row   // heads of the columns
	Parts                []Row // worked once, twice, three times or more, missed, unknown
	Again                Row   // worked twice or more, in one
	Field                Row
	Outside, FullMissed  Row // beyond the field; part of missed
	Thin                 Row // touched at full width, missed at credited width
	HeadlandArea, Missed Row
	Lifted, Twice        Row // of the headland
	Ribbons              Row // of ground worked once; without words: none are known
	OtherBar             Row // of ground worked; without words: the set is one bar
}

// Under are the lines that stand under ground worked once: what sweeps and other bars left of it, where that is known.
func (t Table) Under() (all []Row) {
	for _, of := range []Row{t.Ribbons, t.OtherBar} {
		if of.Words != "" {
			all = append(all, of)
		}
	}
	return all
}

// missedPart is the place of missed ground among the parts.
const missedPart = 3

// Short are the parts in fewer lines: ground worked twice and more in one, and nothing that did not happen.
func (t Table) Short() []Row {
	if len(t.Parts) == 0 {
		return nil
	}
	rows := slices.Concat(t.Parts[:1], []Row{t.Again}, t.Parts[missedPart:])
	return slices.DeleteFunc(rows, func(r Row) bool { return strings.Trim(r.Share, "~0.,") == "" })
}

// TableOf makes the table of r. Where the log cannot tell how much was missed that is a range, whose upper end adds up.
func TableOf(r coverage.Result) Table {
	b := r.Balance
	parts := figures.Of(b)
	t := Table{Title: Row{"Balance at credited width", "ha", "m²", "% of field"}}
	for _, p := range []struct {
		words string
		figures.Part
	}{{"worked once", parts.Once}, {"worked twice", parts.Twice}, {"three times or more", parts.More}, {"missed", parts.Missed}, {"unknown (log gap)", parts.Unknown}} {
		t.Parts = append(t.Parts, Row{p.words, p.Ha(), figures.SquareMetres(p.M2), p.Percent()})
	}
	again := parts.Twice.Plus(parts.More)
	t.Again = Row{"worked twice or more", again.Ha(), figures.SquareMetres(again.M2), again.Percent()}
	row := func(words string, m2 float64) Row {
		return Row{words, Hectares(m2), figures.SquareMetres(int64(math.Round(m2))), figures.Percent(m2, b.Field)}
	}
	t.Field = row("field", b.Field)
	t.Outside = row("worked outside", b.Outside)
	t.FullMissed = row("missed at full width", r.FullMissed)
	t.Thin = row("lap thinner than planned", max(0, b.Missed-r.FullMissed))
	if r.Ribbons != nil {
		t.Ribbons = row("  of it uncut between sweeps", r.Ribbons.Area)
	}
	if r.Bars != nil {
		t.OtherBar = row("  of it missed by another bar", ground.AreaOf(r.Bars.Others))
	}
	t.open(r.Telling, b)
	t.HeadlandArea = row("headland", r.Headland.Area)
	t.Missed = row("missed in the headland", r.Headland.Missed)
	t.Lifted = row("of it driven over with the tool lifted", r.Headland.Lifted)
	t.Twice = row("worked twice or more in the headland", r.Headland.Twice)
	return t
}

// open puts a range for what was missed where the log cannot tell it, and rounds the others: to a tenth of a hectare where it tells no strips at all.
func (t *Table) open(can coverage.Telling, b ground.Balance) {
	if !can.Open() {
		return
	}
	ha, percent, to := "%.2f", "%.1f", 10.0
	if can.Strips == coverage.GraspNone {
		ha, percent, to = "%.1f", "%.0f", 1000
	}
	whole := func(m2 float64) string { return figures.SquareMetres(int64(to * math.Round(m2/to))) }
	about := func(r *Row, m2 float64) {
		r.Ha, r.M2, r.Share = fmt.Sprintf("~"+ha, m2/1e4), "~"+whole(m2), fmt.Sprintf("~"+percent, 100*m2/b.Field)
	}
	for k, m2 := range []float64{b.Once, b.Twice, b.More, b.Missed, b.Unknown} {
		about(&t.Parts[k], m2)
	}
	about(&t.Again, b.Twice+b.More)
	about(&t.Outside, b.Outside)
	for _, r := range []*Row{&t.FullMissed, &t.Thin} {
		r.Ha, r.M2, r.Share = "–", "–", "–"
	}
	least, most := can.Missed[0], can.Missed[1]
	missed := &t.Parts[missedPart]
	missed.Ha, missed.Share = apart(ha, least/1e4, most/1e4), apart(percent, 100*least/b.Field, 100*most/b.Field)
	missed.M2 = whole(least) + "–" + whole(most)
}

// apart is a range whose ends read differently where they differ, by up to two digits more than the form has.
func apart(form string, least, most float64) string {
	for more := range 3 {
		finer := fmt.Sprintf("%%.%cf", form[2]+byte(more))
		if from, to := fmt.Sprintf(finer, least), fmt.Sprintf(finer, most); from != to {
			return from + "–" + to
		}
	}
	return "~" + fmt.Sprintf(form, most)
}

// In is t with its words and numbers in a language.
func (t Table) In(l words.Language) Table {
	t.Parts = slices.Clone(t.Parts)
	rows := []*Row{&t.Title, &t.Again, &t.Field, &t.Outside, &t.FullMissed, &t.Thin, &t.HeadlandArea, &t.Missed, &t.Lifted, &t.Twice, &t.Ribbons, &t.OtherBar}
	for i := range t.Parts {
		rows = append(rows, &t.Parts[i])
	}
	for _, r := range rows {
		*r = Row{l.Word(r.Words), l.Digits(r.Ha), r.M2, l.Digits(l.Word(r.Share))}
	}
	return t
}

// Hectares is an area in m² as hectares, to the square metre.
func Hectares(m2 float64) string { return figures.Hectares(m2) }

// Area is an area as paper shows it: in m² below a hectare, else in hectares to 0.01.
func Area(m2 float64) string {
	if m2 >= 9999.5 {
		return fmt.Sprintf("%.2f ha", m2/1e4)
	}
	return fmt.Sprintf("%.0f m²", max(0, m2))
}
