package coverage

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// runsIn are the passes of a sketch.
func runsIn(t testing.TB, s trial.Sketch, w drive.Work) []drive.Run {
	t.Helper()
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-100, -100, 100, 100)}}.Field()
	log, err := drive.Read(t.Context(), f.OnPlane(f.Local()), f.Local(), []geo.Track{s.Track()}, w, drive.AsJudged)
	if err != nil {
		t.Fatal(err)
	}
	return log.Runs
}

// drawn are passes straight on the plane, without the way over degrees.
func drawn(w drive.Work, lines ...[]plane.XY) []drive.Run {
	var runs []drive.Run
	for k, line := range lines {
		r := drive.Along(line, w.Width, 0)
		r.Pass.Number = k + 1
		runs = append(runs, r)
	}
	return runs
}

func spacingIn(t testing.TB, runs []drive.Run, w drive.Work) Spacing {
	t.Helper()
	sp, _, _, err := spacingOf(t.Context(), runs, w)
	if err != nil {
		t.Fatal(err)
	}
	if sum := sp.Samples + sp.Again + sp.Alone + sp.Partial + sp.Bent; sum != 2*sp.Places {
		t.Errorf("%d sides of %d places: want twice as many", sum, sp.Places)
	}
	if _, err := json.Marshal(sp); err != nil {
		t.Error(err)
	}
	return sp
}

// evenly are n places at this pitch.
func evenly(n int, pitch float64) []float64 {
	var ys []float64
	for k := range n {
		ys = append(ys, pitch*float64(k))
	}
	return ys
}

// TestSpacingOfParallelPasses: every spacing is the one driven, and falls into its class.
func TestSpacingOfParallelPasses(t *testing.T) {
	w := drive.Work{Width: 6, Overlap: 0.2}
	for _, c := range []struct {
		name                     string
		pitch                    float64
		wider, between, narrower float64
	}{
		{"as planned", 5.8, 0, 1, 0},
		{"at the full width", 6, 0, 1, 0},
		{"a centimetre of gap", 6.01, 1, 0, 0},
		{"4 cm too narrow", 5.76, 0, 1, 0},
		{"6 cm too narrow", 5.74, 0, 0, 1},
		{"nearly half", 2.91, 0, 0, 1},
		{"nearly one and a half", 8.69, 1, 0, 0},
	} {
		for _, angle := range []float64{0, 30, 45, 117} {
			t.Run(fmt.Sprintf("%s, turned by %g°", c.name, angle), func(t *testing.T) {
				sin, cos := math.Sincos(angle * math.Pi / 180)
				s := trial.Sketch{Lines: trial.Rows(0, 290, evenly(6, c.pitch)...)}.Moved(func(p plane.XY) plane.XY {
					return plane.XY{X: 1000 + cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y}
				})
				sp := spacingIn(t, drawn(w, s.Lines...), w)
				for _, q := range []float64{sp.Q05, sp.Q25, sp.Median, sp.Q75, sp.Q95} {
					trial.Near(t, "spacing", q, c.pitch, 1e-9)
				}
				trial.Near(t, "planned", sp.Planned, 5.8, 1e-12)
				trial.Near(t, "every", sp.Every, 2.9, 1e-12)
				if sp.Wider != c.wider || sp.Between != c.between || sp.Narrower != c.narrower {
					t.Errorf("shares %g, %g, %g: want %g, %g, %g", sp.Wider, sp.Between, sp.Narrower, c.wider, c.between, c.narrower)
				}
				// 290 m are 100 places; the first and the last of six passes have one neighbour
				if sp.Places != 600 || sp.Samples != 1000 || sp.Alone != 200 {
					t.Errorf("%d places, %d samples, %d alone: want 600, 1000, 200", sp.Places, sp.Samples, sp.Alone)
				}
				trial.Near(t, "metres", sp.Metres, 6*290, 1e-9)
				trial.Near(t, "offset", sp.Offset.Right, 0, 1e-9)
				trial.Near(t, "offset's spread", sp.Offset.Spread, 0, 1e-9)
				trial.Near(t, "parting", sp.Parting.Rate, 0, 1e-9)
			})
		}
	}
}

