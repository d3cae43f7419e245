package ground

import (
	"math"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
)

// againstReference compares a machine's log with the table that lies beside it
// (open/isobus/reference_coverage.csv, a union by another engine). The table took
// every step that ends at a working fix as a rectangle of its own, square to the
// step. The comparison goes in three steps, so that every difference is told:
//
//	(1) that method, on our plane and by our arrangement, gives the table's figures;
//	(2) with half of the steps from a lifted to a working fix and half of those back,
//	    and with the wedges that open between two rectangles outside of a bend, it
//	    gives Check's figures: a bar turns on the way, it does not jump;
//	(3) so Check works more ground and misses less than the table, and no more than
//	    the wedges hold.
func againstReference(t *testing.T, row map[string]string, f geo.Field, track geo.Track, b Balance) {
	t.Helper()
	local := f.Local()
	field := f.OnPlane(local)
	table := rectanglesOf(track, local, entered, false).over(t, field)
	for column, ours := range map[string]float64{
		"boundary_m2": AreaOf(field), "workdist_m": table.way, "gross_m2(L*w)": table.gross, "net_union_m2": table.net,
		"overlap_m2": table.gross - table.net, "missed_m2": table.missed, "outside_m2": table.outside,
	} {
		if theirs := trial.Number(t, row, column); math.Abs(ours-theirs) > 1.5 {
			t.Errorf("%s, %s by the table's method: %.1f, the table has %.0f", row["log"], column, ours, theirs)
		}
	}
	net := b.Once + b.Twice + b.More + b.Outside
	wedged := rectanglesOf(track, local, inMiddle, true).over(t, field)
	for _, v := range []struct {
		what         string
		ours, theirs float64
		share        float64 // of the net area
	}{
		{"worked", net, wedged.net, 0.003},
		{"missed", b.Missed, wedged.missed, 0.003},
		{"outside", b.Outside, wedged.outside, 0.001},
	} {
		if math.Abs(v.ours-v.theirs) > v.share*net {
			t.Errorf("%s, %s: %.0f m², rectangles with wedges %.0f m²", row["log"], v.what, v.ours, v.theirs)
		}
	}
	if flat := rectanglesOf(track, local, inMiddle, false).over(t, field); net < flat.net || b.Missed > flat.missed {
		t.Errorf("%s: worked %.0f m² and missed %.0f m², rectangles without wedges %.0f and %.0f m²", row["log"], net, b.Missed, flat.net, flat.missed)
	}
	t.Logf("%s: worked %+.2f %%, missed %+.1f %%, outside %+.1f %% of the table", row["log"],
		100*(net/table.net-1), 100*(b.Missed/table.missed-1), 100*(b.Outside/table.outside-1))
}

// rectangles are the steps of a log, each as a piece of ground of its own.
type rectangles struct {
	polys      []plane.Polygon
	way, gross float64 // m, m²
}

// Where work begins and ends between a lifted and a working fix.
const (
	entered  = iota // a step that ends at a working fix is worked, one that begins there is not
	inMiddle        // inMiddle, both times
)

// rectanglesOf takes the steps between two working fixes and what the switch adds;
// with wedges also the triangles that open between two of them outside of a bend
// of less than 90°.
func rectanglesOf(track geo.Track, local geo.Local, lift int, wedges bool) rectangles {
	flat := track.Line.FlatCoords()
	at := func(k int) plane.XY { return local.XY(orb.Point{flat[3*k], flat[3*k+1]}) }
	// step is the worked part of the way from fix k-1 to k
	step := func(k int) (a, b plane.XY, width float64, ok bool) {
		a, b, width = at(k-1), at(k), track.Width[k]
		before, behind := track.State[k-1] == geo.Working, track.State[k] == geo.Working
		switch {
		case lift == inMiddle && before && !behind:
			b, width = a.Lerp(b, 0.5), track.Width[k-1]
		case lift == inMiddle && behind && !before:
			a = a.Lerp(b, 0.5)
		default:
			return a, b, width, behind && (before || lift == entered) && a != b
		}
		return a, b, width, a != b
	}
	var out rectangles
	add := func(ring plane.Ring) {
		for i := range ring {
			ring[i] = plane.Snap(ring[i])
		}
		if ring.Area() < 0 {
			ring[1], ring[2] = ring[2], ring[1]
		}
		if ring.Area() > 0 {
			out.polys = append(out.polys, plane.Polygon{ring})
		}
	}
	half := func(a, b plane.XY, width float64) plane.XY { // from the middle to the left end of the bar
		return b.Sub(a).Left().Scale(width / 2 / a.Dist(b))
	}
	for k := 1; k < track.Fixes(); k++ {
		a, b, width, ok := step(k)
		if !ok {
			continue
		}
		h := half(a, b, width)
		out.way += a.Dist(b)
		out.gross += a.Dist(b) * width
		add(plane.Ring{a.Sub(h), b.Sub(h), b.Add(h), a.Add(h)})
		if !wedges || k+1 == track.Fixes() {
			continue
		}
		if c, d, width, ok := step(k + 1); ok && c == b {
			if g := half(c, d, width); h.Dot(g) > 0 {
				add(plane.Ring{b, b.Add(h), b.Add(g)})
				add(plane.Ring{b, b.Sub(h), b.Sub(g)})
			}
		}
	}
	return out
}

// union is what rectangles leave of a field.
type union struct {
	rectangles
	net, missed, outside float64 // m²
}

func (r rectangles) over(t *testing.T, field []plane.Polygon) union {
	t.Helper()
	all, err := plane.Union(t.Context(), r.polys, nil)
	if err != nil {
		t.Fatal(err)
	}
	inside, err := plane.Intersection(t.Context(), all, field)
	if err != nil {
		t.Fatal(err)
	}
	return union{r, AreaOf(all), AreaOf(field) - AreaOf(inside), AreaOf(all) - AreaOf(inside)}
}
