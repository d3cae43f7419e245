package sheet

import (
	"fmt"
	"math"
	"slices"

	"balk/coverage"
	"balk/geo"

	"github.com/paulmach/orb"
)

// scaleBar draws a bar of a round length (1, 2 or 5 times a power of ten) not
// longer than a fifth of the map.
func (d *drawing) scaleBar() {
	m := roundLength(float64(mapWidth) / 5 / d.scale)
	px := m * d.scale
	x, y := float64(mapLeft)+14, d.top+d.height-16
	fmt.Fprintf(d, `<path d="M%.1f %.1fv6h%.1fv-6" fill="none" stroke="#222222" stroke-width="1.4"/>`+"\n", x, y-6, px)
	fmt.Fprintf(d, `<rect x="%.1f" y="%.1f" width="%.1f" height="4" fill="#222222"/>`+"\n", x, y-4, px/2)
	d.text(x, y-11, 11, "", "0")
	d.text(x+px, y-11, 11, `text-anchor="middle"`, fmt.Sprintf("%g m", m))
}

// roundLength is the largest of 1, 2, 5 × 10^n not above m.
func roundLength(m float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(m)))
	for _, k := range []float64{5, 2} {
		if k*p <= m {
			return k * p
		}
	}
	return p
}

// northArrow points to grid north, which is true north at the field's centre.
func (d *drawing) northArrow() {
	x, y := float64(mapLeft+mapWidth)-24, d.top+d.height-14
	fmt.Fprintf(d, `<path d="M%.1f %.1fl-6 24l6 -5z" fill="#222222"/><path d="M%.1f %.1fl6 24l-6 -5z" fill="#FFFFFF" stroke="#222222" stroke-width="0.8"/>`+"\n", x, y-26, x, y-26)
	d.text(x-20, y-4, 13, `font-weight="bold"`, "N")
}

// tightTurn is a ring with a cross: a turn tighter than the set may turn.
func (d *drawing) tightTurn(at orb.Point) {
	fmt.Fprintf(d, `<path d="M%.1f %.1fm-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0m1.5 -3.5l7 7m0 -7l-7 7" fill="#FFFFFF" fill-opacity="0.7" stroke="#222222" stroke-width="1.3"/>`+"\n", at[0], at[1])
}

// tightTurns marks the turns that were too tight for the set.
func (d *drawing) tightTurns(r coverage.Result) {
	for _, t := range r.Turns {
		if t.Tight {
			d.tightTurn(d.pixel(r.Local.XY(t.At)))
		}
	}
}

// labels puts the numbers of the largest strips beside the field, on the nearer
// side, with a line to the strip. In each gutter they keep the order of the
// strips from top to bottom, so lines of one side hardly cross.
func (d *drawing) labels(l geo.Local, strips []coverage.Strip) {
	const apart = 17.0
	type label struct {
		number int
		text   string
		at     orb.Point
		y      float64
	}
	var sides [2][]label
	for _, s := range strips[:min(labelled, len(strips))] {
		at := d.pixel(l.XY(s.At))
		side := 0
		if at[0] > d.fieldCentre {
			side = 1
		}
		sides[side] = append(sides[side], label{s.Number, numberOf(s), at, at[1]})
	}
	lo, hi := d.top+14, d.top+d.height-footGutter
	for side, list := range sides {
		slices.SortFunc(list, func(a, b label) int {
			if a.y != b.y {
				return int(math.Copysign(1, a.y-b.y))
			}
			return a.number - b.number
		})
		for i := range list {
			list[i].y = max(list[i].y, lo+apart*float64(i))
			if i > 0 {
				list[i].y = max(list[i].y, list[i-1].y+apart)
			}
		}
		for i := len(list) - 1; i >= 0; i-- {
			list[i].y = min(list[i].y, hi-apart*float64(len(list)-1-i))
			if i+1 < len(list) {
				list[i].y = min(list[i].y, list[i+1].y-apart)
			}
		}
		x := float64(mapLeft) + labelGutter/2
		edge := x + 10
		if side == 1 {
			x = float64(mapLeft+mapWidth) - labelGutter/2
			edge = x - 10
		}
		for _, l := range list {
			fmt.Fprintf(d, `<path d="M%.1f %.1fL%.1f %.1f" stroke="#FFFFFF" stroke-width="2.2" opacity="0.7"/><path d="M%.1f %.1fL%.1f %.1f" stroke="#5A0F3A" stroke-width="0.8"/>`+"\n",
				edge, l.y, l.at[0], l.at[1], edge, l.y, l.at[0], l.at[1])
			fmt.Fprintf(d, `<circle cx="%.1f" cy="%.1f" r="2.2" fill="#FFFFFF" stroke="#5A0F3A" stroke-width="0.9"/>`+"\n", l.at[0], l.at[1])
			fmt.Fprintf(d, `<rect x="%.1f" y="%.1f" width="22" height="15" rx="3" fill="#FFFFFF" stroke="#C2247F"/>`+"\n", x-11, l.y-7.5)
			d.text(x, l.y+4, 10.5, `text-anchor="middle" font-weight="bold" fill="#5A0F3A"`, l.text)
		}
	}
}