// TestGapsPlaceByPlace: where they are asked for, every place has the spacing to its neighbours, on the side on which they lie.
func TestGapsPlaceByPlace(t *testing.T) {
	w := drive.Work{Width: 6, Overlap: 0.2, Gaps: true}
	runs := drawn(w, trial.Rows(0, 290, 0, 5.8, 11.7)...) // rows turn about: the first goes east, the second west
	sp := spacingIn(t, runs, w)
	if len(sp.Gaps) != sp.Places {
		t.Fatalf("%d gaps of %d places", len(sp.Gaps), sp.Places)
	}
	for k, g := range sp.Gaps {
		want := [][2]float64{{5.8, math.NaN()}, {5.8, 5.9}, {math.NaN(), 5.9}}[g.Pass-1]
		for side, got := range []float64{float64(g.Left), float64(g.Right)} {
			if math.IsNaN(got) != math.IsNaN(want[side]) || math.Abs(got-want[side]) > 1e-5 {
				t.Fatalf("gap %d of pass %d: %g on side %d, want %g", k, g.Pass, got, side, want[side])
			}
		}
		if k > 0 && sp.Gaps[k-1].Pass == g.Pass && math.Abs(g.S-sp.Gaps[k-1].S-sp.Every) > 1e-9 {
			t.Fatalf("gap %d: %g m after the one before, want %g", k, g.S-sp.Gaps[k-1].S, sp.Every)
		}
	}
	w.Gaps = false
	if plain := spacingIn(t, runs, w); plain.Gaps != nil {
		t.Errorf("%d gaps that nobody asked for", len(plain.Gaps))
	}
}

// TestSpacingKnowsItsNeighbours: what is a neighbour and what is not.
func TestSpacingKnowsItsNeighbours(t *testing.T) {
	w := drive.Work{Width: 5}
	row := func(x0, y0, x1, y1 float64) []plane.XY {
		return trial.Straight(plane.XY{X: x0, Y: y0}, plane.XY{X: x1, Y: y1}, 2.5)
	}
	round := func(d float64) []plane.XY { // once round a square, a part of each side
		return slices.Concat(row(-d, -d, d, -d), row(d, -d, d, d)[1:], row(d, d, -d, d)[1:], row(-d, d, -d, -d+5)[1:])
	}
	tilted := func(deg float64) []plane.XY {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return row(50-40*cos, 5-40*sin, 50+40*cos, 5+40*sin)
	}
	spiral := func() []plane.XY { // two rounds 5 m apart in one pass
		return slices.Concat(round(40), round(35))
	}
	hook := append(row(0, 0, 100, 0), append(trial.Arc(plane.XY{X: 100, Y: 2.5}, 2.5, -90, 90, 7)[1:7], row(100, 5, 0, 5)...)...)
	for _, c := range []struct {
		name           string
		lines          [][]plane.XY
		median         float64
		samples, again bool
	}{
		{"alone", [][]plane.XY{row(0, 0, 100, 0)}, 0, false, false},
		{"a pass missed between", [][]plane.XY{row(0, 0, 100, 0), row(0, 10, 100, 10)}, 0, false, false},
		{"driven again", [][]plane.XY{row(0, 0, 100, 0), row(0, 0, 100, 0)}, 0, false, true},
		{"driven again a metre beside", [][]plane.XY{row(0, 0, 100, 0), row(100, 1, 0, 1)}, 0, false, true},
		{"one behind the other", [][]plane.XY{row(0, 0, 40, 0), row(60, 5, 100, 5)}, 0, false, false},
		{"crossing at 20°", [][]plane.XY{row(0, 5, 100, 5), tilted(20)}, 0, false, false},
		{"headland rounds", [][]plane.XY{round(40), round(35), round(30)}, 5, true, false},
		{"two rounds in one pass", [][]plane.XY{spiral()}, 5, true, false},
		{"to and fro in one pass", [][]plane.XY{hook}, 5, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			sp := spacingIn(t, drawn(w, c.lines...), w)
			trial.Near(t, "median", sp.Median, c.median, 1e-9)
			if (sp.Samples > 0) != c.samples || (sp.Again > 0) != c.again {
				t.Errorf("%d samples, %d again: want some %v, %v", sp.Samples, sp.Again, c.samples, c.again)
			}
		})
	}
	// passes at 10° to each other are neighbours where they are near; their distance is
	// that square to the one looked from
	sp := spacingIn(t, drawn(w, row(0, 0, 200, 0), trial.Apply(row(0, 3, 200, 3), func(p plane.XY) plane.XY {
		return plane.XY{X: p.X, Y: p.Y + math.Tan(10*math.Pi/180)*p.X}
	})), w)
	if sp.Samples == 0 || !(sp.Q05 > 3-0.5 && sp.Q95 < 7.5 && sp.Median > 4 && sp.Median < 6.5) || sp.Parting.Along != 0 {
		t.Errorf("wedge of 10°: %+v", sp)
	}
}

