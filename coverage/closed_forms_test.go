package coverage

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// param reads "w=6" and the like out of a parameter text.
func param(t *testing.T, text, name string) float64 {
	t.Helper()
	m := regexp.MustCompile(`(?:^|[ =])` + name + `=([0-9.]+)`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("parameters %q hold no %q", text, name)
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestClosedForms holds Check to the closed forms of testdata/check/coverage.
// Two of them have another model of the swath than ours: a round join at a bend
// (here the bar pivots: a triangle instead of the sector), and round caps (here
// flat, DESIGN.md section 3), which are left out. Circles are driven as polygons
// and compared at the chord's error.
func TestClosedForms(t *testing.T) {
	tried := 0
	for _, row := range check.Rows(t, "coverage/closed_forms.csv") {
		name, p, want := row.Text("name"), row.Text("parameters"), row.Number("closed_form")
		got, scale, tol := 0.0, math.Abs(want), 1e-6
		switch name {
		case "straight flat":
			l, w := param(t, p, "L"), param(t, p, "w")
			got = oneSwath(t, trial.Straight(plane.XY{X: -l / 2}, plane.XY{X: l / 2}, 2), w, 0)
		case "one bend flat caps round join":
			l, w, turn := param(t, p, "L2"), param(t, p, "w"), param(t, p, "turn")*math.Pi/180
			sin, cos := math.Sincos(turn)
			got = oneSwath(t, []plane.XY{{X: -l}, {}, {X: l * cos, Y: l * sin}}, w, 0)
			got += w * w / 8 * (turn - sin) // round join instead of the triangle
		case "full circle track":
			r, w := param(t, p, "R"), param(t, p, "w")
			n := min(720, int(2*math.Pi*r/0.06)) // fixes not nearer than parked
			got = oneSwath(t, trial.Arc(plane.XY{}, r, 0, 360, n), w, 10*r)
			tol = 4 * math.Pow(2*math.Pi/float64(n), 2) // the circle as a polygon, its first and last bar square to a chord
		case "semicircle turn":
			r, w := param(t, p, "R"), param(t, p, "w")
			got = oneSwath(t, trial.Arc(plane.XY{}, r, -90, 90, 400), w, 10*r)
			tol = 4 * math.Pow(math.Pi/400, 2)
		case "parallel union", "parallel double-worked", "parallel missed":
			b := parallel(t, param(t, p, "w"), param(t, p, "s"), param(t, p, "L"), int(param(t, p, "N")))
			got = map[string]float64{"parallel union": b.Once + b.Twice + b.More, "parallel double-worked": b.Twice + b.More, "parallel missed": b.Missed}[name]
			scale = b.Field
		case "crossing strips overlap":
			w1, w2, a := param(t, p, "w1"), param(t, p, "w2"), param(t, p, "angle")*math.Pi/180
			got = crossed(t, w1, w2, a)
		case "headland ring share":
			a, b, h := param(t, p, "a"), param(t, p, "b"), param(t, p, "h")
			s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-a/2, -b/2, a/2, b/2)}, Lines: [][]plane.XY{trial.Straight(plane.XY{}, plane.XY{X: 20}, 2)}}
			r := checked(t, s, drive.Work{Width: 6, Headland: h})
			got = r.Headland.Area / r.Balance.Field
		default:
			continue
		}
		tried++
		if !(math.Abs(got-want) <= tol*scale) {
			t.Errorf("%s %s: got %.9g, want %.9g within %.2g", name, p, got, want, tol*scale)
		}
	}
	if tried < 25 {
		t.Errorf("only %d rows were tried: the file or its names changed", tried)
	}
}

// oneSwath is the ground of one line on a field that holds it all.
func oneSwath(t *testing.T, line []plane.XY, width, relap float64) float64 {
	t.Helper()
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-500, -500, 500, 500)}, Lines: [][]plane.XY{line}}
	b := checked(t, s, drive.Work{Width: width, Relap: relap}).Balance
	if b.Twice+b.More > 1e-4 {
		t.Errorf("one pass without a second round worked %g m² twice", b.Twice+b.More)
	}
	return b.Once + b.Outside
}

func parallel(t *testing.T, w, pitch, long float64, n int) ground.Balance {
	t.Helper()
	high := pitch*float64(n-1) + w
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, long, high)}}
	for i := range n {
		y := w/2 + pitch*float64(i)
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: y}, plane.XY{X: long, Y: y}, 2.5))
	}
	return checked(t, s, drive.Work{Width: w}).Balance
}

// crossed is the ground two straight passes of different width have in common;
// the wider is the full width, the narrower is logged as such.
func crossed(t *testing.T, w1, w2, angle float64) float64 {
	t.Helper()
	sin, cos := math.Sincos(angle)
	one := trial.Sketch{Lines: [][]plane.XY{trial.Straight(plane.XY{X: -50}, plane.XY{X: 50}, 2), trial.Straight(plane.XY{X: -50 * cos, Y: -50 * sin}, plane.XY{X: 50 * cos, Y: 50 * sin}, 2)}}
	one.Rings = [][]plane.XY{trial.Rectangle(-60, -60, 60, 60)}
	track := one.Track()
	for k := range track.Fixes() {
		track.Width = append(track.Width, w1)
		if k >= len(one.Lines[0]) {
			track.Width[k] = w2
		}
	}
	r := checkTracks(t, one, drive.Work{Width: w1}, track)
	return r.Balance.Twice + r.Balance.More
}
