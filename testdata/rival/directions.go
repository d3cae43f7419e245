package rival

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Ordered says how well coverage/plan knows which directions are good: its estimate beside plans that are laid out in every so many degrees
// with the rounds of the best.
type Ordered struct {
	Field       string  `json:"field"`
	Set         string  `json:"set"`
	Directions  int     `json:"directions"`
	Correlation float64 `json:"correlation"` // of ranks (Spearman), estimate and laid out
	Pairs       int     `json:"pairs"`       // of directions that differ by more than alike when laid out
	Alike       float64 `json:"alike"`       // Goodman and Kruskal's gamma of those pairs, from −1 to 1: the share that the estimate has in the same order, less that in the other
	Chosen      float64 `json:"chosen"`      // by how much the rows of the best plan, laid out as all others, are above the best of those, as a share
	Lost        float64 `json:"lost"`        // the same of the best plan, whose rounds are better; below 0: it takes less than any laid out
}

// alike: directions whose plans differ by no more than such a share of the hours are equally good, whatever their order.
const alike = 0.01

// Directions lays a field out in n directions, from both sides.
func Directions(ctx context.Context, name string, field []plane.Polygon, s Set, n int) (Ordered, error) {
	o := Ordered{Field: name, Set: s.Name, Directions: n}
	opt := plan.Options{Speed: geo.KmPerHour(Usual().Speed)}
	all, err := plan.Compare(ctx, field, []rig.Implement{s.Implement}, opt, plan.Objective{})
	if err != nil {
		return o, fmt.Errorf("field %s, %s: %w", name, s.Name, err)
	}
	best := all[0]
	opt.Rounds, opt.NoRounds = best.Candidate.Rounds, best.Candidate.Rounds == 0
	lay := func(opt plan.Options) (float64, error) {
		p, err := plan.Lay(ctx, field, s.Implement, opt)
		if err != nil {
			return 0, fmt.Errorf("field %s, %s, heading %g: %w", name, s.Name, opt.Heading, err)
		}
		c, err := plan.Simulate(ctx, p)
		if err != nil {
			return 0, fmt.Errorf("field %s, %s, heading %g: %w", name, s.Name, opt.Heading, err)
		}
		return c.Hours + c.Open + c.UnfitHours, nil
	}
	var estimated, laid []float64
	for i := range n {
		bearing := 180 * float64(i) / float64(n)
		value := math.Inf(1)
		for _, turned := range []float64{0, math.Pi} { // rows counted from the other side may turn better
			opt.Heading = geo.Heading((90-bearing)*degree + turned)
			one, err := lay(opt)
			if err != nil {
				return o, err
			}
			value = min(value, one)
		}
		laid = append(laid, value)
		near := slices.MinFunc(best.Curve, func(a, b plan.Sample) int { return cmp.Compare(beside(a, bearing), beside(b, bearing)) })
		estimated = append(estimated, near.Value)
	}
	rows := best.Plan.Options
	rows.Rounds, rows.NoRounds = opt.Rounds, opt.NoRounds
	chosen, err := lay(rows)
	if err != nil {
		return o, err
	}
	o.Correlation, o.Chosen, o.Lost = correlation(ranks(estimated), ranks(laid)), chosen/slices.Min(laid)-1, best.Candidate.Value/slices.Min(laid)-1
	o.Pairs, o.Alike = gamma(estimated, laid, alike)
	return o, nil
}

// gamma is Goodman & Kruskal 1954 (Journal of the American Statistical Association 49, 732-764; from memory) of the pairs whose second values differ by more than a share of the
// lesser: what the first values have in the same order, less what they have in the other, by the number of such pairs, of which ties count as half of either; 1 where there is no pair.
func gamma(first, second []float64, apart float64) (pairs int, of float64) {
	sum := 0
	for i := range second {
		for k := range i {
			if min(second[i], second[k])*(1+apart) >= max(second[i], second[k]) {
				continue
			}
			pairs++
			switch way := (first[i] - first[k]) * (second[i] - second[k]); {
			case way > 0:
				sum++
			case way < 0:
				sum--
			}
		}
	}
	if pairs == 0 {
		return 0, 1
	}
	return pairs, float64(sum) / float64(pairs)
}

