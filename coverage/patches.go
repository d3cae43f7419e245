package coverage

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"balk/coverage/ground"
	"balk/geo/plane"
)

// Patches is what was missed on ground that someone named, such as patches of a perennial weed.
type Patches struct {
	Missed float64 `json:"missed"` // m² of listed strips that lie in them
	Strips []int   `json:"strips"` // numbers of the strips that reach into them, that with most ground there first
}

// leastInPatch: what a strip has in a patch by less, a thumb's breadth along a rim, is rounding of the patch's outline, m².
const leastInPatch = 0.05

// LookIn works out what was missed in patches. They may overlap, and reach beyond the field.
func (r *Result) LookIn(ctx context.Context, patches []plane.Polygon) error {
	p := Patches{Strips: []int{}}
	inside := map[int]float64{}
	for _, s := range r.Strips {
		shared, err := plane.Intersection(ctx, []plane.Polygon{s.Shape}, patches)
		if err != nil {
			return fmt.Errorf("strip %d in patches: %w", s.Number, err)
		}
		if area := ground.AreaOf(shared); area >= leastInPatch {
			p.Missed += area
			p.Strips = append(p.Strips, s.Number)
			inside[s.Number] = area
		}
	}
	slices.SortStableFunc(p.Strips, func(a, b int) int { return cmp.Compare(inside[b], inside[a]) })
	r.Patches = &p
	return nil
}
