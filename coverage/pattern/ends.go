package pattern

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/chance"
)

// End is where a pass begins or ends.
type End struct {
	Pass     int
	Lowering bool    // it begins here
	Out      float64 // degrees from true north, out of the row
	Doubt    float64 // m, 95 %: how far off it may lie, as it is logged between two fixes
	Gap      float64 // m of missed ground ahead, out of the row, up to what is worked or no field
	Ground   float64 // m² of it, as wide as the bar
	Strip    int     // number of the strip there; 0 = none
}

const (
	// shortBy: a driver lowers and lifts as well as that (common practice, no source), and a log with a fix a second tells it no better. Of one with
	// fixes farther apart all ends of a side may seem short at once, by what is open of the line on which they lie: see End.Doubt.
	shortBy = 0.5 // m
	// sideShare of the row ends on a side are short at least, and so many that chance does it to one field of four such sides in a
	// thousand, were any row end short by chance once in four times.
	sideShare = 0.6
	sideOnce  = 0.25
	byChance  = 2.5e-4
	// oneSide: ends whose ways out differ by less lie on one side of the field.
	oneSide = 20.0 // degrees
)

// ends looks for sides of the field at which most rows begin, or end, short of worked ground.
func (e Evidence) ends() (out []found) {
	for _, side := range sides(e.Ends) {
		var kinds [2]found // lowering, lifting
		for i, lowering := range [2]bool{true, false} {
			kinds[i] = e.short(slices.DeleteFunc(slices.Clone(side), func(o End) bool { return o.Lowering != lowering }))
			kinds[i].Kind = [2]Kind{Late, Early}[i]
		}
		late, early := kinds[0], kinds[1]
		switch {
		case late.Seen > 0 && early.Seen > 0:
			both := e.short(side)
			both.Kind = Short
			out = append(out, both)
		case late.Seen > 0:
			out = append(out, late)
		case early.Seen > 0:
			out = append(out, early)
		}
	}
	return out
}

// short is the pattern of ends that are short, if most are; else Seen is 0.
func (e Evidence) short(ends []End) (f found) {
	var gaps []float64
	ground := map[int]float64{}
	f.Passes[0] = math.MaxInt
	for _, o := range ends {
		if o.Gap < max(shortBy, o.Doubt) {
			continue
		}
		gaps = append(gaps, o.Gap)
		f.Passes = [2]int{min(f.Passes[0], o.Pass), max(f.Passes[1], o.Pass)}
		if o.Strip > 0 {
			ground[o.Strip] += o.Ground
		}
	}
	if float64(len(gaps)) < sideShare*float64(len(ends)) || chance.OrMore(len(gaps), len(ends), sideOnce) > byChance {
		return found{}
	}
	slices.Sort(gaps)
	f.Seen, f.Of = len(gaps), len(ends)
	f.By, f.Least, f.Most = gaps[len(gaps)/2], gaps[0], gaps[len(gaps)-1]
	f.Towards, f.strips = ends[0].Out, e.whole(ground)
	return f
}

// sides are ends with one way out, those with most first.
func sides(ends []End) (out [][]End) {
	ends = slices.Clone(ends)
	slices.SortStableFunc(ends, func(a, b End) int { return cmp.Compare(a.Pass, b.Pass) })
	for _, o := range ends {
		k := slices.IndexFunc(out, func(s []End) bool { return turn(s[0].Out, o.Out) < oneSide })
		if k < 0 {
			k = len(out)
			out = append(out, nil)
		}
		out[k] = append(out[k], o)
	}
	slices.SortStableFunc(out, func(a, b []End) int { return len(b) - len(a) })
	return out
}

// turn is the angle between two directions, degrees from 0 to 180.
func turn(a, b float64) float64 {
	return math.Abs(math.Mod(math.Abs(a-b)+180, 360) - 180)
}
