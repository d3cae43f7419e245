package pattern

import (
	"math"
	"slices"

	"balk/coverage/chance"
)

// Contact is a stretch along which one pass has another beside it.
type Contact struct {
	Pass, Other int
	Right, Back bool    // Other lies to the right; it was driven the other way
	Along       float64 // m
	Apart       float64 // m, mean
	Opening     float64 // m per m of the way of Pass
	Heading     float64 // degrees from true north, of Pass, in the mean
}

const (
	// joinLong: neighbours beside each other for less tell little of how they lie.
	joinLong = 30.0 // m
	// fewRows: in a bed of fewer nothing is seen that goes on from row to row; before and behind a shift there are shiftRows.
	fewRows   = 6
	shiftRows = 3
	// endRows: so many rows at either end of a bed may be rounds of the headland, which lie as the field's edge does.
	endRows = 3
	// shiftOnceIn: of beds without a fault so many may show a shift by chance, were the spread known as well as by squares. As it is by a median, one in
	// 350 does at most (simulated, 6 to 80 rows).
	shiftOnceIn = 1e-3
	// sure is the same of one join, where dozens are looked at, in standard deviations known beforehand: one in 37,000 is off by more.
	sure = 4.2
	// steered: a line steered by guidance wanders by this from join to join (common practice, no source), however still the others lie.
	steered = 0.03 // m
	// tilted is the same of the direction of a pass: steered, over joinLong.
	tilted = 2e-4
	// shiftLeast, openLeast: a guidance's operator sees no less; a join that opens by less over 200 m stays within a planned overlap.
	shiftLeast = 0.10
	openLeast  = 2e-4
	// widerLeast: lines so much farther apart than planned are laid so.
	widerLeast = 0.05 // m
	// faced: a turn or a slide of rows of which joins open by less is none.
	faced   = 0.5
	fromMAD = 1.4826
)

// bed is rows beside each other, from left to right.
type bed struct {
	passes []int
	ahead  []float64 // of each pass: 1 or −1, driven as the first one or against it
	apart  []float64 // m, of each join: pass k and k+1
	open   []float64 // m per m of the first one's way
	along  []float64 // m, for how far they run beside each other
	facing []float64 // of each pass: radians to the right of way, whichever way it was driven
	way    float64   // degrees from true north, of the first one
}

// link is what one pass has beside it on one side.
type link struct {
	other                          int
	back                           bool
	along, apart, opening, heading float64
}

// beds puts contacts into rows. Of the neighbours on one side that counts which runs along longest, and two passes are neighbours when
// each is the other's.
func beds(contacts []Contact) (out []bed) {
	type side struct {
		pass, other int
		right, back bool
	}
	sums := map[side]link{}
	var order []side
	for _, c := range contacts {
		k := side{c.Pass, c.Other, c.Right, c.Back}
		l, known := sums[k]
		if !known {
			order = append(order, k)
			l = link{other: c.Other, back: c.Back, heading: c.Heading}
		}
		l.heading += aside(l.heading, c.Heading) * c.Along / (l.along + c.Along)
		l.along, l.apart, l.opening = l.along+c.Along, l.apart+c.Along*c.Apart, l.opening+c.Along*c.Opening
		sums[k] = l
	}
	links := map[int]*[2]link{} // left, right
	for _, k := range order {
		l := sums[k]
		l.apart, l.opening = l.apart/l.along, l.opening/l.along
		if l.along < joinLong || k.pass == k.other {
			continue
		}
		if links[k.pass] == nil {
			links[k.pass] = &[2]link{}
		}
		if best := &links[k.pass][of(k.right)]; l.along > best.along {
			*best = l
		}
	}
	facing := func(pass int, way, ahead float64) (right float64) { // by both sides
		along := 0.0
		for _, l := range links[pass] {
			right, along = right+l.along*aside(way+90*(1-ahead), l.heading), along+l.along
		}
		return right / along * math.Pi / 180
	}
	mutual := func(pass int, right bool) bool {
		l := links[pass][of(right)]
		o := links[l.other]
		return l.along > 0 && o != nil && o[of(right == l.back)].other == pass && o[of(right == l.back)].along > 0
	}
	var passes []int
	for p := range links {
		passes = append(passes, p)
	}
	slices.Sort(passes)
	seen := map[int]bool{}
	for _, p := range passes {
		if seen[p] {
			continue
		}
		first, right := p, false // to the left end
		for steps := 0; mutual(first, right) && steps < len(passes); steps++ {
			l := links[first][of(right)]
			first, right = l.other, right != l.back
		}
		b, ahead := bed{passes: []int{first}}, -1.0
		if right = !right; right {
			ahead = 1
		}
		seen[first], b.ahead = true, []float64{ahead}
		b.way = math.Mod(links[first][of(right)].heading+90*(1-ahead), 360)
		b.facing = []float64{facing(first, b.way, ahead)}
		for last := first; mutual(last, right); {
			l := links[last][of(right)]
			if seen[l.other] {
				break // rounds
			}
			back := links[l.other][of(right == l.back)]
			opening := ahead * l.opening * l.along
			if l.back {
				ahead = -ahead
			}
			opening += ahead * back.opening * back.along
			b.apart = append(b.apart, (l.apart*l.along+back.apart*back.along)/(l.along+back.along))
			b.open = append(b.open, opening/(l.along+back.along))
			b.along = append(b.along, (l.along+back.along)/2)
			last, right = l.other, right != l.back
			b.passes, b.ahead, b.facing = append(b.passes, last), append(b.ahead, ahead), append(b.facing, facing(last, b.way, ahead))
			seen[last] = true
		}
		if len(b.passes) >= fewRows {
			out = append(out, b)
		}
	}
	return out
}

