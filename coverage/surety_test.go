package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestSuretyInClosedForm: 6 m wide, error from pass to pass 10 cm, sliver 2 cm. A
// gap between passes shrinks by 10 cm (certain from 12 cm) or 5 cm (likely from 7
// cm); one along the boundary by 14.4 cm or 7.2 cm.
func TestSuretyInClosedForm(t *testing.T) {
	// Lifted d before the boundary, and before a headland pass along x = 97.
	lifted := func(d float64) trial.Sketch {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}, Lines: trial.Rows(0, 100, 3, 9, 15)}
		s.Lines[1] = trial.Straight(plane.XY{Y: 9}, plane.XY{X: 100 - d, Y: 9}, 2)
		return s
	}
	short := func(d float64) trial.Sketch {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}, Lines: trial.Rows(0, 94, 3, 9, 15)}
		s.Lines[1] = trial.Straight(plane.XY{Y: 9}, plane.XY{X: 94 - d, Y: 9}, 2)
		s.Lines = append(s.Lines, trial.Straight(plane.XY{X: 97}, plane.XY{X: 97, Y: 18}, 2))
		return s
	}
	within := func(d float64) trial.Sketch { // the tool is lifted d metres long inside a row
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 6)}, Lines: trial.Rows(0, 50, 3)}
		s.Lines = append(s.Lines, trial.Straight(plane.XY{X: 50 + d, Y: 3}, plane.XY{X: 100, Y: 3}, 2))
		return s
	}
	edge := func(g float64) trial.Sketch {
		return trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18+g)}, Lines: trial.Rows(0, 100, 3, 9, 15)}
	}
	// Against the boundary a place errs by the day's error too, which is as large as that within the drive; its deviation is 1/1.96/√(2·(1 − m))
	// of the pass-to-pass error, m the mean of exp(−t/10 min) over 15 min: 0.5179 (see perPassError, ground.AgainstBoundary).
	const against = 0.1 * math.Sqrt2 / 0.98193
	const rim = against - 0.05 // beyond what the outer pass is wider by
	for _, c := range []struct {
		name    string
		s       trial.Sketch
		want    Surety
		area    float64 // m² of the strip
		certain float64 // m²
	}{
		{"passes 30 cm apart", trial.Gapped(0.3), SuretyCertain, 30, 0.2 * (100 - 2*rim)},
		{"passes 21 cm apart", trial.Gapped(0.21), SuretyCertain, 21, 0.11 * (100 - 2*rim)},
		{"passes 13 cm apart", trial.Gapped(0.13), SuretyLikely, 13, 0.03 * (100 - 2*rim)},
		{"passes 11 cm apart", trial.Gapped(0.11), SuretyLikely, 11, 0},
		{"passes 8 cm apart", trial.Gapped(0.08), SuretyPossible, 8, 0},
		{"passes 6 cm apart", trial.Gapped(0.06), SuretyPossible, 6, 0},
		{"passes 3 cm apart", trial.Gapped(0.03), SuretyPossible, 3, 0},
		{"lifted 2 m before the boundary", lifted(2), SuretyCertain, 12, (2 - against) * (6 - 0.1)},
		{"lifted 32 cm before the boundary", lifted(0.32), SuretyCertain, 1.92, (0.32 - against) * (6 - 0.1)},
		{"lifted 16 cm before the boundary", lifted(0.16), SuretyLikely, 0.96, 0},
		{"lifted 11 cm before the boundary", lifted(0.11), SuretyPossible, 0.66, 0},
		{"lifted 4 cm before the boundary", lifted(0.04), SuretyPossible, 0.24, 0},
		{"lifted 30 cm before the headland pass", short(0.3), SuretyCertain, 1.8, 0.2 * (6 - 0.1)},
		{"lifted 8 cm before the headland pass", short(0.08), SuretyPossible, 0.48, 0},
		{"lifted for 50 cm in the row", within(0.5), SuretyCertain, 3, 0.4 * (6 - 2*rim)},
		{"lifted for 8 cm in the row", within(0.08), SuretyPossible, 0.48, 0},
		{"lifted for 6 cm in the row", within(0.06), SuretyPossible, 0.36, 0},
		{"strip of 20 cm along the boundary", edge(0.2), SuretyLikely, 20, (0.2 - against) * (100 - 2*rim)},
		{"strip of 10 cm along the boundary", edge(0.1), SuretyPossible, 10, 0},
		{"strip of 4 cm along the boundary", edge(0.04), SuretyPossible, 4, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			turn := func(p plane.XY) plane.XY { return plane.XY{X: 0.6*p.X - 0.8*p.Y, Y: 0.8*p.X + 0.6*p.Y} }
			for _, s := range []trial.Sketch{c.s, c.s.Reversed(), c.s.Moved(turn)} {
				r := checked(t, s, drive.Work{Width: 6, PassError: 0.1})
				n := r.Noise
				if n.PassError != 0.1 || n.PassErrorFrom != "given" || n.Rounding != 0 || n.Why != "" {
					t.Errorf("error %g m from %q, rounding %g m, %q", n.PassError, n.PassErrorFrom, n.Rounding, n.Why)
				}
				if c.certain > 0 { // else hairlines may be left
					atLeast(t, "certainly missed", r.Telling.Missed[0], c.certain-250.0/8000)
				}
				if c.want == SuretyPossible && len(r.Strips) == 0 { // nothing of it is likely
					if len(r.Strips) != 0 || n.Pieces != 1 {
						t.Fatalf("%d strips, %d pieces only possible: want 0, 1", len(r.Strips), n.Pieces)
					}
					trial.Near(t, "area only possible", n.Area, c.area, 250.0/8000)
					continue
				}
				if len(r.Strips) != 1 || n.Pieces != 0 {
					t.Fatalf("%d strips, %d pieces only possible: want 1, 0", len(r.Strips), n.Pieces)
				}
				g := r.Strips[0]
				if g.Surety != c.want || g.Likely == 0 {
					t.Errorf("surety %q, %g m² likely, want %q and some", g.Surety, g.Likely, c.want)
				}
				trial.Near(t, "area", g.Area, c.area, 250.0/8000) // drawn polygons are rounded to an eighth of a millimetre
				trial.Near(t, "certain", g.Certain, c.certain, 250.0/8000)
			}
		})
	}
}

