package ground

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// noisy is a kind of log: rows of a set of 5 m, up and down, whose receiver has white noise.
type noisy struct {
	noise, step, rate, lap float64 // m; m; fixes a second, 0: without times; m that neighbours share
}

// noisyLogs is a covering sample: of any three of the four properties every combination of values stands in it, as a test counts.
func noisyLogs() (out []noisy) {
	noises, steps := []float64{0, 0.02, 0.1, 0.3}, []float64{0.01, 0.083, 0.5, 2, 10}
	rates, laps := []float64{0, 1, 5, 20}, []float64{-0.2, 0, 0.1, 0.5}
	for i, step := range steps {
		for j, noise := range noises {
			for k, rate := range rates {
				out = append(out, noisy{noise, step, rate, laps[(i+j+k)%4]})
			}
		}
	}
	return out
}

func TestNoisyLogsCoverAll(t *testing.T) {
	seen := [4]map[[3]float64]bool{{}, {}, {}, {}}
	for _, c := range noisyLogs() {
		all := [4]float64{c.noise, c.step, c.rate, c.lap}
		for without := range seen {
			var three [3]float64
			copy(three[copy(three[:], all[:without]):], all[without+1:])
			seen[without][three] = true
		}
	}
	for without, want := range [4]int{5 * 4 * 4, 4 * 4 * 4, 4 * 5 * 4, 4 * 5 * 4} {
		if len(seen[without]) != want {
			t.Errorf("without property %d: %d combinations of the others, want %d", without, len(seen[without]), want)
		}
	}
}

// sketch is such a log of about n fixes, in rows of up to 300 m.
func (c noisy) sketch(n int) trial.Sketch {
	rng := rand.New(rand.NewPCG(uint64(n), 8))
	length := min(300, max(10, c.step*float64(n)/20))
	rows := max(2, int(float64(n)*c.step/length))
	pitch := 5 - c.lap
	h := pitch*float64(rows)/2 + 3
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-length/2-3, -h, length/2+3, h)}}
	for k := range rows {
		y, dir := (float64(k)-float64(rows-1)/2)*pitch, 1-2*float64(k%2)
		row := trial.Straight(plane.XY{X: -dir * length / 2, Y: y}, plane.XY{X: dir * length / 2, Y: y}, c.step)
		s.Lines = append(s.Lines, trial.Apply(row, func(p plane.XY) plane.XY {
			return plane.XY{X: p.X + c.noise*rng.NormFloat64(), Y: p.Y + c.noise*rng.NormFloat64()}
		}))
	}
	if c.rate > 0 {
		return s.Timed(1 / c.rate)
	}
	return s
}

// A dense log without times whose noise is not far below its step is read as one of an even clock: what it says of the ground is what the
// driving without noise left, within the noise that is left along the rows. Before, bars swung about, and most of a field was done twice.
func TestDenseLogsWithoutTimes(t *testing.T) {
	for _, c := range []noisy{{0.02, 0.083, 0, -0.2}, {0.1, 0.083, 0, 0.5}, {0.02, 0.01, 0, 0}, {0.1, 0.5, 0, -0.2}, {0.3, 2, 0, 0.1}} {
		exact := c
		exact.noise = 0
		var got [2]Balance
		var fixes int
		for i, c := range []noisy{c, exact} {
			s := c.sketch(10_000)
			field, track, w := s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 5, Overlap: 0.1, Workers: 1}
			runs := runsOf(t, field, track, w)
			polys := field.OnPlane(field.Local())
			laid, err := Lay(t.Context(), polys, polys, runs, nil, w, false)
			if err != nil {
				t.Fatal(err)
			}
			got[i], fixes = laid.Balance, track[0].Fixes()
			if from := runs[0].Pass.From; !from.IsZero() {
				t.Errorf("%+v: a pass of a log without times begins at %v", c, from)
			}
		}
		// The edges of a row are off by the noise of so many independent places that a tenth of it is left in the mean.
		allowed := c.noise * c.step * float64(fixes) / 10
		trial.Near(t, fmt.Sprintf("%+v: missed", c), got[0].Missed, got[1].Missed, allowed)
		trial.Near(t, fmt.Sprintf("%+v: twice and more", c), got[0].Twice+got[0].More, got[1].Twice+got[1].More, allowed)
		trial.Near(t, fmt.Sprintf("%+v: outside", c), got[0].Outside, got[1].Outside, allowed)
	}
}

// BenchmarkNoisyLogs lays noisy logs on one processor. Allowed are 2 µs of it per fix and 1.5 µs per crossing; "of allowed" says how
// much of that was taken. 10,000 fixes; with BALK_LARGE also 100,000, and a million of some.
func BenchmarkNoisyLogs(b *testing.B) {
	const perFix, perCrossing = 2000, 1500 // ns
	sizes := []int{10_000}
	if os.Getenv("BALK_LARGE") != "" {
		sizes = append(sizes, 100_000, 1_000_000)
	}
	for _, n := range sizes {
		for k, c := range noisyLogs() {
			if n == 1_000_000 && k%13 != 5 {
				continue
			}
			b.Run(fmt.Sprintf("fixes=%d/noise=%g/step=%g/rate=%g/lap=%g", n, c.noise, c.step, c.rate, c.lap), func(b *testing.B) {
				s := c.sketch(n)
				field := s.Field()
				track := []geo.Track{s.Track()}
				w := drive.Work{Width: 5, Overlap: 0.1, Workers: 1}
				polys, runs := field.OnPlane(field.Local()), runsOf(b, field, track, w)
				var took time.Duration
				crossings := 0
				for b.Loop() {
					before := check.CPUTime(b)
					laid, err := Lay(b.Context(), polys, polys, runs, nil, w, true)
					if err != nil {
						b.Fatal(err)
					}
					took += check.CPUTime(b) - before
					crossings = laid.Crossings
				}
				each := float64(took.Nanoseconds()) / float64(b.N)
				fixes := float64(track[0].Fixes())
				b.ReportMetric(each/fixes, "cpu-ns/fix")
				b.ReportMetric(float64(crossings)/fixes, "crossings/fix")
				b.ReportMetric(each/(perFix*fixes+perCrossing*float64(crossings)), "of-allowed")
			})
		}
	}
}
