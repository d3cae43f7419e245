package job

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/demo"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo/plane"
)

// stripOf says which cause a check has to give for a fault of the demo; faults without one leave no strip of their own.
var stripOf = map[demo.Kind]coverage.Cause{
	demo.Drifted: coverage.CauseDrift, demo.LiftedEarly: coverage.CauseLift, demo.LoweredLate: coverage.CauseLift, demo.LeftOut: coverage.CauseUndriven,
}

// What the check may say beside the faults, m²: a strip by itself, and of all of the field missed without a cause.
const (
	ofNote   = 10.0
	float    = 0.2   // m, 95 %, pass-to-pass error of a float fix; see coverage
	noteless = 1e-3  // share of the field
	doubled  = 0.019 // share of the interior, by laps at row ends and of rows that end askew, as the last one of the ribbon does and all that lie across Pond Piece
)

// amiss holds a check of a log of the demo to the list of what is wrong with it: what of the list is not found, with its
// place, kind and size, and what is said that is not on the list.
func amiss(t *testing.T, r coverage.Result, rounds int, faults []demo.Fault) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	width := r.Work.Credited()
	from := func(f demo.Fault, p plane.XY) float64 {
		return (plane.Segment{A: r.Local.XY(f.From), B: r.Local.XY(f.To)}).Dist(p)
	}
	found := make([]float64, len(faults))
	left := 0.0
	for _, s := range r.Strips {
		at := r.Local.XY(s.At)
		which := -1
		for i, f := range faults {
			near := width / 2
			if f.Kind == demo.Drifted || f.Kind == demo.WorseFix { // the gap lies beside the pass
				near += math.Abs(f.Size) + 0.5
			}
			if from(f, at) <= near && (s.Cause == stripOf[f.Kind] || f.Kind == demo.WorseFix && s.Surety != coverage.SuretyCertain) {
				which = i
			}
		}
		switch {
		case which >= 0:
			found[which] += s.Area
		case s.Headland && s.Cause == coverage.CauseCorner && atCorner(r, at, float64(rounds)*width):
		case s.Area > ofNote:
			say("strip %d of %.1f m² at %v, %s: not on the list", s.Number, s.Area, s.At, s.Cause)
		default:
			left += s.Area
		}
	}
	if left > noteless*r.Balance.Field {
		say("%.1f m² of small strips", left)
	}
	double := 0.0
	for i, f := range faults {
		if f.Kind == demo.Twice || f.Kind == demo.Drifted {
			double += f.Area
		}
		least, most := 0.8*f.Area, 1.15*f.Area
		switch f.Kind {
		case demo.Twice:
			found[i] = within(t, r, r.Layers.Double, f) + within(t, r, r.Layers.Triple, f)
		case demo.LogGap:
			found[i] = within(t, r, r.Layers.Unknown, f)
		case demo.WorseFix:
			least, most = 0, f.Area+3 // and what the receiver moves besides
			if math.Abs(r.Noise.PassError-float) > 1e-3 {
				say("pass-to-pass error of %g m: want that of a float fix, %g m", r.Noise.PassError, float)
			}
		}
		if testing.Verbose() {
			t.Logf("pass %d, %s: %.1f of %.1f m²", f.Pass, f.Kind, found[i], f.Area)
		}
		if !(found[i] >= least && found[i] <= most) {
			say("pass %d, %s, %.2f: %.1f m² found, want %.1f to %.1f m²", f.Pass, f.Kind, f.Size, found[i], least, most)
		}
		if !(f.Pass >= 1 && f.Pass <= len(r.Passes)) {
			say("pass %d of %d", f.Pass, len(r.Passes))
		}
	}
	if z := r.Zones.Interior; z.Double > double+doubled*z.Area {
		say("%.1f m² worked twice in the interior, %.1f m² of it on the list", z.Double, double)
	}
	if tight := drive.TurningOf(r.Turns); tight.Tight > 0 {
		say("%d turns tighter than the set may turn: %.1f m, %.0f°", tight.Tight, tight.Radius, tight.Angle)
	}
	for _, f := range r.Findings {
		if !strings.Contains(f.What, "log gaps while working: 1 ") && !strings.Contains(f.What, "the drawbar's angle is not logged: taken as straight at the start of each unbroken part (1)") {
			say("finding: %s", f.What)
		}
	}
	return out
}