// TestAStripIsCertainInThePartThatIs: passes 6 cm apart by an error of 10 cm, which is only possible, and in the middle
// half a metre apart over some metres: that part is certain, and the strip is named by what most of it is.
func TestAStripIsCertainInThePartThatIs(t *testing.T) {
	for _, c := range []struct {
		name    string
		gap     float64 // m between the passes
		from    float64 // m, where the wide part begins; it ends at 60
		certain float64 // m², by the widths: 0.5 − 0.1 over the wide part, and gap − 0.1
		likely  float64
		want    Surety
	}{
		{"a twentieth of its length", 0.055, 55, 0.4 * 5, 0.45*5 + 0.005*95, SuretyPossible},
		{"a twentieth of its length, the rest likely", 0.11, 55, 0.4*5 + 0.01*95, 0.45*5 + 0.06*95, SuretyLikely},
		{"more than half of its area", 0.06, 35, 0.4 * 25, 0.45*25 + 0.01*75, SuretyCertain},
		{"a little of it all along", 0.12, 55, 0.4*5 + 0.02*95, 0.45*5 + 0.07*95, SuretyLikely},
	} {
		line := []plane.XY{}
		for x := 0.0; x <= 100; x += 0.25 {
			y := 9 + c.gap
			if x > c.from && x < 60 {
				y = 9.5
			}
			line = append(line, plane.XY{X: x, Y: y})
		}
		s := trial.Gapped(c.gap)
		s.Rings = [][]plane.XY{trial.Rectangle(0, 0, 100, 12)}
		s.Lines = [][]plane.XY{s.Lines[0], line}
		r := checked(t, s, drive.Work{Width: 6, PassError: 0.1})
		if len(r.Strips) != 1 || r.Noise.Pieces != 0 {
			t.Fatalf("%s: %d strips listed, %d not: want 1, 0", c.name, len(r.Strips), r.Noise.Pieces)
		}
		g := r.Strips[0]
		if g.Surety != c.want {
			t.Errorf("%s: %q with %.2f m² certain and %.2f m² likely of %.2f, want %q", c.name, g.Surety, g.Certain, g.Likely, g.Area, c.want)
		}
		trial.Near(t, c.name+": certain", g.Certain, c.certain, 0.4) // the bends into the wide part
		trial.Near(t, c.name+": likely", g.Likely, c.likely, 1.2)    // and a centimetre is below the sliver
	}
}

func atLeast(t *testing.T, what string, got, least float64) {
	t.Helper()
	if got < least {
		t.Errorf("%s: got %g, want at least %g", what, got, least)
	}
}