// TestSpacingWhereSectionsAreOff: the width is the usual one, and places where
// a bar is narrower do not count.
func TestSpacingWhereSectionsAreOff(t *testing.T) {
	w := drive.Work{Width: 8, Overlap: 0.5}
	runs := drawn(w, trial.Rows(0, 300, evenly(5, 5.5)...)...)
	for k := range runs {
		runs[k].Parts = []drive.Part{{Width: 6}, {Width: 3}}
		for i := range runs[k].Stops {
			if x := runs[k].Stops[i].At.X; x < 100 {
				runs[k].Stops[i].Part = 1
			}
		}
	}
	sp := spacingIn(t, runs, w)
	trial.Near(t, "width", sp.Width, 6, 0)
	trial.Near(t, "planned", sp.Planned, 5.5, 0)
	trial.Near(t, "median", sp.Median, 5.5, 1e-9)
	if got := float64(sp.Partial) / float64(2*sp.Places); math.Abs(got-1./3) > 0.02 {
		t.Errorf("%g of the sides with sections off: want a third", got)
	}
}

// TestBarOffset: rows at even distance, of which the log says they lie δ to one side.
func TestBarOffset(t *testing.T) {
	w := drive.Work{Width: 6, Overlap: 0.2}
	for _, right := range []float64{0, 0.08, -0.125, 0.5} {
		var ys []float64
		for k := range 8 { // rows run east, west, east ...; the log's line is left of the bar
			ys = append(ys, 5.8*float64(k)+right*[]float64{1, -1}[k%2])
		}
		lines := trial.Rows(0, 200, ys...)
		sp := spacingIn(t, drawn(w, lines...), w)
		trial.Near(t, "bar to the right", sp.Offset.Right, right, 1e-9)
		mirrored := trial.Sketch{Lines: lines}.Moved(func(p plane.XY) plane.XY { return plane.XY{X: p.X, Y: -p.Y} })
		trial.Near(t, "bar to the right, mirrored", spacingIn(t, drawn(w, mirrored.Lines...), w).Offset.Right, -right, 1e-9)
		back := trial.Sketch{Lines: lines}.Reversed()
		trial.Near(t, "bar to the right, backwards", spacingIn(t, drawn(w, back.Lines...), w).Offset.Right, -right, 1e-9)
		if sp.Offset.Rights < fewSpacings || sp.Offset.Lefts < fewSpacings {
			t.Errorf("%d and %d spacings", sp.Offset.Rights, sp.Offset.Lefts)
		}
		// all driven the same way: nothing can be said
		oneWay := slices.Clone(lines)
		for k := 1; k < len(oneWay); k += 2 {
			oneWay[k] = slices.Clone(oneWay[k])
			slices.Reverse(oneWay[k])
		}
		if one := spacingIn(t, drawn(w, oneWay...), w); one.Offset != (BarOffset{}) || one.Samples == 0 {
			t.Errorf("driven one way: %+v", one.Offset)
		}
		// two passes meet on one side only
		if two := spacingIn(t, drawn(w, lines[:2]...), w); two.Offset != (BarOffset{}) || two.Samples == 0 {
			t.Errorf("two passes: %+v", two.Offset)
		}
	}
	// with scatter of 3 cm the offset is found within its own spread, and the spread is
	// the quartile range of a spacing, 1.349·√2·3 cm, by four
	rng := rand.New(rand.NewPCG(4, 4))
	var lines [][]plane.XY
	for k := range 40 {
		line := trial.Straight(plane.XY{Y: 5.8*float64(k) + 0.1*[]float64{1, -1}[k%2]}, plane.XY{X: 300, Y: 5.8*float64(k) + 0.1*[]float64{1, -1}[k%2]}, 3)
		if k%2 == 1 {
			slices.Reverse(line)
		}
		lines = append(lines, trial.Apply(line, func(p plane.XY) plane.XY { return plane.XY{X: p.X, Y: p.Y + 0.03*rng.NormFloat64()} }))
	}
	sp := spacingIn(t, drawn(w, lines...), w)
	trial.Near(t, "bar to the right, scattered", sp.Offset.Right, 0.1, 0.003)
	trial.Near(t, "spread", sp.Offset.Spread, 1.349*math.Sqrt2*0.03/4, 0.005)
}

