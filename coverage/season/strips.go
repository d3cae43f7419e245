package season

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Strip is a piece of ground that several operations all missed.
type Strip struct {
	Number    int             `json:"number"`    // 1 = largest
	Area      float64         `json:"area"`      // m²
	Length    float64         `json:"length"`    // m, along its long axis
	MeanWidth float64         `json:"meanWidth"` // m
	MaxWidth  float64         `json:"maxWidth"`  // m, diameter of the largest inscribed circle
	Bearing   geo.Bearing     `json:"bearing"`   // of the long axis, true north, 0 to 180
	At        orb.Point       `json:"at"`        // lon, lat of the centre of the largest inscribed circle
	Surety    coverage.Surety `json:"surety,omitempty"`
	Certain   float64         `json:"certain,omitempty"` // m² that stay missed were the bars of all operations wider by their pass-to-pass error
	Likely    float64         `json:"likely,omitempty"`  // m² that do by half of it, Certain included
	Shape     plane.Polygon   `json:"-"`                 // on the field's plane
}

// strips fills in the strips of what operations missed together.
func (r *Result) strips(ctx context.Context, t *Together, field []plane.Polygon, on int) error {
	drawn, err := r.laid.Draw(ctx, t.missed)
	if err != nil {
		return fmt.Errorf("missed by all: %w", err)
	}
	pieces, err := coverage.PiecesOf(ctx, r.Local, drawn.Polygons, drawn.Dropped, r.runs(t), on)
	if err != nil {
		return fmt.Errorf("missed strips: %w", err)
	}
	t.Slivers, t.SliverArea = pieces.Slivers, pieces.SliverArea
	t.Strips = make([]Strip, len(pieces.Strips))
	for k, s := range pieces.Strips {
		t.Strips[k] = Strip{Area: s.Area, Length: s.Length, MeanWidth: s.MeanWidth, MaxWidth: s.MaxWidth, Bearing: s.Bearing, At: s.At, Shape: s.Shape}
	}
	slices.SortFunc(t.Strips, func(a, b Strip) int {
		return cmp.Or(cmp.Compare(b.Area, a.Area), cmp.Compare(a.At[0], b.At[0]), cmp.Compare(a.At[1], b.At[1]))
	})
	for k := range t.Strips {
		t.Strips[k].Number = k + 1
	}
	return nil
}

// runs are the passes of all operations of t.
func (r *Result) runs(t *Together) []drive.Run {
	var all []drive.Run
	for _, k := range t.Operations {
		all = append(all, r.of[k].Runs...)
	}
	return all
}

// Shift is how far operation B lies off operation A, all of it by one and the same way.
type Shift struct {
	East  float64 `json:"east"`  // m
	North float64 `json:"north"` // m
	Doubt float64 `json:"doubt"` // m, 95 %
}
