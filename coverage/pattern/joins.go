package pattern

import (
	"cmp"
	"math"
	"slices"
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
	// sure: so many standard deviations, where these are well known (see certainAt): one in 37,000 is off by more, and dozens are looked at on a field.
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
	// faced: a turn or a slide that the directions of the rows themselves show by less is none.
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

// certainAt is how many standard deviations are sure where these are worked out with few degrees of freedom: the first term of the expansion
// of Student's quantile about that of the normal distribution (Abramowitz and Stegun 26.7.5).
func certainAt(free int) float64 { return sure * (1 + (sure*sure+1)/(4*float64(max(free, 1)))) }

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
	enough := max(shiftLeast, certainAt(len(over)-3)*max(steered, spread), sure*known) // of three kinds the medians are taken off
	for k, wide := range over {
		if k+1 < shiftRows || len(over)-k < shiftRows {
			continue
		}
		if wide < enough || over[k-1] < -wide/2 || over[k+1] < -wide/2 {
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

// turning is what the directions of rows have in common, all of them or all but those at the ends, or else some beside each other.
//
// Row k lies at an angle θ_k to the first: openings add up to it. The model is
//
//	θ_k = a + fan·k + slide·ahead_k + noise
//
// by least squares. Part of the noise is of the rows; part may be of the joins, where a receiver wanders and neighbours run beside each other
// now here, now there (see ofJoins), and that adds up from row to row; so the rows must face where the joins say, by faced of it at least. What turns all rows alike, whatever way they were driven, opens no join and is not to be seen.
func (b bed) turning() (out []turned) {
	_, spread := middle(b.over(b.open)) // of differences of two rows
	noise := max(tilted, spread/math.Sqrt2)
	n := len(b.passes)
	out = b.fit(0, n, noise)
	if n-2*endRows >= fewRows {
		out = append(out, b.fit(endRows, n-endRows, noise)...)
	}
	for rows := n / 2; rows >= fewRows && len(out) == 0; rows /= 2 {
		for from := 0; from+rows <= n; from += max(1, rows/2) {
			out = append(out, b.fit(from, from+rows, noise)...)
		}
	}
	slices.SortStableFunc(out, func(a, b turned) int { return cmp.Compare(b.sure, a.sure) })
	var kept []turned
	for _, one := range out { // of parts that lap the surest
		if !slices.ContainsFunc(kept, func(o turned) bool { return o.Kind == one.Kind && o.from < one.to && one.from < o.to }) {
			kept = append(kept, one)
		}
	}
	return kept
}

// turned is a pattern of the rows from one up to another.
type turned struct {
	Pattern
	from, to int
	sure     float64 // in standard deviations
	pairs    [][2]int
}

// fit looks at the rows from one up to another; the noise of all rows is that of each at least.
func (b bed) fit(from, to int, least float64) (out []turned) {
	n := to - from
	angle, row, ahead := make([]float64, n), make([]float64, n), slices.Clone(b.ahead[from:to])
	for i := 1; i < n; i++ {
		angle[i], row[i] = angle[i-1]+b.open[from+i-1], float64(i)
	}
	for _, v := range [3][]float64{angle, row, ahead} {
		mean := sum(v, v, false) / float64(n)
		for i := range v {
			v[i] -= mean
		}
	}
	rr, ra, aa := sum(row, row, true), sum(row, ahead, true), sum(ahead, ahead, true)
	var fan, slide, fanError, slideError float64
	forFan, forSlide := make([]float64, n), make([]float64, n) // what each angle weighs in them
	free := n - 2
	if det := rr*aa - ra*ra; aa >= 1 && det > 1e-6*rr*aa {
		free--
		for i := range n {
			forFan[i], forSlide[i] = (row[i]*aa-ahead[i]*ra)/det, (ahead[i]*rr-row[i]*ra)/det
		}
		fan, slide = sum(forFan, angle, true), sum(forSlide, angle, true)
		fanError, slideError = math.Sqrt(aa/det), math.Sqrt(rr/det)
	} else {
		for i := range n {
			forFan[i] = row[i] / rr
		}
		fan, fanError = sum(forFan, angle, true), math.Sqrt(1/rr)
	}
	off := make([]float64, n)
	for i := range n {
		off[i] = angle[i] - fan*row[i] - slide*ahead[i]
	}
	noise := max(least, math.Sqrt(sum(off, off, true)/float64(free)))
	own, facing := ofJoins(off), b.facing[from:to]
	fanError, slideError = math.Hypot(noise*fanError, own*added(forFan)), math.Hypot(noise*slideError, own*added(forSlide))
	add := func(kind Kind, by, byError, positive float64, weights []float64) {
		if math.Abs(by) < max(openLeast, certainAt(free)*byError) || sum(weights, facing, true)/by < faced {
			return
		}
		t := turned{Pattern: Pattern{Kind: kind, Seen: n, Of: len(b.passes), By: math.Abs(by), Towards: math.Mod(b.way+positive, 360)}, from: from, to: to, sure: math.Abs(by) / byError}
		if by < 0 {
			t.Towards = math.Mod(t.Towards+180, 360)
		}
		for k := from; k+1 < to; k++ {
			t.pairs = append(t.pairs, b.pair(k))
		}
		out = append(out, t)
	}
	add(Fan, fan, fanError, 0, forFan)
	if slideError > 0 {
		add(Slide, slide, slideError, 90, forSlide)
	}
	return out
}

// ofJoins is the deviation of what each join opens by of itself, by what angles of rows are off by. What is of rows takes from the next opening what it
// gave to the one before, so their variance s² and the covariance c of neighbours leave s² + 2c for the joins.
func ofJoins(off []float64) float64 {
	n := len(off) - 1
	open := make([]float64, n)
	for i := range open {
		open[i] = off[i+1] - off[i]
	}
	square := sum(open, open, true) / float64(n)
	return math.Sqrt(max(0, square+2*sum(open[:n-1], open[1:], true)/float64(n-1)))
}

// added is by how much more a sum with weights deviates than one join does, each of which turns all rows behind it.
func added(weights []float64) float64 {
	behind, squares := 0.0, 0.0
	for i := len(weights) - 1; i > 0; i-- {
		behind += weights[i]
		squares += behind * behind
	}
	return math.Sqrt(squares)
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
