package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	geom "github.com/twpayne/go-geom"
)

const foot = 0.3048 // m, by definition

// TestRealSeedingLog checks a real log (shared folder open/, MIT licence, Montana
// State University 2020): 23,047 fixes of seeding at 1 Hz with headings and
// section widths. What was missed is not known from elsewhere; the balance must
// close and most of the field must be worked.
func TestRealSeedingLog(t *testing.T) {
	field, track := trial.Seeding(t)
	w := drive.Work{Width: 13.2, Overlap: 0.2, Rounds: 2}
	r, err := Check(t.Context(), field, []geo.Track{track}, w)
	if err != nil {
		t.Fatal(err)
	}
	b := r.Balance
	if math.Abs(b.Residual) > 1e-9*b.Field || math.Abs(b.SwathResidual) > 1e-9*b.Field {
		t.Errorf("residuals %g and %g m²", b.Residual, b.SwathResidual)
	}
	if worked := (b.Once + b.Twice + b.More) / b.Field; worked < 0.9 {
		t.Errorf("worked %.3f of the field, want above 0.9", worked)
	}
}

// TestRealFields works the open fields (shared folder open/, licence in each
// feature) with wandering parallel passes in the direction of their longest edge:
// the balance must close on each of them.
func TestRealFields(t *testing.T) {
	worst, tried := 0.0, 0
	for k, field := range trial.Registered(t) {
		tried++
		track, width := simulated(field, uint64(k))
		r, err := Check(t.Context(), field, []geo.Track{track}, drive.Work{Width: width, Overlap: 0.1, Headland: 10})
		if err != nil {
			t.Errorf("field %d: %v", k+1, err)
			continue
		}
		worst = max(worst, math.Abs(r.Balance.Residual)/r.Balance.Field)
	}
	if tried < 150 || worst > 1e-9 {
		t.Errorf("%d fields, worst residual %.2g of the field: want at least 150, at most 1e-9", tried, worst)
	}
}

// simulated is passes over a field's bounding box in one track, and their working
// width: 5 m, more on large fields to keep the test short.
func simulated(f geo.Field, seed uint64) (geo.Track, float64) {
	rng := rand.New(rand.NewPCG(seed, 10))
	local := f.Local()
	box, long, dir := plane.EmptyBox(), 0.0, plane.XY{X: 1}
	for _, p := range f.OnPlane(local) {
		for i, a := range p[0] {
			e := p[0][(i+1)%len(p[0])].Sub(a)
			if box = box.Extend(a); e.Len() > long {
				long, dir = e.Len(), e.Scale(1/e.Len())
			}
		}
	}
	half := box.Max.Sub(box.Min).Len() / 2
	width := min(max(5, half/12), 60)
	centre := box.Min.Lerp(box.Max, 0.5)
	var flat []float64
	var ends []int
	for y := -half; y < half; y += width - 0.1 {
		for x := -half; x < half; x += 3 {
			p := centre.Add(dir.Scale(x + 0.02*rng.NormFloat64())).Add(dir.Left().Scale(y + 0.02*rng.NormFloat64()))
			q := local.Point(p)
			flat = append(flat, q[0], q[1], math.NaN())
		}
		ends = append(ends, len(flat))
	}
	return geo.Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, ends)}, width
}