// aside is by how many degrees b lies to the right of a, from −180 to 180.
func aside(a, b float64) float64 { return math.Mod(b-a+900, 360) - 180 }

func of(right bool) int {
	if right {
		return 1
	}
	return 0
}

// joins looks for what goes on from row to row.
func (e Evidence) joins() (out []found) {
	all := beds(e.Contacts)
	opened := map[[2]int]float64{} // m² that no pass of a join covers
	for _, b := range all {
		for k := range b.apart {
			opened[b.pair(k)] += uncovered(b.apart[k]-e.Planned, b.open[k], b.along[k])
		}
	}
	add := func(p Pattern, pairs [][2]int) {
		joins := map[[2]int]bool{} // each stands once among the pairs
		lowest, highest := math.MaxInt, 0
		for _, q := range pairs {
			joins[q] = true
			lowest, highest = min(lowest, q[0]), max(highest, q[1])
		}
		if p.Passes == [2]int{} && highest > 0 {
			p.Passes = [2]int{lowest, highest}
		}
		of := func(a, b int) bool { return joins[[2]int{a, b}] }
		strips := e.between(of)
		for _, s := range e.Strips { // of ground in which joins and other things run together, what the joins leave
			if !s.Between && s.beside(of) {
				for _, q := range pairs {
					if slices.Contains(s.Passes, q[0]) && slices.Contains(s.Passes, q[1]) {
						strips[s.Number] += opened[q]
					}
				}
			}
		}
		out = append(out, found{p, strips})
	}
	for _, b := range all {
		for _, j := range b.shifts(e.Receiver) {
			p, pairs := b.shift(j)
			add(p, pairs)
		}
	}
	for _, b := range all {
		for _, p := range b.turning() {
			add(p.Pattern, p.pairs)
		}
	}
	if e.Aside != nil {
		p, pairs := *e.Aside, [][2]int(nil)
		for _, b := range all {
			for k := range b.apart {
				if b.ahead[k] != b.ahead[k+1] {
					if p.Of++; (b.ahead[k] > 0) == (p.By > 0) {
						p.Seen++
						pairs = append(pairs, b.pair(k))
					}
				}
			}
		}
		add(p, pairs)
	}
	for _, w := range widers(all, e.Planned) {
		add(w.Pattern, w.pairs)
	}
	return out
}

// uncovered is the ground of a join that is wider than planned by so much in its middle and opens by so much per m: of the trapezoid, or the triangle.
func uncovered(wider, opening, along float64) float64 {
	half := math.Abs(opening) * along / 2
	switch {
	case wider >= half:
		return wider * along
	case wider <= -half:
		return 0
	}
	return (wider + half) * (wider + half) / (2 * math.Abs(opening))
}

// pair are the passes of a join, the lower number first.
func (b bed) pair(k int) [2]int {
	return [2]int{min(b.passes[k], b.passes[k+1]), max(b.passes[k], b.passes[k+1])}
}

// middle is the median of values and their deviation, by the median of what they are off by.
func middle(values []float64) (median, deviation float64) {
	v := slices.Sorted(slices.Values(values))
	median = v[len(v)/2]
	for i := range v {
		v[i] = math.Abs(v[i] - median)
	}
	slices.Sort(v)
	return median, fromMAD * v[len(v)/2]
}

