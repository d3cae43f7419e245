package coverage

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/coverage/chance"
	"balk/coverage/drive"
	"balk/coverage/ground"
)

const (
	// tape: a bar is measured on the set to this; a smaller offset is none. Common practice, no source.
	tape = 0.02 // m
	// fewJoins: from fewer joins of either kind nothing is said of how good an offset is.
	fewJoins = 4
	// strayJoin: so many times the distance from the median within which half of the joins lie. Of a normal distribution 1 in 1,300 lies farther off.
	strayJoin = 5.0
	// asideBy is how far aside a bar may well run of where a file has it: a hand's breadth, by which sets hang
	// askew or are measured wrongly. Common practice, no source.
	asideBy = 0.10 // m
	// asideMore: what adds less than a tenth to the range's upper end is not worth a tape.
	asideMore = 1.1
)

// BarOffset says how far the bar seems to lie to the right of where it was taken.
// Of passes driven in opposite directions, neighbours meet alternately with their
// right and their left sides. If the work tiles at s and the bar lies δ to the right
// of the place it was taken at (×),
//
//	  ↑      ↓      ↑         bars (│) at distances s
//	× │      │ × × │          taken places, δ to the left of each
//	   ─────────    ──        right sides meet: s + 2δ;  left sides meet: s − 2δ
//
// so δ = (spacing where right sides meet − spacing where left sides meet) / 4, of the
// medians. Where not the work but the taken places are held to s, by a guidance that
// knows nothing of δ, it is zero whatever the bar did.
type BarOffset struct {
	Right  float64 `json:"right"`           // m, negative: left
	Doubt  float64 `json:"doubt"`           // m, 99 %: Right is good to this
	Joins  int     `json:"joins,omitempty"` // pairs of passes that tell Doubt; 0 = too few, and Right means nothing
	Spread float64 `json:"spread"`          // m, middle half of what single spacings give: mean of both quartile ranges / 4
	Rights int     `json:"rights"`          // spacings where right sides meet
	Lefts  int     `json:"lefts"`
}

// Told says whether the joins tell an offset: one that is surely beyond what a tape tells, whose own error hides no more of it.
func (o BarOffset) Told() bool { return o.Joins > 0 && math.Abs(o.Right) > tape+o.Doubt }

// join is where two passes driven in opposite directions meet.
type join struct {
	passes [2]int // the lower number first
	side   int
}

// mean is one of n values.
type mean struct {
	sum float64
	n   int
}

// meet adds a spacing to its join.
func (k *looker) meet(side int, o sighting) {
	if k.joins == nil {
		k.joins = map[join]mean{}
	}
	j := join{[2]int{min(k.line.pass, o.pass), max(k.line.pass, o.pass)}, side}
	m := k.joins[j]
	k.joins[j] = mean{m.sum + o.off, m.n + 1}
}

// doubt works out how good the offset is. Along one join spacings hang together: the receiver's error changes slowly, and a
// driver who is beside the line stays there. So a join counts as one observation, weighted by its length, and how
// joins of one kind differ tells the error of their mean. A pass that lies aside makes the join to its right wider and
// the one to its left narrower, and these are of unlike kinds, so that each pass has a part in
// R − L twice. With errors e of passes, n joins of either kind,
//
//	var(R − L) = var(Σ ±2e) / n² = 8·var(e) / n,   where joins differ by var = 2·var(e)
//
// which is twice what independent joins would have. Right is of medians, whose variance is π/2 times that of means
// (of normal values, in the limit).
func (o *BarOffset) doubt(found []spacings) {
	all := map[join]mean{}
	for _, f := range found {
		for j, m := range f.joins {
			a := all[j]
			all[j] = mean{a.sum + m.sum, a.n + m.n}
		}
	}
	var of [2][]mean
	for j, m := range all {
		of[j.side] = append(of[j.side], m)
	}
	if min(len(of[toRight]), len(of[toLeft])) < fewJoins {
		return
	}
	r, rights := errorOfMean(of[toRight])
	l, lefts := errorOfMean(of[toLeft])
	freedom := rights + lefts - 2
	if !(freedom >= 1) {
		return
	}
	o.Joins = len(of[toRight]) + len(of[toLeft])
	o.Doubt = chance.WithinT(0.99, freedom) * math.Sqrt(math.Pi*(r+l)) / 4
}

// errorOfMean is the variance of the mean of joins, each weighted by its length, and how many of one length would tell as much: (Σn)²/Σn² (Kish 1965).
// A join of a few metres tells little, and may lie anywhere, as those of a pass that was driven aside on purpose: Right is of
// medians, and takes no notice. So a join counts as no farther off than strayJoin.
func errorOfMean(joins []mean) (variance, many float64) {
	slices.SortFunc(joins, func(a, b mean) int { return cmp.Or(cmp.Compare(a.sum, b.sum), a.n-b.n) }) // a map has no order, and sums must not hang on one
	var n, squares float64
	at := make([]weighted, len(joins))
	for i, j := range joins {
		at[i] = weighted{j.sum / float64(j.n), float64(j.n)}
		n, squares = n+at[i].weight, squares+at[i].weight*at[i].weight
	}
	middle := []float64{n / 2}
	quantiles(at, middle)
	for i := range at {
		at[i].value = math.Abs(at[i].value - middle[0])
	}
	half := []float64{n / 2}
	quantiles(slices.Clone(at), half)
	for _, j := range at {
		off := min(j.value, strayJoin*half[0])
		variance += j.weight / n * off * off
	}
	many = n * n / squares
	return variance / max(many-1, 1e-9), many
}

// Aside is what is missed if the bar runs beside the place where it was taken. A log of the antenna does not show it:
// guidance holds the antenna to its lines, whatever the bar does. What is said of missed ground, and its
// range, holds only if the bar runs where it was taken.
type Aside struct {
	By     float64 `json:"by"`              // m to the right of there, negative: left; 0 = nothing is to be said
	Missed float64 `json:"missed"`          // m² missed then
	Joins  bool    `json:"joins"`           // the joins say that it runs there (BarOffset); else By is a hand's breadth, to the side on which more is missed
	Doubt  float64 `json:"doubt,omitempty"` // m, 99 %, of what the joins say
}

// asideOf lays the ground again: with the bar where the joins say, if they tell another place than the one it was taken at; else
// with the bar asideBy to either side. It is zero where that leads to no more than the range has anyway.
//
// Of parallel passes at a spacing of the credited width, every other one driven back, a bar s aside opens every other
// join by 2s; the others lap.
func (r *Result) asideOf(ctx context.Context, runs []drive.Run) (Aside, error) {
	at := func(by float64) (float64, error) {
		return ground.MissedAside(ctx, r.Layers.Field, runs, r.Work, by)
	}
	if o := r.Spacing.Offset; o.Told() {
		missed, err := at(o.Right)
		r.widen(missed)
		return Aside{By: o.Right, Missed: missed, Joins: true, Doubt: o.Doubt}, err
	}
	a := Aside{Missed: asideMore * max(r.Balance.Missed, r.Telling.Missed[1])}
	for _, by := range [2]float64{asideBy, -asideBy} {
		missed, err := at(by)
		if err != nil {
			return Aside{}, err
		}
		if missed > a.Missed {
			a.By, a.Missed = by, missed
		}
	}
	if a.By == 0 {
		return Aside{}, nil
	}
	return a, nil
}
