package pattern

import (
	"cmp"
	"maps"
	"slices"
)

// Kind is what strips have in common.
type Kind string

const (
	Late    Kind = "lowered late"         // rows begin short of the worked ground on one side of the field
	Early   Kind = "lifted early"         // they end short of it
	Short   Kind = "rows end short"       // both
	Shifted Kind = "line shifted"         // from one pass on all lie aside
	Fan     Kind = "passes turn"          // each turns against the one before it
	Slide   Kind = "passes slide aside"   // each slides to one side as it goes
	Aside   Kind = "bar aside"            // joins alternate wide and narrow with the direction of travel
	Apart   Kind = "lines too far apart"  // all joins are wider than planned
	Section Kind = "section never worked" // one end of the bar was never down
)

// Pattern is what many missed strips have in common, as one finding.
type Pattern struct {
	Kind   Kind    `json:"kind"`
	Area   float64 `json:"area"`   // m²
	Strips []int   `json:"strips"` // numbers, ascending
	// m² of it in each of these: the whole strip, or its part of a strip in which several things run together
	Ground []float64 `json:"ground"`
	Passes [2]int    `json:"passes"` // the lowest and the highest number of those it was seen on
	Seen   int       `json:"seen"`   // row ends, or joins, that show it ...
	Of     int       `json:"of"`     // ... of so many looked at
	// m: how late or early in the median, how far shifted, how far the bar hangs to the right (negative: left), how much wider than planned, how
	// wide the part of the bar; for Fan and Slide m per m of way.
	By    float64 `json:"by"`
	Least float64 `json:"least,omitempty"` // m, of those that show it ...
	Most  float64 `json:"most,omitempty"`
	Doubt float64 `json:"doubt,omitempty"` // 99 %, of By; 0 = not worked out
	// degrees from true north: the side of the field at which rows end, whither the line was shifted, whither passes slide, or towards
	// which end joins open
	Towards float64 `json:"towards"`
	End     string  `json:"end,omitempty"` // of the bar that never worked, in the direction of travel: LeftEnd or RightEnd; "" = neither alone
}

// The ends of a bar.
const (
	LeftEnd  = "left"
	RightEnd = "right"
)

// Evidence is what patterns are looked for in.
type Evidence struct {
	Planned  float64 // m, between passes
	Receiver float64 // m, standard deviation of what its slow error has neighbours differ by; 0 = not known
	Contacts []Contact
	Ends     []End
	Strips   []Strip
	Aside    *Pattern // the bar's offset, if the joins tell one: By and Doubt
	Section  *Pattern
}

// Strip is a missed strip.
type Strip struct {
	Number  int
	Area    float64 // m²
	Passes  []int   // beside it, ascending
	Between bool    // it lies where passes run beside each other
}

// least: less ground is no pattern. A visit to a strip costs more.
const least = 1.0 // m²

// Of are the patterns, that with most ground first. Ground of a strip belongs to one at most: that of row ends or joins that is surest of it.
func Of(e Evidence) []Pattern {
	var found []found
	found = append(found, e.ends()...) // first, as a section that never worked has the rest of the strips into which they open
	if e.Section != nil {
		found = append(found, foundOf(*e.Section, e.between(func(a, b int) bool { return true })))
	}
	found = append(found, e.joins()...)
	left := map[int]float64{} // m² that no pattern has yet
	for _, s := range e.Strips {
		left[s.Number] = s.Area
	}
	var out []Pattern
	for _, f := range found {
		p, before := f.Pattern, maps.Clone(left)
		for _, n := range slices.Sorted(maps.Keys(f.strips)) {
			if ground := min(f.strips[n], left[n]); ground > 0 {
				p.Strips, p.Ground, p.Area = append(p.Strips, n), append(p.Ground, ground), p.Area+ground
				left[n] -= ground
			}
		}
		if p.Area < least {
			left = before
			continue
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b Pattern) int { return cmp.Compare(b.Area, a.Area) })
	return out
}

// found is a pattern with the ground that it may have, m² by the number of a strip.
type found struct {
	Pattern
	strips map[int]float64
}

func foundOf(p Pattern, strips map[int]float64) found { return found{p, strips} }

// mostOf: of a strip of which a pattern explains so much, the rest is its rim; of another it has what it explains.
const mostOf = 0.5

// whole are grounds that count for whole strips where they are mostOf one.
func (e Evidence) whole(ground map[int]float64) map[int]float64 {
	for _, s := range e.Strips {
		if g, of := ground[s.Number]; of && g >= mostOf*s.Area {
			ground[s.Number] = s.Area
		}
	}
	return ground
}

// between are the strips between two passes beside each other that are of a pattern, whole.
func (e Evidence) between(of func(a, b int) bool) map[int]float64 {
	strips := map[int]float64{}
	for _, s := range e.Strips {
		if s.Between && s.beside(of) {
			strips[s.Number] = s.Area
		}
	}
	return strips
}

// beside says whether two of the passes beside a strip are of a pattern.
func (s Strip) beside(of func(a, b int) bool) bool {
	for i, a := range s.Passes {
		for _, b := range s.Passes[i+1:] {
			if of(a, b) {
				return true
			}
		}
	}
	return false
}