// TestContactsHeadAsRowsLie: rows to the north and back that swing onto their lines, 20 cm from the side, over their first 8 m. Their straight lines lie within
// 0.6 mm a metre of north: by least squares they are 0.3 mm off. Where they lead from their begin to their end is 1.7 mm off.
func TestContactsHeadAsRowsLie(t *testing.T) {
	w := drive.Work{Width: 6}
	var lines [][]plane.XY
	for k := range 6 {
		x, from, up := 6*float64(k), 0.0, 1.0
		if k%2 == 1 {
			from, up = 120, -1
		}
		lines = append(lines, []plane.XY{{X: x - 0.2, Y: from}, {X: x, Y: from + 8*up}, {X: x, Y: from + 120*up}})
	}
	_, contacts, _, err := spacingOf(t.Context(), drawn(w, lines...), w)
	if err != nil || len(contacts) != 10 {
		t.Fatalf("%d contacts (want 10), error %v", len(contacts), err)
	}
	for _, c := range contacts {
		if off := math.Abs(math.Mod(c.Heading+90, 180)-90) * math.Pi / 180; off > 6e-4 {
			t.Errorf("pass %d heads to %.4f°, %.2g off north", c.Pass, c.Heading, off)
		}
	}
}

// TestParting: the pair that parts fastest, by passes' numbers and slope.
func TestParting(t *testing.T) {
	w := drive.Work{Width: 6}
	lines := trial.Rows(0, 300, 0, 6, 12, 18)
	lines[2] = trial.Straight(plane.XY{Y: 12}, plane.XY{X: 300, Y: 12.3}, 2.5) // 10 cm in 100 m
	sp := spacingIn(t, drawn(w, lines...), w)
	trial.Near(t, "along", sp.Parting.Along, 300, 7)
	trial.Near(t, "rate", math.Abs(sp.Parting.Rate), 0.001, 1e-5)
	if !slices.Contains(sp.Parting.Passes[:], 3) {
		t.Errorf("parting passes %v: want the third among them", sp.Parting.Passes)
	}
}

func chordOf(l *centreline, i int) plane.XY { return l.knots[i+1].at.Sub(l.knots[i].at) }