// TestSuretyByFixQuality: pass by pass, what the fix says of itself.
func TestSuretyByFixQuality(t *testing.T) {
	const fixed, float, single, reckoned, unlogged = geo.QualityFixed, geo.QualityFloat, geo.QualitySingle, geo.QualityEstimated, geo.QualityUnknown
	for _, c := range []struct {
		name    string
		gap     float64
		quality []geo.Quality
		w       drive.Work
		want    Surety
		least   float64 // m², of a gap of 100 m
		err     float64 // m, greatest used
	}{
		{"all fixed", 0.2, []geo.Quality{fixed, fixed, fixed}, drive.Work{}, SuretyCertain, (0.2 - 0.028028) * 100, 0.028028},
		{"all single", 0.2, []geo.Quality{single, single, single}, drive.Work{}, SuretyPossible, 0, 1},
		// The gap shrinks by 14 mm on one side and by 100 mm on the other.
		{"a float pass beside a fixed one", 0.2, []geo.Quality{fixed, fixed, float}, drive.Work{}, SuretyLikely, (0.2 - 0.014014 - 0.1) * 100, 0.2},
		{"a float pass beside a fixed one, nearer", 0.1, []geo.Quality{fixed, fixed, float}, drive.Work{}, SuretyPossible, 0, 0.2},
		{"the float pass lies elsewhere", 0.1, []geo.Quality{float, fixed, fixed}, drive.Work{}, SuretyCertain, (0.1 - 0.028028) * 100, 0.2},
		{"the given error wins", 0.2, []geo.Quality{single, single, reckoned}, drive.Work{PassError: 0.05}, SuretyCertain, (0.2 - 0.05) * 100, 0.05},
		{"the pass beside it has no known error", 0.2, []geo.Quality{fixed, fixed, reckoned}, drive.Work{}, SuretyUnknown, (0.2 - 0.014014) * 100, 0.028028},
		{"a pass elsewhere has no known error", 0.2, []geo.Quality{unlogged, fixed, fixed}, drive.Work{}, SuretyCertain, (0.2 - 0.028028) * 100, 0.028028},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := trial.Gapped(c.gap)
			c.w.Width = 6
			r := checkTracks(t, s, c.w, s.OfQuality(c.quality...))
			n, surety := r.Noise, SuretyPossible
			if len(r.Strips) > 0 {
				surety = r.Strips[0].Surety
			}
			if surety != c.want || len(r.Strips)+n.Pieces != 1 {
				t.Errorf("surety %q, want %q; %d strips, %d pieces only possible", surety, c.want, len(r.Strips), n.Pieces)
			}
			atLeast(t, "certainly missed", r.Telling.Missed[0], map[bool]float64{true: c.least - 1.5}[surety == SuretyCertain])
			trial.Near(t, "greatest error", n.PassError, c.err, 1e-9)
			if told, want := n.Why != "", c.w.PassError == 0 && (slices.Contains(c.quality, reckoned) || slices.Contains(c.quality, unlogged)); told != want {
				t.Errorf("why: %q", n.Why)
			}
			if want := map[bool]string{true: fromGiven, false: fromQuality}[c.w.PassError > 0]; n.PassErrorFrom != want {
				t.Errorf("error from %q, want %q", n.PassErrorFrom, want)
			}
		})
	}
}

// TestNoSuretyWithoutAnError: the same strips as ever, none sure, and the reason.
func TestNoSuretyWithoutAnError(t *testing.T) {
	s := trial.Gapped(0.03)
	for name, track := range map[string]geo.Track{
		"no quality logged": s.Track(),
		"all reckoned":      s.OfQuality(geo.QualityEstimated, geo.QualityEstimated, geo.QualityNone),
		"column left blank": s.OfQuality(geo.QualityUnknown, geo.QualityUnknown, geo.QualityUnknown),
	} {
		r := checkTracks(t, s, drive.Work{Width: 6}, track)
		if len(r.Strips) != 1 || r.Strips[0].Surety != SuretyUnknown || r.Strips[0].Certain != 0 {
			t.Errorf("%s: strips %+v", name, r.Strips)
		}
		if (r.Noise != Noise{Why: r.Noise.Why}) || !strings.Contains(r.Noise.Why, "no pass-to-pass error") {
			t.Errorf("%s: noise %+v", name, r.Noise)
		}
	}
}

