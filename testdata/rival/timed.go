package rival

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Timed is how long balk looks for the plan of one set on a field that was varied.
type Timed struct {
	Number int     `json:"number"`
	Field  string  `json:"field"`
	Set    string  `json:"set"`
	Scale  float64 `json:"scale"` // of lengths
	Area   float64 `json:"area"`  // m²
	CPU    float64 `json:"cpu"`   // s
}

// leastScale and mostScale are how much longer the lengths of a field are made: from a quarter of its area to nine times as much.
const leastScale, mostScale = 0.5, 3.0

// Varied is a field moved, turned and scaled, drawn by number, with its scale.
func Varied(field []plane.Polygon, number int) ([]plane.Polygon, float64) {
	rng := rand.New(rand.NewPCG(uint64(number), 14))
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	scale := leastScale * math.Pow(mostScale/leastScale, rng.Float64())
	by := plane.XY{X: 2000*rng.Float64() - 1000, Y: 2000*rng.Float64() - 1000}
	out := make([]plane.Polygon, len(field))
	for k, p := range field {
		for _, ring := range p {
			moved := make(plane.Ring, len(ring))
			for i, v := range ring {
				moved[i] = plane.Snap(plane.XY{X: cos*v.X - sin*v.Y, Y: sin*v.X + cos*v.Y}.Scale(scale).Add(by))
			}
			out[k] = append(out[k], moved)
		}
	}
	return out, scale
}

// Search looks for balk's plan alone.
func Search(ctx context.Context, field []plane.Polygon, s Set) error {
	_, err := plan.Compare(ctx, field, []rig.Implement{s.Implement}, plan.Options{Speed: geo.KmPerHour(Usual().Speed)}, plan.Objective{})
	return err
}

// TimesTable writes how long searches took, and the longest of them, for people.
func TimesTable(w io.Writer, all []Timed) error {
	var b strings.Builder
	fmt.Fprintf(&b, "| set | fields | ha: least, median, most | CPU s: median, 95 %%, most | above %g s |\n|---|---|---|---|---|\n", mostCPU)
	var names []string
	for _, t := range all {
		if !slices.Contains(names, t.Set) {
			names = append(names, t.Set)
		}
	}
	slices.Sort(names)
	for _, name := range append(names, "all") {
		var cpu, area []float64
		slow := 0
		for _, t := range all {
			if name != "all" && t.Set != name {
				continue
			}
			if cpu, area = append(cpu, t.CPU), append(area, t.Area/1e4); t.CPU > mostCPU {
				slow++
			}
		}
		slices.Sort(cpu)
		slices.Sort(area)
		fmt.Fprintf(&b, "| %s | %d | %.2f, %.2f, %.0f | %.2f, %.2f, %.1f | %d |\n", name, len(cpu), area[0], quantile(area, 0.5), area[len(area)-1], quantile(cpu, 0.5), quantile(cpu, 0.95), cpu[len(cpu)-1], slow)
	}
	fmt.Fprintf(&b, "\nOpen fields moved, turned and made %g to %g times as long. Wanted: %g s for 95 of 100, %g s at most.\n\nThe longest:", leastScale, mostScale, usualCPU, mostCPU)
	longest := slices.SortedFunc(slices.Values(all), func(a, b Timed) int { return cmp.Compare(b.CPU, a.CPU) })
	for _, t := range longest[:min(5, len(longest))] {
		fmt.Fprintf(&b, " field %s × %.2f (%.1f ha), %s: %.1f s;", t.Field, t.Scale, t.Area/1e4, t.Set, t.CPU)
	}
	_, err := io.WriteString(w, strings.TrimSuffix(b.String(), ";")+".\n")
	return err
}