// shifts are the joins at which the line seems to have been shifted: one wide join, none narrow beside it, as there is where one pass only lies aside, and all
// rows next to it beyond driven later than those before. Rounds of the headland, driven before or after all rows, end a bed. A join that the receiver's
// slow error makes wider by itself is none: neighbours differ by known, m, as a standard deviation, and some join has always been driven after a while
// in which that error changed more than between the others, so that what these spread by does not tell it.
func (b bed) shifts(known float64) (out []int) {
	over := b.over(b.apart)
	_, spread := middle(over)
	looks := 0
	for k := range over {
		if k+1 >= shiftRows && len(over)-k >= shiftRows {
			looks++
		}
	}
	for k, wide := range over {
		if k+1 < shiftRows || len(over)-k < shiftRows {
			continue
		}
		if wide < max(shiftLeast, sure*known) || over[k-1] < -wide/2 || over[k+1] < -wide/2 {
			continue
		}
		if chance.BeyondT(wide/max(steered, spread), float64(max(1, len(over)-3)))*float64(looks) > shiftOnceIn { // of three kinds the medians are taken off
			continue
		}
		if left, right := b.passes[k+1-shiftRows:k+1], b.passes[k+1:k+1+shiftRows]; slices.Max(left) < slices.Min(right) || slices.Max(right) < slices.Min(left) {
			out = append(out, k)
		}
	}
	return out
}

// over is how much more joins have of something than those of their kind: where right sides meet, or left sides, or a right and a left one. A bar
// that hangs aside makes kinds differ in width, rows that slide in opening.
func (b bed) over(of []float64) []float64 {
	kind := func(k int) float64 { return b.ahead[k] - b.ahead[k+1] }
	kinds := map[float64][]float64{}
	for k, v := range of {
		kinds[kind(k)] = append(kinds[kind(k)], v)
	}
	usual := map[float64]float64{}
	for k, v := range kinds {
		usual[k], _ = middle(v)
	}
	out := make([]float64, len(of))
	for k, v := range of {
		out[k] = v - usual[kind(k)]
	}
	return out
}

// shift is the pattern of the line shifted at a join.
func (b bed) shift(k int) (Pattern, [][2]int) {
	p := Pattern{Kind: Shifted, Seen: 1, Of: len(b.apart), By: b.over(b.apart)[k], Towards: math.Mod(b.way+90, 360)}
	later, beside := b.passes[k+1:], b.passes[k+1:k+1+shiftRows]
	if later[0] < b.passes[k] {
		later, beside, p.Towards = b.passes[:k+1], b.passes[k+1-shiftRows:k+1], math.Mod(b.way+270, 360)
	}
	p.Passes = [2]int{slices.Min(beside), slices.Max(later)}
	return p, [][2]int{b.pair(k)}
}

// sum is that of a, or of the products of a and b.
func sum(a, b []float64, product bool) (s float64) {
	for i := range a {
		if product {
			s += a[i] * b[i]
		} else {
			s += a[i]
		}
	}
	return s
}

// joined is a pattern with the joins that show it.
type joined struct {
	Pattern
	pairs [][2]int
}

// widers are the patterns of lines laid too far apart. Beds whose lines are alike to within widerLeast are one: a lifted part or a
// pond between them parts what one setting laid.
func widers(beds []bed, planned float64) (out []joined) {
	for _, b := range beds {
		p, pairs := b.wider(planned)
		if p.Seen == 0 {
			continue
		}
		k := slices.IndexFunc(out, func(o joined) bool { return math.Abs(o.By-p.By) < widerLeast })
		if k < 0 {
			out = append(out, joined{p, pairs})
			continue
		}
		o := &out[k]
		o.By = (o.By*float64(o.Of) + p.By*float64(p.Of)) / float64(o.Of+p.Of)
		o.Of, o.Seen, o.pairs = o.Of+p.Of, o.Seen+p.Seen, append(o.pairs, pairs...)
	}
	return out
}

// wider is the pattern of lines laid too far apart; Seen is 0 where they are not.
func (b bed) wider(planned float64) (p Pattern, pairs [][2]int) {
	v := slices.Sorted(slices.Values(b.apart))
	n := len(v)
	if by := v[n/2] - planned; by >= widerLeast && v[n/4]-planned >= widerLeast/2 {
		p = Pattern{Kind: Apart, Of: n, By: by}
		for k, apart := range b.apart {
			if apart-planned >= widerLeast/2 {
				p.Seen, pairs = p.Seen+1, append(pairs, b.pair(k))
			}
		}
	}
	return p, pairs
}
