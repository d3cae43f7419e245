package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/coverage"
)

// Row is one line of a balance as people read it.
type Row struct {
	Words string
	Ha    string // hectares, 4 digits
	Share string // per cent of the field, 2 digits
}

// Table is the balance of a field. Parts are rounded so that the digits shown
// add up to those of Field: each part is the true value rounded up or down,
// those with the largest remainder up.
type Table struct {
	Parts                []Row // worked once, twice, three times or more, missed, unknown
	Field                Row
	Outside, FullMissed  Row // beyond the field; part of missed
	Thin                 Row // touched at full width, missed at credited width
	HeadlandArea, Missed Row
	Lifted, Twice        Row // of the headland
}

// TableOf makes the table of r.
func TableOf(r coverage.Result) Table {
	b := r.Balance
	words := []string{"worked once", "worked twice", "three times or more", "missed", "unknown (log gap)"}
	m2 := []float64{b.Once, b.Twice, b.More, b.Missed, b.Unknown}
	squares := apportion(m2, b.Field, 1)
	shares := apportion(m2, b.Field, b.Field/1e4)
	var t Table
	for i, w := range words {
		t.Parts = append(t.Parts, Row{w, Hectares(float64(squares[i])), percent(float64(shares[i]) / 100)})
	}
	row := func(words string, m2 float64) Row { return Row{words, Hectares(m2), percent(100 * m2 / b.Field)} }
	t.Field = row("field", b.Field)
	t.Outside = row("worked outside", b.Outside)
	t.FullMissed = row("missed at full width", r.FullMissed)
	t.Thin = row("lap thinner than planned", max(0, b.Missed-r.FullMissed))
	t.HeadlandArea = row("headland", r.Headland.Area)
	t.Missed = row("missed in the headland", r.Headland.Missed)
	t.Lifted = row("of it driven over with the tool lifted", r.Headland.Lifted)
	t.Twice = row("worked twice or more in the headland", r.Headland.Twice)
	return t
}

// in is t with its words and numbers in a language.
func (t Table) in(l Language) Table {
	t.Parts = slices.Clone(t.Parts)
	rows := []*Row{&t.Field, &t.Outside, &t.FullMissed, &t.Thin, &t.HeadlandArea, &t.Missed, &t.Lifted, &t.Twice}
	for i := range t.Parts {
		rows = append(rows, &t.Parts[i])
	}
	for _, r := range rows {
		*r = Row{l.word(r.Words), l.digits(r.Ha), l.digits(r.Share)}
	}
	return t
}

// apportion rounds the parts of a whole to multiples of unit so that they add up
// to the rounded whole (largest remainder). A whole that differs from the sum of
// its parts by more than rounding is not hidden: only remainders are given out.
func apportion(parts []float64, whole, unit float64) []int64 {
	out := make([]int64, len(parts))
	order := make([]int, len(parts))
	rest := make([]float64, len(parts))
	left := int64(math.Round(whole / unit))
	for i, p := range parts {
		n := math.Floor(p / unit)
		out[i], rest[i], order[i] = int64(n), p/unit-n, i
		left -= out[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rest[b], rest[a]) })
	for _, i := range order {
		if left <= 0 || rest[i] == 0 {
			break
		}
		out[i]++
		left--
	}
	return out
}

// Hectares is an area in m² as hectares, to the square metre.
func Hectares(m2 float64) string { return fmt.Sprintf("%.4f", m2/1e4) }

func percent(p float64) string { return fmt.Sprintf("%.2f", p) }
