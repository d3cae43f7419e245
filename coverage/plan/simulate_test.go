package plan

import (
	"math"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// logOf is the log, on an invented place on earth, of a set that drives a plan as drawn: its field, and the track of the
// bar's middle. The tool is lowered and lifted a millimetre before and behind each pass.
func logOf(t *testing.T, p Plan) (geo.Field, geo.Track) {
	t.Helper()
	place := geo.LocalAt(orb.Point{10, 50})
	f := geo.Field{Name: "plan", Number: 1}
	for _, poly := range p.Field {
		var rings orb.Polygon
		for _, r := range poly {
			var ring orb.Ring
			for _, q := range r {
				ring = append(ring, place.Point(q))
			}
			rings = append(rings, append(ring, ring[0]))
		}
		f.Boundary = append(f.Boundary, rings)
	}
	var flat []float64
	track := geo.Track{}
	fix := func(state geo.WorkState, line ...plane.XY) {
		for _, at := range line {
			q := place.Point(at)
			flat, track.State = append(flat, q[0], q[1], math.NaN()), append(track.State, state)
		}
	}
	moves, err := turnerOf(p.Implement, p.Field)
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range p.Moves {
		if way := moves.lifted(m); len(way) > 2 {
			fix(geo.Lifted, way[1:len(way)-1]...)
		}
		if i == len(p.Passes) {
			break
		}
		line := spaced(p.Passes[i].Line)
		n := len(line)
		fix(geo.Lifted, line[0].Add(line[0].Sub(line[1]).Scale(1e-3/line[0].Dist(line[1]))))
		fix(geo.Working, line...)
		fix(geo.Lifted, line[n-1].Add(line[n-1].Sub(line[n-2]).Scale(1e-3/line[n-1].Dist(line[n-2]))))
	}
	track.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})
	return f, track
}

// TestSimulateIsCheck: what a plan comes to is what Check finds in the log of a set that drives it: to a ten
// millionth of the field, and what was driven over with the tool lifted to a thousandth of the headland's missed ground
// per move, since there the set stands a millimetre farther.
func TestSimulateIsCheck(t *testing.T) {
	for name, c := range map[string]struct {
		field []plane.Polygon
		im    rig.Implement
		opt   Options
	}{
		"mounted":                    {box(200, 120), mounted(6), Options{Speed: 8, Rounds: 2}},
		"drawn, aslant":              {box(160, 90), trailed(6), Options{Speed: 8, Rounds: 2, Heading: 0.7}},
		"round an obstacle, overlap": {[]plane.Polygon{{rectangle(0, 0, 200, 120), hole(80, 40, 110, 70)}}, mounted(5), Options{Speed: 8, Rounds: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			p, got := laid(t, c.field, c.im, c.opt)
			f, track := logOf(t, p)
			w := drive.Work{Headland: p.Depth, Working: drive.EvidenceLogged, GapDist: 1e4, GapTime: 86400}.With(p.Implement)
			w.Mount = rig.Mount{} // the track is that of the bar's middle
			want, err := coverage.Check(t.Context(), f, []geo.Track{track}, w)
			if err != nil {
				t.Fatal(err)
			}
			b, h := want.Balance, want.Headland
			if len(want.Passes) != len(p.Passes) || b.Missed == 0 || h.Twice == 0 {
				t.Fatalf("%d passes of %d; too tame: %+v", len(want.Passes), len(p.Passes), b)
			}
			for what, v := range map[string]struct{ got, want float64 }{
				"field": {got.Field, b.Field}, "missed": {got.Missed, b.Missed}, "double": {got.Double, b.Twice + b.More},
				"outside": {got.Outside, b.Outside}, "headland": {got.Headland, h.Area}, "missed in the headland": {got.HeadlandLeft, h.Missed},
				"worked twice in the headland": {got.HeadlandTwice, h.Twice},
			} {
				if math.Abs(v.got-v.want) > 1e-7*b.Field {
					t.Errorf("%s: %.6f m², Check finds %.4f m² in its log", what, v.got, v.want)
				}
			}
			if most := 1e-3 * float64(len(p.Moves)) * h.Missed; math.Abs(got.HeadlandLifted-h.Lifted) > most {
				t.Errorf("driven over with the tool lifted: %.4f m², Check finds %.4f m² in its log", got.HeadlandLifted, h.Lifted)
			}
		})
	}
}
