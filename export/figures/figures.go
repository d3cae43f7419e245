package figures

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/coverage/ground"
)

// Hectares is an area in m² as hectares, to the square metre.
func Hectares(m2 float64) string { return Part{M2: int64(math.Round(m2))}.Ha() }

// SquareMetres are grouped by thousands, as ISO 80000-1 has it.
func SquareMetres(m2 int64) string {
	text := fmt.Sprint(m2)
	if m2 >= 10000 {
		for at := len(text) - 3; at > 0; at -= 3 {
			text = text[:at] + " " + text[at:]
		}
	}
	return text
}

// Percent is an area as a share of a field, in hundredths of a per cent.
func Percent(m2, field float64) string { return percent(100 * m2 / field) }

func percent(p float64) string { return fmt.Sprintf("%.2f", p) }

// Part is a part of a field, rounded.
type Part struct {
	M2    int64
	Share int64 // of the field, in hundredths of a per cent
}

// Ha is the part in hectares.
func (p Part) Ha() string { return fmt.Sprintf("%.4f", float64(p.M2)/1e4) }

// Percent is the part in per cent of the field.
func (p Part) Percent() string { return percent(float64(p.Share) / 100) }

// Plus is both parts together.
func (p Part) Plus(q Part) Part { return Part{p.M2 + q.M2, p.Share + q.Share} }

// Balance is the balance of a field, rounded so that its parts add up to the field as Hectares writes it: each is the
// true value rounded up or down, those with the largest remainder up.
type Balance struct{ Once, Twice, More, Missed, Unknown Part }

// Of rounds a balance.
func Of(b ground.Balance) Balance {
	var r Balance
	to := []*Part{&r.Once, &r.Twice, &r.More, &r.Missed, &r.Unknown}
	m2 := []float64{b.Once, b.Twice, b.More, b.Missed, b.Unknown}
	squares, shares := apportion(m2, b.Field, 1), apportion(m2, b.Field, b.Field/1e4)
	for i, p := range to {
		*p = Part{squares[i], shares[i]}
	}
	return r
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
