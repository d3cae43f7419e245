package pattern

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/chance"
)

const (
	// turnOnceIn: of beds without a fault so many may show a turn or a slide by chance, of all their parts together (Bonferroni's bound); half of it
	// is for all rows, a quarter for halves of them, and so on.
	turnOnceIn = 4e-3
	// slideShare of that is for slides. Any shares hold the bound; this one leaves turns what they need: of simulated slides of 15 cm in 100 m
	// the least sure was there by chance once in seven million, of turns of 6 cm in 100 m once in two thousand.
	slideShare = 1.0 / 50
)

// madWorth: a deviation by the median of what values are off by is known as well as one by the squares of so many of them (efficiency 0.37 for
// normal values: Rousseeuw and Croux 1993, from memory).
const madWorth = 0.37

// surest: of parts that are surer than that none is said to be surer, since no noise is known so well; the one of most rows counts.
const surest = 1e-13

// mixtures are shares that what goes on from row to row has in the noise of turns. Two next to each other differ little in what they say.
var mixtures = [...]float64{0, 0.01, 0.03, 0.1, 0.2, 0.4, 0.7, 1}

// turning is what the directions of rows have in common, all of them or all but those at the ends, or else some beside each other.
//
// Row k, driven ahead (1) or back (−1), lies at an angle θ_k to the first, and
//
//	θ_{k+1} − θ_k = fan + slide·(ahead_{k+1} − ahead_k) + noise
//
// by the angles of the rows' own lines: joins open by that too, but what a join opens by of itself, where a receiver wanders and neighbours run
// beside each other now here, now there, is no angle of a row. The joins must open as the rows face, by faced of it at least: lines side by side
// along a bend all face elsewhere, and open none. What turns all rows alike, whatever way they were driven, opens no join and is not to be seen.
//
// Noise is of two sorts. What is of a row alone takes from the next turn what it gave to the one before. Where each row is laid by the one before
// it, what it is off by goes on, and adds up to turns of many rows that nothing has in common. How much is of which sort is seen in the turns
// themselves, in few rows badly: what chance there is that nothing is in common is the mean over all mixtures, by how likely each is.
func (b bed) turning() (out []turned) {
	n := len(b.passes)
	look := looks{bed: b, turns: make([]float64, n-1), aheads: make([]float64, n-1), free: int(madWorth * float64(n-1-3))}
	for k := range look.turns {
		look.turns[k], look.aheads[k] = b.facing[k+1]-b.facing[k], b.ahead[k+1]-b.ahead[k]
	}
	_, spread := middle(b.over(look.turns))
	look.noise = max(tilted, spread/math.Sqrt2)
	whole := [][2]int{{0, n}}
	if n-2*endRows >= fewRows {
		whole = append(whole, [2]int{endRows, n - endRows})
	}
	levels := [][][2]int{whole} // then halves, quarters and so on of the rows
	for rows := n / 2; rows >= fewRows; rows /= 2 {
		var parts [][2]int
		for from := 0; from+rows <= n; from += max(1, rows/2) {
			parts = append(parts, [2]int{from, from + rows})
		}
		levels = append(levels, parts)
	}
	once := turnOnceIn
	for _, parts := range levels {
		once /= 2
		for _, p := range parts {
			out = append(out, look.fit(p[0], p[1], once/float64(len(parts)))...)
		}
	}
	slices.SortStableFunc(out, func(a, b turned) int { return cmp.Or(cmp.Compare(a.luck, b.luck), cmp.Compare(b.Seen, a.Seen)) })
	var kept []turned
	for _, one := range out { // of parts that lap the surest: what only some rows do shows less surely in all
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
	luck     float64 // how likely it is by chance
	pairs    [][2]int
}

// looks is what parts of a bed are looked at with.
type looks struct {
	bed
	turns  []float64 // of each row against the one before it
	aheads []float64 // ahead_{k+1} − ahead_k
	noise  float64   // of the angle of each row at least, by those of all
	free   int       // ... with so many degrees of freedom
}

// fit looks at the rows from one up to another for what is there by luck less often than once, of both kinds together. Their noise is the greater of their own and that of all rows, and so is never less surely known
// than the better known of both.
func (b looks) fit(from, to int, once float64) (out []turned) {
	turns, open := b.turns[from:to-1], b.open[from:to-1]
	var all [len(mixtures)]weighing
	best := &all[0]
	for i, share := range mixtures {
		if all[i] = weigh(share, turns, b.aheads[from:to-1]); all[i].unlikely < best.unlikely {
			best = &all[i]
		}
	}
	for i, kind := range [2]Kind{Fan, Slide} {
		if best.weights[i] == nil {
			continue
		}
		luck, sorts := 0.0, 0.0
		for _, w := range all {
			likely := math.Exp((best.unlikely - w.unlikely) / 2)
			times := math.Abs(sum(w.weights[i], turns, true)) / (max(b.noise, w.noise) * w.errs[i])
			luck, sorts = luck+likely*chance.BeyondT(times, float64(max(1, w.free, b.free))), sorts+likely
		}
		luck = max(luck/sorts, surest)
		by, opens := sum(best.weights[i], turns, true), sum(best.weights[i], open, true)
		if math.Abs(by) < openLeast || luck > once*[2]float64{1 - slideShare, slideShare}[i] || opens/by < faced {
			continue
		}
		t := turned{Pattern: Pattern{Kind: kind, Seen: to - from, Of: len(b.passes), By: math.Abs(by), Towards: b.way + 90*float64(i)}, from: from, to: to, luck: luck}
		if by < 0 {
			t.Towards += 180
		}
		t.Towards = math.Mod(t.Towards, 360)
		for k := from; k+1 < to; k++ {
			t.pairs = append(t.pairs, b.pair(k))
		}
		out = append(out, t)
	}
	return out
}

// weighing is how turns are to be weighed for one mixture of noise.
type weighing struct {
	weights  [2][]float64 // of each turn, in fan and slide; nil: they do not show it
	errs     [2]float64   // standard deviations of these, of a row's noise of 1
	noise    float64      // of the angle of a row
	free     int
	unlikely float64 // −2 times the logarithm of the restricted likelihood (Patterson and Thompson 1971)
}

// weigh is generalised least squares of turns, of which the noise that goes on from row to row has a share. The covariance of turns is then, by
// the square of a row's noise,
//
//	│    2     share−1           │
//	│ share−1     2     share−1  │
//	│          share−1     2   … │
func weigh(share float64, turns, aheads []float64) (w weighing) {
	n := len(turns)
	ratio, pivot := make([]float64, n), make([]float64, n) // of the matrix as L·D·Lᵀ
	for i := range n {
		if pivot[i] = 2; i > 0 {
			ratio[i] = (share - 1) / pivot[i-1]
			pivot[i] -= ratio[i] * (share - 1)
		}
		w.unlikely += math.Log(pivot[i])
	}
	solve := func(v []float64) []float64 {
		v = slices.Clone(v)
		for i := 1; i < n; i++ {
			v[i] -= ratio[i] * v[i-1]
		}
		for i := range v {
			v[i] /= pivot[i]
		}
		for i := n - 2; i >= 0; i-- {
			v[i] -= ratio[i+1] * v[i+1]
		}
		return v
	}
	ones := slices.Repeat([]float64{1}, n)
	one, ahead := solve(ones), solve(aheads)
	oo, oa, aa := sum(one, one, false), sum(ahead, ahead, false), sum(aheads, ahead, true)
	w.free = n - 1
	w.weights[0], w.errs[0] = scaled(one, 1/oo, ahead, 0), math.Sqrt(1/oo)
	if det := oo*aa - oa*oa; det > 1e-6*oo*aa { // rows go both ways
		w.free--
		w.weights = [2][]float64{scaled(one, aa/det, ahead, -oa/det), scaled(ahead, oo/det, one, -oa/det)}
		w.errs = [2]float64{math.Sqrt(aa / det), math.Sqrt(oo / det)}
		w.unlikely += math.Log(det)
	} else {
		w.unlikely += math.Log(oo)
	}
	off := slices.Clone(turns)
	for i := range 2 {
		if w.weights[i] != nil {
			off = scaled(off, 1, [2][]float64{ones, aheads}[i], -sum(w.weights[i], turns, true))
		}
	}
	squares := max(float64(w.free)*tilted*tilted, sum(off, solve(off), true))
	w.noise = math.Sqrt(squares / float64(w.free))
	w.unlikely += float64(w.free) * math.Log(squares)
	return w
}

// scaled is a·by + b·more.
func scaled(a []float64, by float64, b []float64, more float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = by*a[i] + more*b[i]
	}
	return out
}
