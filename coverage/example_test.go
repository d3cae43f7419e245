package coverage_test

import (
	"context"
	"fmt"
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// A field of 100 m by 30 m is worked in five passes of 6 m, and the fourth one bends 1 m aside in its second half: a wedge of 25 m² stays
// between it and the third.
func ExampleCheck() {
	local := geo.LocalAt(orb.Point{11.57, 48.14})
	at := func(x, y float64) orb.Point { return local.Point(plane.XY{X: x, Y: y}) }
	field := geo.Field{Name: "Short Acre (invented)", Boundary: orb.MultiPolygon{{{at(0, 0), at(100, 0), at(100, 30), at(0, 30), at(0, 0)}}}}
	log := geo.Track{Line: geom.NewMultiLineString(geom.XYM)}
	for k := range 5 {
		var flat []float64
		for x := 0.0; x <= 100; x += 10 {
			y := 3 + 6*float64(k)
			if k == 3 {
				y += max(0, x-50) / 50
			}
			p := at(x, y)
			flat = append(flat, p[0], p[1], math.NaN()) // no time
			log.State = append(log.State, geo.Working)
		}
		if err := log.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
			fmt.Println(err)
			return
		}
	}
	r, err := coverage.Check(context.Background(), field, []geo.Track{log}, drive.Work{Width: 6})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d passes, %.0f m² of %.0f m² missed\n", len(r.Passes), r.Balance.Missed, r.Balance.Field)
	s := r.Strips[0]
	fmt.Printf("strip %d between passes %v: %.0f m², up to %.1f m wide\n", s.Number, s.Passes, s.Area, s.MaxWidth)
	// Output:
	// 5 passes, 25 m² of 3000 m² missed
	// strip 1 between passes [3 4]: 25 m², up to 1.0 m wide
}
