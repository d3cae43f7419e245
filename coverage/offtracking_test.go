package coverage

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// turningTable reads a file of check values: comments and the head line left out.
func turningTable(t *testing.T, name string) [][]string {
	t.Helper()
	shared := os.Getenv("BALK_SHARED")
	if shared == "" {
		t.Skip("skipped: BALK_SHARED is not set")
	}
	b, err := os.ReadFile(filepath.Join(shared, "check", "turning", name))
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %v, %d rows", name, err, len(rows))
	}
	return rows[1:]
}

func checkValue(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func degrees(u, e plane.XY) float64 { return math.Atan2(e.Cross(u), e.Dot(u)) * 180 / math.Pi }

// Source: check/turning/tractrix.csv, closed forms checked there by integration.
func TestFollowTractrix(t *testing.T) {
	for _, row := range turningTable(t, "tractrix.csv") {
		l, psi0, s, want := checkValue(t, row[2]), checkValue(t, row[3]), checkValue(t, row[4]), checkValue(t, row[5])
		sin, cos := math.Sincos(-psi0 * math.Pi / 180)
		e := plane.XY{X: cos, Y: sin} // the hitch starts to the east
		t.Run(strings.Join(row[:5], " "), func(t *testing.T) {
			if row[0] == "straight" {
				for _, pieces := range []int{1, 7} { // exact in one step and in many
					f := e
					for range pieces {
						f = follow(f, plane.XY{X: s / float64(pieces)}, l)
					}
					if got := degrees(plane.XY{X: 1}, f); math.Abs(got-want) > 1e-6 {
						t.Errorf("%d steps: %.9f°, want %.9f°", pieces, got, want)
					}
				}
				return
			}
			r := checkValue(t, row[1])
			const n = 200000
			at := func(k int) plane.XY {
				sin, cos := math.Sincos(s / r * float64(k) / n)
				return plane.XY{X: r * sin, Y: r * (1 - cos)}
			}
			for k := range n {
				e = follow(e, at(k+1).Sub(at(k)), l)
			}
			sin, cos := math.Sincos(s / r)
			if got := degrees(plane.XY{X: cos, Y: sin}, e); math.Abs(got-want) > 1e-6 {
				t.Errorf("%.9f°, want %.9f°", got, want)
			}
		})
	}
}

// circleTrail is an antenna on a circle round the origin, logged every step metres.
func circleTrail(radius, step, travel float64) *trail {
	tr := &trail{}
	for k := 0; float64(k)*step <= travel; k++ {
		sin, cos := math.Sincos(float64(k) * step / radius)
		tr.at = append(tr.at, plane.XY{X: radius * cos, Y: radius * sin})
		tr.seconds = append(tr.seconds, float64(k))
	}
	tr.tracks = []trackStart{{0, 0}}
	return tr
}

// A trailed set on a circle settles on √(R² + h² − L²) to 1 mm, whether logged at
// 1 Hz or 10 Hz. Source: check/turning/trailer_steady.csv (own derivation: hitch,
// axle and centre form right triangles with h and L).
func TestTrailedSetSettlesOnItsCircle(t *testing.T) {
	for _, row := range turningTable(t, "trailer_steady.csv") {
		r, h, l, want := checkValue(t, row[0]), checkValue(t, row[1]), checkValue(t, row[2]), checkValue(t, row[4])
		if want < 1e-9 {
			continue
		}
		for _, step := range []float64{0.25, 1, 2} {
			t.Run(fmt.Sprintf("R %g h %g L %g, a fix every %g m", r, h, l, step), func(t *testing.T) {
				tr := circleTrail(r, step, 40*(r+l))
				tr.place(Mount{Trailed: true, Hitch: h, Drawbar: l})
				got := tr.at[len(tr.at)-2].Len()
				if math.Abs(got-want) > 1e-3 {
					t.Errorf("runs on %.5f m, want %.5f m", got, want)
				}
			})
		}
	}
}

// The antenna stands a metre ahead of the rear axle and half a metre to its
// right; the bar is carried 2 m behind the axle, 0.3 m to the right. On a circle
// driven left, the axle settles on √(R² − a²).
func TestRigidSetOnALine(t *testing.T) {
	m := Mount{AntennaAhead: 1, AntennaRight: 0.5, Hitch: 2.5, BarBehind: 0.5, BarRight: 0.3}
	tr := &trail{tracks: []trackStart{{0, 0}}}
	for k := range 40 {
		tr.at = append(tr.at, plane.XY{X: float64(2 * k), Y: 5})
		tr.seconds = append(tr.seconds, float64(k))
	}
	tr.place(m)
	// east: right is south. Middle of the tractor 0.5 m left of the antenna, bar
	// 0.3 m right of it: 5 + 0.5 − 0.3.
	if got, want := tr.at[30], (plane.XY{X: 60 - 3, Y: 5.2}); got.Dist(want) > 1e-9 {
		t.Errorf("bar at %v, want %v", got, want)
	}
	if f := tr.facing[30]; f.Dist(plane.XY{X: 1}) > 1e-9 {
		t.Errorf("faces %v, want east", f)
	}
}

func TestAntennaAheadOfTheAxle(t *testing.T) {
	const r, a, behind = 12.0, 1.5, 2.0
	tr := circleTrail(r, 1, 300)
	tr.place(Mount{AntennaAhead: a, Hitch: a + behind}) // bar 2 m behind the axle, rigid
	axle := math.Sqrt(r*r - a*a)
	if got, want := tr.at[250].Len(), math.Hypot(axle, behind); math.Abs(got-want) > 1e-3 {
		t.Errorf("bar runs on %.5f m, want %.5f m", got, want)
	}
}

// Standing still for a minute with 1 cm of noise turns neither tractor nor bar.
func TestParkedSetDoesNotTurn(t *testing.T) {
	tr := &trail{tracks: []trackStart{{0, 0}}}
	add := func(p plane.XY) {
		tr.at, tr.seconds = append(tr.at, p), append(tr.seconds, float64(len(tr.seconds)))
	}
	for k := range 20 {
		add(plane.XY{X: float64(k)})
	}
	for k := range 60 {
		sin, cos := math.Sincos(float64(k) * 2.4)
		add(plane.XY{X: 19 + 0.01*cos, Y: 0.01 * sin})
	}
	for k := range 20 {
		add(plane.XY{X: 20 + float64(k)})
	}
	tr.place(Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1})
	for k, f := range tr.facing {
		if math.Abs(f.Y) > 0.02 {
			t.Fatalf("fix %d: bar faces %v, want east", k, f)
		}
	}
}

