package sheet

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/sheet/paper"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
)

func TestRoundScale(t *testing.T) {
	for least, want := range map[float64]float64{90: 100, 100: 100, 101: 150, 201: 250, 1001: 1500, 2200: 2500, 2501: 3000, 5001: 7500, 7501: 10000, 16000: 20000} {
		if got := roundScale(least); got != want {
			t.Errorf("at least 1 : %g: got 1 : %g, want 1 : %g", least, got, want)
		}
	}
}

// A place taken to the page and back is the same, north points along the turn, and
// lengths are those of the scale.
func TestViewAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		v := newView(paper.Rect(10, 20, 180, 100), plane.XY{X: rng.Float64() * 1000, Y: rng.Float64() * 1000}, 2500, rng.Float64()*180-90)
		p := plane.XY{X: rng.Float64() * 1000, Y: rng.Float64() * 1000}
		q := plane.XY{X: p.X, Y: p.Y + 25} // 10 mm to the north
		if d := v.back(v.at(p)).Dist(p); d > 1e-9 {
			t.Fatalf("turned %.1f°: back off by %g m", v.turn, d)
		}
		a, b := v.at(p), v.at(q)
		length, turn := math.Hypot(b[0]-a[0], b[1]-a[1]), math.Atan2(-(b[0]-a[0]), -(b[1]-a[1]))*180/math.Pi
		if math.Abs(length-10) > 1e-9 || math.Abs(turn-v.turn) > 1e-9 {
			t.Fatalf("25 m to the north are %.3f mm at %.2f°, want 10 mm at %.2f°", length, turn, v.turn)
		}
	}
}

func TestMapsTurnOnlyForMuch(t *testing.T) {
	frame := paper.Rect(0, 0, 190, 110)
	for _, c := range []struct {
		situation   string
		w, h, deg   float64
		scale, turn float64
	}{
		{"level", 360, 200, 0, 2000, 0},
		{"a little askew", 300, 200, 10, 2500, 0},
		{"square on its corner", 200, 200, 45, 2000, -45},
		{"long, askew", 1200, 40, 50, 7500, -50},
		{"long, the other way", 1200, 40, -60, 7500, 60},
		{"long, upright", 40, 1200, 0, 7500, 90},
	} {
		v := viewOf(frame, plane.Hull(turned(levelRing(-c.w/2, -c.h/2, c.w, c.h), c.deg)))
		if v.denominator != c.scale || v.turn != c.turn {
			t.Errorf("%s: 1 : %.0f turned %.0f°, want 1 : %.0f turned %.0f°", c.situation, v.denominator, v.turn, c.scale, c.turn)
		}
	}
}

// On every paper every real field lies within its frame and fills it as well as
// the next smaller round scale allows.
func TestRealFieldsFillTheirFrames(t *testing.T) {
	list, fields := trial.Registered(t), trial.OnPlanes(t)
	if len(fields) < 100 {
		t.Fatalf("%d fields", len(fields))
	}
	for i, polys := range fields {
		hull, err := outlineOf(polys)
		if err != nil {
			t.Fatal(err)
		}
		for _, frame := range []paper.Box{paper.Rect(10, 30, 180, 100), paper.Rect(10, 30, 160, 110), paper.Rect(10, 30, 269, 60)} {
			v := viewOf(frame, hull)
			room := frame.Inset(mapPad - 1e-6)
			for _, poly := range polys {
				for _, p := range poly[0] {
					if at := v.at(p); !room.Bound().Contains(at) {
						t.Fatalf("%s: %v lies off the frame %v", list[i].Name, at, frame)
					}
				}
			}
			if l := lie(hull, v.turn, frame.Inset(mapPad)); l.least < v.denominator/1.5-1 {
				t.Errorf("%s: 1 : %.0f, where 1 : %.0f would do", list[i].Name, v.denominator, l.least)
			}
		}
	}
}

// Sheets of real fields, some of many parts and holes.
func TestSheetsOfRealFields(t *testing.T) {
	list, fields := trial.Registered(t), trial.OnPlanes(t)
	for i := 0; i < len(fields); i += 12 {
		area := 0.0
		for _, poly := range fields[i] {
			for _, r := range poly {
				area += r.Area()
			}
		}
		r := coverage.Result{Field: geo.Field{Name: list[i].Name, Number: i + 1}, Local: list[i].Local(), Work: drive.Work{Width: 6}, Bar: drive.Bar{Width: 6, From: drive.WidthGiven, Least: 6, Most: 6, Whole: 1}}
		r.Layers.Field, r.Layers.Double = fields[i], fields[i]
		r.Balance = ground.Balance{Field: area, Twice: area}
		if n := len(printed(t, r, Page{})); n > 2<<20 {
			t.Errorf("%s: %d bytes", list[i].Name, n)
		}
	}
}

// Numbers of strips lie within the frame and on nothing else.
func TestNumbersOfStripsKeepApart(t *testing.T) {
	frame := paper.Rect(10, 10, 180, 100)
	var taken []paper.Box
	for i := range 60 {
		p := orb.Point{60 + 3*float64(i%10), 40 + 3*float64(i/10)}
		box, ok := placeBeside(p, 5, 2.9, frame, taken)
		if !ok {
			continue
		}
		if !box.Within(frame) || slices.ContainsFunc(taken, box.Meets) {
			t.Fatalf("number %d at %v", i, box)
		}
		taken = append(taken, box)
	}
	if len(taken) < 40 {
		t.Errorf("%d of 60 found room", len(taken))
	}
	if _, ok := placeBeside(orb.Point{100, 60}, 5, 2.9, frame, []paper.Box{frame}); ok {
		t.Error("a number found room where there is none")
	}
}