// everySide is the second opinion: the distances at every place to every chord of
// every line, without tree, chordRuns or shortcuts.
func everySide(runs []drive.Run, w drive.Work) (rights, lefts, same []float64, again, alone, partial, bent int) {
	width := usualWidth(runs, w)
	planned := width - w.Overlap
	way, stops := 0.0, 0
	for _, r := range runs {
		way, stops = way+r.Pass.Length, stops+len(r.Stops)
	}
	every := max(planned/2, way/float64(placesPerStop*stops))
	lines := centrelines(runs, width, chordShare*planned)
	angle := func(u, v plane.XY) float64 {
		return math.Abs(math.Atan2(u.Cross(v), u.Dot(v))) * 180 / math.Pi
	}
	for _, l := range lines {
		place := 0
		for i := 0; i+1 < len(l.knots); i++ {
			a, b := l.knots[i], l.knots[i+1]
			for ; l.knots[0].s+every*(float64(place)+0.5) < b.s; place++ {
				s := l.knots[0].s + every*(float64(place)+0.5)
				p, d := a.at.Lerp(b.at, (s-a.s)/(b.s-a.s)), b.at.Sub(a.at)
				if i > 0 && angle(chordOf(l, i-1), d) > 15 || i+2 < len(l.knots) && angle(chordOf(l, i+1), d) > 15 {
					bent += 2
					continue
				}
				if !a.full || !b.full {
					partial += 2
					continue
				}
				best, backs, fulls := [2]float64{math.Inf(1), math.Inf(1)}, [2]bool{}, [2]bool{}
				for _, o := range lines {
					for k := 0; k+1 < len(o.knots); k++ {
						u, v := o.knots[k], o.knots[k+1]
						x, y := d.Dot(u.at.Sub(p)), d.Dot(v.at.Sub(p))
						if x <= 0 == (y <= 0) {
							continue
						}
						f := x / (x - y)
						if o.pass == l.pass && math.Abs(u.s+f*(v.s-u.s)-s) <= w.RelapLength() {
							continue
						}
						turn := angle(d, v.at.Sub(u.at))
						if turn > 15 && turn < 165 {
							continue
						}
						q := u.at.Lerp(v.at, f)
						e := q.Dist(p)
						for side := range best {
							lies := e < 1e-3 || (side == toLeft) == (d.Cross(q.Sub(p)) > 0)
							if lies && e < best[side] {
								best[side], backs[side], fulls[side] = e, turn > 90, u.full && v.full
							}
						}
					}
				}
				for side, e := range best {
					switch {
					case e >= 1.5*planned:
						alone++
					case !fulls[side]:
						partial++
					case e < 0.5*planned:
						again++
					case !backs[side]:
						same = append(same, e)
					case side == toRight:
						rights = append(rights, e)
					default:
						lefts = append(lefts, e)
					}
				}
			}
		}
	}
	return
}

// TestSpacingAgainstEverySide: on invented operations with turns, spirals and loops, and
// on tracks that make no sense.
func TestSpacingAgainstEverySide(t *testing.T) {
	seed := check.Seed(t)
	samples, bends := 0, 0
	for n := range uint64(16) {
		rng := rand.New(rand.NewPCG(seed, n))
		s, w := trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1}
		nonsense := n%4 == 3
		if nonsense { // lines on the very same points: with other widths too it is open which is nearest
			s = trial.Wild(rng)
		}
		runs := runsIn(t, s, w)
		for k := range runs {
			narrow := uint32(len(runs[k].Parts))
			runs[k].Parts = append(runs[k].Parts, drive.Part{Width: 2})
			for i := range runs[k].Stops {
				if !nonsense && rng.IntN(60) == 0 {
					runs[k].Stops[i].Part = narrow
				}
			}
		}
		sp := spacingIn(t, runs, w)
		rights, lefts, same, again, alone, partial, bent := everySide(runs, w)
		all := slices.Sorted(slices.Values(slices.Concat(rights, lefts, same)))
		if sp.Samples != len(all) || sp.Again != again || sp.Alone != alone || sp.Partial != partial || sp.Bent != bent {
			t.Fatalf("seed %d, operation %d: %d samples, %d again, %d alone, %d partial, %d bent; by every side %d, %d, %d, %d, %d",
				seed, n, sp.Samples, sp.Again, sp.Alone, sp.Partial, sp.Bent, len(all), again, alone, partial, bent)
		}
		if len(all) > 0 {
			for _, q := range []struct{ got, share float64 }{{sp.Q05, 0.05}, {sp.Q25, 0.25}, {sp.Median, 0.5}, {sp.Q75, 0.75}, {sp.Q95, 0.95}} {
				trial.Near(t, fmt.Sprintf("seed %d, operation %d, quantile %g", seed, n, q.share), q.got, all[int(q.share*float64(len(all))+1e-9)], 1e-9)
			}
		}
		if !nonsense && len(rights) >= fewSpacings && len(lefts) >= fewSpacings {
			trial.Near(t, fmt.Sprintf("seed %d, operation %d, offset", seed, n), sp.Offset.Right, (drive.Median(rights)-drive.Median(lefts))/4, 1e-9)
		}
		samples, bends = samples+sp.Samples, bends+sp.Bent
	}
	if samples < 5000 || bends < 300 {
		t.Errorf("too tame: %d samples, %d bends", samples, bends)
	}
}

