package coverage

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/sweeps"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Ribbons is ground that the bar went over and its sweeps left between them: part of what was worked once, and no part of what was missed. Where
// another pass went over it, that one is taken to have cut it.
type Ribbons struct {
	Area     float64         `json:"area"`               // m² in the field
	Combs    float64         `json:"combs"`              // m², as left, of it and what others lapped, where the tool was lowered or lifted as it drove
	Left     float64         `json:"left"`               // m² as left by every pass for itself, what others lapped counted, and what lies outside
	Headland float64         `json:"headland"`           // m² of Area in the headland
	Sure     float64         `json:"sure"`               // m² of Area in ribbons wider than twice what headings waver by
	Length   float64         `json:"length"`             // m of ribbons, combs aside
	Widest   float64         `json:"widest"`             // m, combs aside
	Waver    float64         `json:"waver"`              // degrees, standard deviation of the crab angle from one stretch to the next
	Told     bool            `json:"told"`               // where the set faced is known, by logged headings or its description; else bends alone are judged
	Supposed bool            `json:"supposed,omitempty"` // where it faced is supposed, by a crab angle that was given, for all or a part of the way
	Before   float64         `json:"before"`             // m before a line that the middle of the bar is lowered, so that no comb stays beyond it
	Past     float64         `json:"past"`               // m past a line that it is lifted, so that none stays on this side
	Cutting  []float64       `json:"cutting"`            // m that each sweep went in the ground, from the left end: what wears it
	Pairs    []RibbonPair    `json:"pairs"`              // the neighbours that left most first
	Shapes   []plane.Polygon `json:"-"`                  // of Area
}

// RibbonPair is what two neighbours left between them.
type RibbonPair struct {
	LeftOf  int     `json:"leftOf"`  // number of the sweep on the left of it, from the left end
	RightOf int     `json:"rightOf"` // of that on its right
	Length  float64 `json:"length"`  // m
	Area    float64 `json:"area"`    // m² as left
}

// surelyWide: a ribbon so many times as wide as headings waver by is there (about 95 % of a normal spread).
const surelyWide = 2.0

// ribbonsOf works them out: nil where the layout of the sweeps is not known.
func (r *Result) ribbonsOf(ctx context.Context, runs []drive.Run) (*Ribbons, error) {
	if !r.Work.Sweeps.Known() {
		return nil, nil
	}
	f := sweeps.Of(r.Work.Sweeps, false)
	base := f.Base()
	places, motions := make([][]sweeps.Place, len(runs)), make([][]sweeps.Motion, len(runs))
	if err := workers.Each(ctx, r.Work.Workers, len(runs), func(k int) error {
		places[k] = PlacesOf(runs[k])
		motions[k] = sweeps.Motions(places[k], base)
		for i, s := range runs[k].Stops {
			if !s.Told { // where the bar faces is then the way itself
				motions[k][i].Crab = 0
			}
		}
		return nil
	}); err != nil {
		return nil, err
	}
	out := &Ribbons{Cutting: make([]float64, len(f))}
	out.Before, out.Past = f.Ends()
	out.Supposed = r.Crab.Supposed()
	var squares, weights float64
	for k := range runs {
		w := sweeps.Waver(motions[k], places[k], base)
		squares, weights = squares+w*w*runs[k].Pass.Length, weights+runs[k].Pass.Length
		out.Told = out.Told || slices.ContainsFunc(runs[k].Stops, func(s drive.Stop) bool { return s.Told })
	}
	waver := math.Sqrt(squares / max(weights, 1))
	out.Waver = waver * 180 / math.Pi
	left, cutting := make([][]sweeps.Ribbon, len(runs)), make([][]float64, len(runs))
	if err := workers.Each(ctx, r.Work.Workers, len(runs), func(k int) error {
		cutting[k] = f.Cutting(places[k], motions[k])
		left[k] = append(f.Along(places[k], motions[k], waver), f.Combs(places[k])...)
		return nil
	}); err != nil {
		return nil, err
	}
	for _, one := range cutting {
		for i, m := range one {
			out.Cutting[i] += m
		}
	}
	var shapes []plane.Polygon
	sure := 0.0
	pairs := map[[2]int]*RibbonPair{}
	for _, one := range slices.Concat(left...) {
		shapes = append(shapes, plane.Polygon{one.Shape})
		out.Left += one.Area
		if one.Comb || one.Widest >= surelyWide*one.Wavering {
			sure += one.Area
		}
		if one.Comb {
			out.Combs += one.Area
			continue
		}
		out.Length, out.Widest = out.Length+one.Length, max(out.Widest, one.Widest)
		key := [2]int{one.Left, one.Right}
		if pairs[key] == nil {
			pairs[key] = &RibbonPair{LeftOf: one.Left, RightOf: one.Right}
		}
		pairs[key].Length += one.Length
		pairs[key].Area += one.Area
	}
	for _, p := range pairs {
		out.Pairs = append(out.Pairs, *p)
	}
	slices.SortFunc(out.Pairs, func(a, b RibbonPair) int {
		return cmp.Or(cmp.Compare(b.Area, a.Area), cmp.Compare(a.LeftOf, b.LeftOf), cmp.Compare(a.RightOf, b.RightOf))
	})
	if len(shapes) == 0 {
		return out, nil
	}
	inField, err := plane.Intersection(ctx, shapes, r.Layers.Field)
	if err == nil {
		out.Shapes, err = plane.Difference(ctx, inField, slices.Concat(r.Layers.Double, r.Layers.Unknown, r.Layers.Missed))
	}
	if err != nil {
		return nil, err
	}
	out.Area = ground.AreaOf(out.Shapes)
	out.Sure = out.Area * sure / out.Left
	if len(r.Layers.Headland) > 0 && len(out.Shapes) > 0 {
		there, err := plane.Intersection(ctx, out.Shapes, r.Layers.Headland)
		if err != nil {
			return nil, err
		}
		out.Headland = ground.AreaOf(there)
	}
	return out, nil
}

// PlacesOf is a run as sweeps take it, a place for every stop.
func PlacesOf(r drive.Run) []sweeps.Place {
	places := make([]sweeps.Place, len(r.Stops))
	for k, s := range r.Stops {
		right, left := r.Parts[s.Part].Reach()
		places[k] = sweeps.Place{At: r.Middle(s), Ahead: plane.XY{X: s.Left.Y, Y: -s.Left.X}.Unit(), S: s.S, Right: right, Left: left, Goes: s.Next == drive.StepWorked}
	}
	return places
}
