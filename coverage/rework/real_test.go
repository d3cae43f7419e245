package rework

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// seeder is a trailed set as wide as the machine of the log; its other dimensions are invented.
var seeder = rig.Implement{Width: 13.2, Overlap: 0.2,
	Mount:   rig.Mount{Trailed: true, AntennaAhead: 0.4, Hitch: 1.4, Drawbar: 5, BarBehind: 1, MaxAngle: 70, DrawbarRadius: 8, AntennaUp: 3},
	Tractor: rig.Tractor{Ahead: 4.5, Behind: 1, Width: 3}, Body: rig.Body{Ahead: 3, Behind: 1, Width: 6},
	Turning: rig.Turning{Radius: 7, Speed: 6, Margin: 0.5}}

// TestRealSeedingLog plans the re-work of a real log (shared folder open/, origin and licence in
// its SOURCES.md): the plan keeps its contract, and nearly nothing of the strips is left.
func TestRealSeedingLog(t *testing.T) {
	field, log := trial.Seeding(t)
	r, err := coverage.Check(t.Context(), field, []geo.Track{log}, drive.Work{Width: 13.2, Overlap: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	p := planOf(t, r, seeder, Options{LeastArea: 5})
	t.Logf("%d strips, %d chosen, %d passes: missed %.0f m², covered %.0f, left %.0f, for nothing %.0f, outside %.0f, unknown %.0f; way %.0f m, %.0f s, %d pieces do not fit; %.1f s",
		len(r.Strips), len(p.Chosen), len(p.Passes), p.Missed, p.Covered, p.Left, p.ExtraDouble, p.Outside, p.Unknown, p.Length, p.Time, p.Unfit, time.Since(began).Seconds())
	audit(t, r, seeder, p)
	if len(p.Chosen) < 10 || !p.Outlined {
		t.Errorf("%d strips chosen, ways checked with the outline: %v", len(p.Chosen), p.Outlined)
	}
}

// TestOpenFields: on every tenth field of open registers, worked in rows at an odd bearing with gaps
// between and rows broken off, the plan keeps its contract.
func TestOpenFields(t *testing.T) {
	fields := trial.Registered(t)
	seed := check.Seed(t)
	for k := 0; k < len(fields); k += 10 {
		t.Run(fmt.Sprintf("field %d", k+1), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(seed, uint64(k)))
			s, width := rowsOver(fields[k], rng)
			r, err := coverage.Check(t.Context(), fields[k], []geo.Track{trackOf(fields[k].Local(), s)}, drive.Work{Width: width, PassError: 0.02})
			if err != nil {
				t.Fatal(err)
			}
			im := rig.Implement{Width: width, Turning: rig.Turning{Radius: 6}}
			began := time.Now()
			p := planOf(t, r, im, Options{LeastArea: width})
			if d := time.Since(began).Seconds(); d >= 0 {
				t.Logf("width %.0f: %d strips, %d chosen, %d passes, missed %.0f m², left %.0f, for nothing %.0f; way %.0f m, %d pieces do not fit; %.1f s", width,
					len(r.Strips), len(p.Chosen), len(p.Passes), p.Missed, p.Left, p.ExtraDouble, p.Length, p.Unfit, d)
			}
			audit(t, r, im, p)
		})
	}
}

// rowsOver are rows over the box of a field, the set in work within its outer rings only.
func rowsOver(f geo.Field, rng *rand.Rand) (lines [][]plane.XY, width float64) {
	field := f.OnPlane(f.Local())
	box := plane.EmptyBox()
	for _, p := range field {
		box = box.Extend(p[0]...)
	}
	middle, reach := box.Min.Lerp(box.Max, 0.5), box.Min.Dist(box.Max)/2
	width = min(36, max(3, math.Round(reach/20)))
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	along, across := plane.XY{X: cos, Y: sin}, plane.XY{X: -sin, Y: cos}
	for y := -reach; y <= reach; y += width - 0.1 {
		shift := 0.0
		if rng.IntN(3) == 0 {
			shift = 0.8 * (rng.Float64() - 0.5)
		}
		place := func(x float64) plane.XY { return middle.Add(along.Scale(x)).Add(across.Scale(y + shift)) }
		cut := reach * (2*rng.Float64() - 1)
		if rng.IntN(3) > 0 {
			lines = append(lines, spaced([]plane.XY{place(-reach), place(reach)}, 3))
			continue
		}
		lines = append(lines, spaced([]plane.XY{place(-reach), place(cut)}, 3), spaced([]plane.XY{place(cut + 3*width), place(reach + 3*width)}, 3))
	}
	return lines, width
}