// beside is how far a sample's direction is from a bearing, degrees.
func beside(s plan.Sample, bearing float64) float64 {
	return math.Abs(math.Remainder(s.Direction-bearing, 180))
}

// ranks are the places of values in their order, of equal ones the mean place.
func ranks(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		for _, y := range v {
			if y < x {
				out[i]++
			} else if y == x {
				out[i] += 0.5
			}
		}
	}
	return out
}

// correlation is that of Pearson; 1 where one side does not vary.
func correlation(a, b []float64) float64 {
	n := float64(len(a))
	var ma, mb float64
	for i := range a {
		ma, mb = ma+a[i]/n, mb+b[i]/n
	}
	var ab, aa, bb float64
	for i := range a {
		ab, aa, bb = ab+(a[i]-ma)*(b[i]-mb), aa+(a[i]-ma)*(a[i]-ma), bb+(b[i]-mb)*(b[i]-mb)
	}
	if aa == 0 || bb == 0 {
		return 1
	}
	return ab / math.Sqrt(aa*bb)
}

// What directions are to reach.
const (
	leastCorrelation = 0.9
	mostLost         = 0.01
)

// DirectionsTable writes what they come to, set by set, and the pairs that lose most.
func DirectionsTable(w io.Writer, all []Ordered) error {
	var b strings.Builder
	fmt.Fprintf(&b, "\n| set | pairs | correlation of ranks: least, median | %g or more | of directions more than %.0f %% apart: least, median | %g or more | rows chosen above the best laid out: median, most | above %.0f %% | plan found above it: median, most | above %.0f %% |\n|---|---|---|---|---|---|---|---|---|---|\n",
		leastCorrelation, 100*alike, leastCorrelation, 100*mostLost, 100*mostLost)
	var names []string
	for _, set := range Sets() {
		names = append(names, set.Name)
	}
	for _, name := range append(names, "all") {
		some := slices.DeleteFunc(slices.Clone(all), func(o Ordered) bool { return name != "all" && o.Set != name })
		if len(some) == 0 {
			continue
		}
		values := func(of func(Ordered) float64) []float64 {
			out := make([]float64, len(some))
			for i, o := range some {
				out[i] = of(o)
			}
			slices.Sort(out)
			return out
		}
		above := func(v []float64, limit float64) (n int) {
			for _, x := range v {
				if x > limit {
					n++
				}
			}
			return n
		}
		cor, apart := values(func(o Ordered) float64 { return o.Correlation }), values(func(o Ordered) float64 { return o.Alike })
		chosen, lost := values(func(o Ordered) float64 { return o.Chosen }), values(func(o Ordered) float64 { return o.Lost })
		below := math.Nextafter(leastCorrelation, 0)
		fmt.Fprintf(&b, "| %s | %d | %.2f, %.2f | %d | %.2f, %.2f | %d | %.1f %%, %.1f %% | %d | %.1f %%, %.1f %% | %d |\n", name, len(some), cor[0], quantile(cor, 0.5), above(cor, below), apart[0], quantile(apart, 0.5), above(apart, below),
			100*quantile(chosen, 0.5), 100*quantile(chosen, 1), above(chosen, mostLost), 100*quantile(lost, 0.5), 100*quantile(lost, 1), above(lost, mostLost))
	}
	b.WriteString("\nThose that lose most:")
	worst := slices.SortedFunc(slices.Values(all), func(x, y Ordered) int { return cmp.Compare(y.Lost, x.Lost) })
	for _, o := range worst[:min(8, len(worst))] {
		fmt.Fprintf(&b, " field %s, %s: %.1f %% (rows alone %.1f), correlation %.2f, %.2f of %d pairs apart;", o.Field, o.Set, 100*o.Lost, 100*o.Chosen, o.Correlation, o.Alike, o.Pairs)
	}
	_, err := io.WriteString(w, strings.TrimSuffix(b.String(), ";")+".\n")
	return err
}