// TestMoreErrorNeverSurer: properties 1 to 4 of judge, on operations with every
// turn and on tracks no set would drive.
func TestMoreErrorNeverSurer(t *testing.T) {
	seed := check.Seed(t)
	judged := map[Surety]int{}
	for k := range trial.Few(4) {
		rng := rand.New(rand.NewPCG(seed, k))
		s, w := trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1, Headland: 8}
		if k%2 == 1 {
			s, w = trial.Wild(rng), drive.Work{Width: []float64{1, 3, 6}[rng.IntN(3)]}
		}
		listed := checked(t, s, w)
		// Drawn polygons are rounded to an eighth of a millimetre.
		drawn := 1e-6
		for _, p := range listed.Layers.Missed {
			drawn += p.Perimeter() / 8000
		}
		of := map[string]Strip{}
		for i, e := range []float64{0.003, 0.03, 0.1, 0.3, 0.99 * graspShare * w.Width} {
			w.PassError = e
			r := checked(t, s, w)
			b, n := r.Balance, r.Noise
			name, tol := fmt.Sprintf("seed %d, field %d, error %g m", seed, k, e), 1e-9*b.Field
			if r.Telling.Missed[0] > b.Missed+tol || b.Missed > r.Telling.Missed[1]+tol {
				t.Errorf("%s: missed %g m² at least, %g, %g at most", name, r.Telling.Missed[0], b.Missed, r.Telling.Missed[1])
			}
			if n.Pieces+len(r.Strips) != len(listed.Strips) {
				t.Errorf("%s: %d strips and %d pieces only possible of %d strips", name, len(r.Strips), n.Pieces, len(listed.Strips))
			}
			sum, certain, now := r.SliverArea+n.Area, 0.0, map[string]Strip{}
			for j, g := range r.Strips {
				sum, certain = sum+g.Area, certain+g.Certain
				if g.Number != j+1 {
					t.Errorf("%s: strip %d has number %d", name, j+1, g.Number)
				}
				if g.Certain > g.Likely || g.Likely > g.Area || g.Likely == 0 || (g.Surety == SuretyUnknown) || g.Surety == SuretyCertain && g.Certain == 0 {
					t.Errorf("%s: strip %d of %g m² is %q, %g m² certain, %g m² likely", name, g.Number, g.Area, g.Surety, g.Certain, g.Likely)
				}
				judged[g.Surety]++
				id := fmt.Sprint(g.At)
				if was, ok := of[id]; i > 0 && (!ok || was.Certain < g.Certain-g.Shape.Perimeter()/4000 || was.Likely < g.Likely-g.Shape.Perimeter()/4000) {
					t.Errorf("%s: strip %d has %g m² certain, %g m² likely, with less error it had %g and %g m²", name, g.Number, g.Certain, g.Likely, was.Certain, was.Likely)
				}
				now[id] = g
			}
			judged[SuretyPossible] += n.Pieces
			trial.Near(t, name+": strips, slivers and noise", sum, b.Missed, drawn)
			if certain > r.Telling.Missed[0]+drawn {
				t.Errorf("%s: strips are certain of %g m², missed at least are %g m²", name, certain, r.Telling.Missed[0])
			}
			of = now
		}
	}
	for _, s := range []Surety{SuretyCertain, SuretyLikely, SuretyPossible} {
		if judged[s] < 3 && !trial.UnderRaceDetector() {
			t.Errorf("too tame: %d strips %q", judged[s], s)
		}
	}
}

// brink is how many strips of a field may lie so near a limit that a nanometre decides.
const brink = 2