// TestSpacingOfDenseLogs: ten fixes a second instead of one, or two points a row, say the same.
func TestSpacingOfDenseLogs(t *testing.T) {
	w := drive.Work{Width: 6}
	for _, step := range []float64{0.25, 1, 7, 300} {
		var lines [][]plane.XY
		for k, y := range []float64{0, 6.05, 12, 18.1, 24} {
			line := trial.Straight(plane.XY{Y: y}, plane.XY{X: 300, Y: y}, step)
			if k%2 == 1 {
				slices.Reverse(line)
			}
			lines = append(lines, line)
		}
		sp := spacingIn(t, drawn(w, lines...), w)
		trial.Near(t, fmt.Sprintf("step %g m, 5 %%", step), sp.Q05, 5.9, 1e-9)
		trial.Near(t, fmt.Sprintf("step %g m, 95 %%", step), sp.Q95, 6.1, 1e-9)
		trial.Near(t, fmt.Sprintf("step %g m, metres", step), sp.Metres, 1500, 60)
		if stops := 5 * len(lines[0]); sp.Places > placesPerStop*stops {
			t.Errorf("step %g m: %d places for %d stops", step, sp.Places, stops)
		}
	}
}

// TestSpacingOfWhatIsHardlyWork: nothing driven, a bar all overlap, a step and no more.
func TestSpacingOfWhatIsHardlyWork(t *testing.T) {
	if sp := spacingIn(t, nil, drive.Work{Width: 6}); !reflect.DeepEqual(sp, Spacing{Planned: 6, Width: 6}) {
		t.Errorf("no pass: %+v", sp)
	}
	lines := trial.Rows(0, 3000, 0, 6, 12)
	sp := spacingIn(t, drawn(drive.Work{Width: 6}, lines...), drive.Work{Width: 6, Overlap: math.Nextafter(6, 0)})
	if stops := len(lines) * len(lines[0]); sp.Samples > 0 || sp.Places > placesPerStop*stops {
		t.Errorf("hardly any width: %d samples, %d places for %d stops", sp.Samples, sp.Places, stops)
	}
	if sp := spacingIn(t, drawn(drive.Work{Width: 6}, trial.Rows(0, 1, 0, 6)...), drive.Work{Width: 6}); sp.Samples > 0 || sp.Places > 2 {
		t.Errorf("passes of a metre: %+v", sp)
	}
}

// TestSpacingIsTheSame: shifted, turned, read backwards, and with any workers.
func TestSpacingIsTheSame(t *testing.T) {
	s, w := trial.Operation(rand.New(rand.NewPCG(8, 8))), drive.Work{Width: 5, Overlap: 0.1, Workers: 1}
	want := spacingIn(t, drawn(w, s.Lines...), w)
	for _, n := range []int{2, 7} {
		w.Workers = n
		if got := spacingIn(t, drawn(w, s.Lines...), w); !reflect.DeepEqual(got, want) {
			t.Errorf("%d workers: %+v, one: %+v", n, got, want)
		}
	}
	sin, cos := math.Sincos(1.1)
	turned := s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: 50 + cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })
	got := spacingIn(t, drawn(w, turned.Lines...), w)
	trial.Near(t, "median, turned", got.Median, want.Median, 1e-6)
	trial.Near(t, "offset, turned", got.Offset.Right, want.Offset.Right, 1e-6)
}

// BenchmarkSpacing is per fix; a place has two neighbours.
func BenchmarkSpacing(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			w := drive.Work{Width: 5, Overlap: 0.1}
			s := trial.BigOperation(n)
			sin, cos := math.Sincos(0.6)
			s = s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })
			runs := drawn(w, s.Lines...)
			fixes := 0
			for _, r := range runs {
				fixes += len(r.Stops)
			}
			b.ReportAllocs()
			for b.Loop() {
				sp, _, _, err := spacingOf(b.Context(), runs, w)
				if err != nil || math.Abs(sp.Median-4.9) > 0.01 || sp.Samples < fixes {
					b.Fatalf("%+v: %v", sp, err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}
