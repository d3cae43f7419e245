package rival

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"

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
	Lost        float64 `json:"lost"`        // by how much the best plan is above the best of those laid out, as a share; below 0: it is better
}

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
	var estimated, laid []float64
	for i := range n {
		bearing := 180 * float64(i) / float64(n)
		value := math.Inf(1)
		for _, turned := range []float64{0, math.Pi} { // rows counted from the other side may turn better
			opt.Heading = geo.Heading((90-bearing)*degree + turned)
			p, err := plan.Lay(ctx, field, s.Implement, opt)
			if err != nil {
				return o, fmt.Errorf("field %s, %s, %g°: %w", name, s.Name, bearing, err)
			}
			c, err := plan.Simulate(ctx, p)
			if err != nil {
				return o, fmt.Errorf("field %s, %s, %g°: %w", name, s.Name, bearing, err)
			}
			value = min(value, c.Hours+c.Open+c.UnfitHours)
		}
		laid = append(laid, value)
		near := slices.MinFunc(best.Curve, func(a, b plan.Sample) int { return cmp.Compare(beside(a, bearing), beside(b, bearing)) })
		estimated = append(estimated, near.Value)
	}
	o.Correlation, o.Lost = correlation(ranks(estimated), ranks(laid)), best.Candidate.Value/slices.Min(laid)-1
	return o, nil
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

// DirectionsTable writes what they come to, set by set.
func DirectionsTable(w io.Writer, all []Ordered) error {
	if _, err := fmt.Fprintf(w, "\n| set | pairs | correlation of ranks, estimate and laid out: least, median | %g or more | lost against the best laid out: median, most | above %.0f %% |\n|---|---|---|---|---|---|\n", leastCorrelation, 100*mostLost); err != nil {
		return err
	}
	for _, set := range Sets() {
		var cor, lost []float64
		well, above := 0, 0
		for _, o := range all {
			if o.Set != set.Name {
				continue
			}
			cor, lost = append(cor, o.Correlation), append(lost, o.Lost)
			if o.Correlation >= leastCorrelation {
				well++
			}
			if o.Lost > mostLost {
				above++
			}
		}
		if len(cor) == 0 {
			continue
		}
		slices.Sort(cor)
		slices.Sort(lost)
		if _, err := fmt.Fprintf(w, "| %s | %d | %.2f, %.2f | %d | %.1f %%, %.1f %% | %d |\n", set.Name, len(cor), cor[0], quantile(cor, 0.5), well, 100*quantile(lost, 0.5), 100*quantile(lost, 1), above); err != nil {
			return err
		}
	}
	return nil
}