// atCorner says whether a place lies where headland rounds so deep run round a corner of the boundary.
func atCorner(r coverage.Result, at plane.XY, deep float64) bool {
	for _, corner := range r.Layers.Field[0][0] {
		if corner.Dist(at) <= deep*math.Sqrt2 {
			return true
		}
	}
	return false
}

// within is the ground of a layer along a fault, half a width to either side.
func within(t *testing.T, r coverage.Result, layer []plane.Polygon, f demo.Fault) float64 {
	a, b := r.Local.XY(f.From), r.Local.XY(f.To)
	half := b.Sub(a).Scale(r.Work.Credited() / 2 / b.Dist(a)).Left()
	both, err := plane.Intersection(t.Context(), layer, []plane.Polygon{{{a.Sub(half), b.Sub(half), b.Add(half), a.Add(half)}}})
	if err != nil {
		t.Fatal(err)
	}
	return areaOf(both)
}

func areaOf(polys []plane.Polygon) (sum float64) {
	for _, p := range polys {
		sum += p.Area()
	}
	return sum
}

// The check finds each fault that is built into the demo, and nothing else of note.
func TestDemoFaultsAreFoundAndNoOthers(t *testing.T) {
	for _, seed := range []uint64{1, 2} {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) { faultsAreFound(t, seed) })
	}
}

func faultsAreFound(t *testing.T, seed uint64) {
	farm := filepath.Join(t.TempDir(), "farm")
	written, err := demo.Write(t.Context(), farm, seed, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		track, set string
		number     int
		rounds     int
	}{{"pond", "mounted", 1, 3}, {"elbow", "trailed", 2, 4}, {"ribbon", "mounted", 3, 3}, {"pond-across", "mounted", 1, 3}} {
		t.Run(c.track, func(t *testing.T) {
			call := (&Call{}).ready()
			im, err := call.Implement(filepath.Join(farm, "sweep-"+c.set+".toml"))
			if err != nil {
				t.Fatal(err)
			}
			s := Spec{Boundary: filepath.Join(farm, "fields.geojson"), Field: fmt.Sprint(c.number), Tracks: []string{filepath.Join(farm, "track-"+c.track+".geojson")},
				Work: drive.Work{Rounds: c.rounds}}
			s.Use(im, drive.WidthFile)
			rep, r, err := judge(t.Context(), s, nil, nil, call)
			if err != nil {
				t.Fatal(err)
			}
			if len(rep.SetAside) > 0 {
				t.Errorf("set aside: %v", rep.SetAside)
			}
			var faults []demo.Fault
			for _, f := range written.Faults {
				if f.Log == c.track {
					faults = append(faults, f)
				}
			}
			for _, what := range amiss(t, r, c.rounds, faults) {
				t.Error(what)
			}
			// The comparison itself can fail: with a fault kept back, said to be elsewhere, or larger.
			for i := range faults {
				if faults[i].Kind == demo.WorseFix {
					continue
				}
				kept := append(append([]demo.Fault{}, faults[:i]...), faults[i+1:]...)
				if leaves := stripOf[faults[i].Kind] != ""; leaves && len(amiss(t, r, c.rounds, kept)) == 0 {
					t.Errorf("%s at pass %d kept back, and nothing is said", faults[i].Kind, faults[i].Pass)
				}
				moved := append([]demo.Fault{}, faults...)
				moved[i].From, moved[i].To = r.Local.Point(r.Local.XY(moved[i].From).Add(plane.XY{X: 13, Y: 13})), r.Local.Point(r.Local.XY(moved[i].To).Add(plane.XY{X: 13, Y: 13}))
				if len(amiss(t, r, c.rounds, moved)) == 0 {
					t.Errorf("%s at pass %d looked for elsewhere, and nothing is said", faults[i].Kind, faults[i].Pass)
				}
				larger := append([]demo.Fault{}, faults...)
				larger[i].Area *= 2
				if len(amiss(t, r, c.rounds, larger)) == 0 {
					t.Errorf("%s at pass %d said to be twice as large, and nothing is said", faults[i].Kind, faults[i].Pass)
				}
			}
		})
	}
}