// TestSuretyStaysWhen: moving, turning, reading backwards and splitting change
// not how many strips are how sure, and the range by no more than
// draws differ.
func TestSuretyStaysWhen(t *testing.T) {
	seed := check.Seed(t)
	many := func(r Result, s Surety) int {
		n := 0
		for _, g := range r.Strips {
			if g.Surety == s {
				n++
			}
		}
		if s == SuretyPossible {
			return r.Noise.Pieces
		}
		return n
	}
	for k := range trial.Few(1) {
		rng := rand.New(rand.NewPCG(seed, k))
		s, w := trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1, PassError: 0.08}
		want := checked(t, s, w)
		sin, cos := math.Sincos(rng.Float64() * 2 * math.Pi)
		for name, o := range map[string]trial.Sketch{
			"turned":    s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} }),
			"mirrored":  s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: p.Y} }),
			"backwards": s.Reversed(),
			"split":     s.Split(rng),
		} {
			got := checked(t, o, w)
			// The drawn errors are others, as are the axes, and each range is as wide as its own make it.
			wide := 0.6*(want.Telling.Missed[1]-want.Telling.Missed[0]+got.Telling.Missed[1]-got.Telling.Missed[0]) + 1
			trial.Near(t, name+": least", got.Telling.Missed[0], want.Telling.Missed[0], wide)
			trial.Near(t, name+": most", got.Telling.Missed[1], want.Telling.Missed[1], wide)
			for _, s := range []Surety{SuretyCertain, SuretyLikely, SuretyPossible} { // a strip on the brink may go either way
				if a, b := many(got, s), many(want, s); max(a, b)-min(a, b) > brink {
					t.Errorf("seed %d, field %d, %s: %d strips %q, were %d", seed, k, name, a, s, b)
				}
			}
		}
		for _, n := range []int{1, 3} {
			w.Workers = n
			got := checked(t, s, w)
			got.Work.Workers = want.Work.Workers
			if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", want) {
				t.Errorf("seed %d, field %d: %d workers give another result", seed, k, n)
			}
		}
	}
}

// TestSuretyOnARealLog: a real log (shared folder open/, MIT licence, Montana State
// University 2020) with errors from those of a fixed fix to those of a single one.
func TestSuretyOnARealLog(t *testing.T) {
	field, track := trial.Seeding(t)
	var last Result
	for k, e := range []float64{0.03, 0.2, 1} {
		r, err := Check(t.Context(), field, []geo.Track{track}, drive.Work{Width: 13.2, Overlap: 0.2, PassError: e})
		if err != nil {
			t.Fatal(err)
		}
		n, sum, certain := r.Noise, r.SliverArea+r.Noise.Area, 0.0
		for _, g := range r.Strips {
			sum, certain = sum+g.Area, certain+g.Certain
		}
		trial.Near(t, "strips, slivers and noise", sum, r.Balance.Missed, 1e-6*r.Balance.Field)
		if !(r.Telling.Missed[0] > 0 && r.Telling.Missed[0] < r.Balance.Missed && r.Balance.Missed <= r.Telling.Missed[1] && certain <= r.Telling.Missed[0]+1e-6*r.Balance.Field) {
			t.Errorf("error %g m: missed %g m², noise %+v, certain %g m²", e, r.Balance.Missed, n, certain)
		}
		if k > 0 && !(n.Area >= last.Noise.Area && r.Telling.Missed[0] < last.Telling.Missed[0] && r.Telling.Missed[1]-r.Telling.Missed[0] > last.Telling.Missed[1]-last.Telling.Missed[0]) {
			t.Errorf("error %g m: noise %+v, with less error %+v", e, n, last.Noise)
		}
		last = r
		t.Logf("error %g m: missed %.0f m² (%.0f to %.0f), %d strips, %d within noise of %.0f m²", e, r.Balance.Missed, r.Telling.Missed[0], r.Telling.Missed[1], len(r.Strips), n.Pieces, n.Area)
	}
}

// TestWhatSureMeans: the shares that judge promises.
func TestWhatSureMeans(t *testing.T) {
	below := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	// one of two passes errs by 1/√2 of the difference
	trial.Near(t, "certain between passes", below(1.96), 0.975, 5e-4)
	trial.Near(t, "likely between passes", below(1.96/2), 0.836, 5e-4)
	trial.Near(t, "certain along the boundary", below(1.96*math.Sqrt2/2), 0.917, 5e-4)
	trial.Near(t, "likely along the boundary", below(1.96*math.Sqrt2/4), 0.756, 5e-4)
}

// BenchmarkSurety is Check with a given error; BenchmarkCheck is without.
func BenchmarkSurety(b *testing.B) {
	for _, n := range trial.BenchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := trial.BigOperation(n)
			field, track := s.Field(), []geo.Track{s.Track()}
			fixes := track[0].Fixes()
			b.ReportAllocs()
			for b.Loop() {
				r, err := Check(b.Context(), field, track, drive.Work{Width: 5, Overlap: 0.1, Rounds: 2, PassError: 0.028})
				if err != nil {
					b.Fatal(err)
				}
				if r.Used != fixes || r.Noise.Pieces == 0 || r.Telling.Missed[0] > r.Balance.Missed || r.Telling.Missed[1] < r.Balance.Missed {
					b.Fatalf("noise %+v of %d fixes", r.Noise, r.Used)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}