// What is cut in a bend: a trailed set leaves the outer edge of the tractor's way.
func TestMountReachesTheBalance(t *testing.T) {
	field := rectangle(0, 0, 100, 60)
	s := sketch{rings: [][]plane.XY{field}, lines: [][]plane.XY{straight(plane.XY{X: 10, Y: 30}, plane.XY{X: 90, Y: 30}, 2)}}
	// the bar stays 7 m behind: it works 80 m all the same, from 3 m on
	r := s.check(t, Work{Width: 6, Mount: Mount{Trailed: true, Hitch: 2, Drawbar: 4, BarBehind: 1}})
	if got := r.Balance.Once; math.Abs(got-480) > 1e-6 {
		t.Errorf("worked %.6f m², want 480 m²", got)
	}
	if r.Passes[0].Line[0].Dist(r.Passes[0].Line[len(r.Passes[0].Line)-1]) < 79.9 {
		t.Error("the pass is shorter than driven")
	}
}

func TestMountIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		m    Mount
	}{
		{"trailed without a drawbar", Mount{Trailed: true}},
		{"rigid with a drawbar", Mount{Drawbar: 4}},
		{"antenna behind the axle", Mount{AntennaAhead: -1}},
		{"a hitch of 100 m", Mount{Hitch: 100}},
		{"no number", Mount{BarRight: math.NaN()}},
	} {
		if err := (Work{Width: 5, Mount: c.m}).Validate(); err == nil {
			t.Errorf("%s: taken", c.name)
		}
	}
}

// Half of the sections are off: 3 of 6 m work, their middle 1.5 m right of the
// antenna's line. Driving east, that is south of it.
func TestSectionsOffShiftTheSwath(t *testing.T) {
	field := rectangle(0, 0, 100, 60)
	line := straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := sketch{rings: [][]plane.XY{field}, lines: [][]plane.XY{line}}
	track := s.track()
	for range line {
		track.Width, track.Offset = append(track.Width, 3), append(track.Offset, 1.5)
	}
	r, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 6})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Balance.Once-300) > 1e-6 {
		t.Errorf("worked %.6f m², want 300 m²", r.Balance.Once)
	}
	// Worked is y = 27 to 30. What is missed lies 27 m below and 30 m above.
	if len(r.Strips) != 2 || math.Abs(r.Strips[0].Area-3000) > 0.1 || math.Abs(r.Strips[1].Area-2700) > 0.1 {
		t.Errorf("strips %+v", r.Strips)
	}
}
