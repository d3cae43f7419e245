package coverage

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// drawnEvery draws a line of corners with points no farther apart than about step on its
// straights; 0: corners only.
func drawnEvery(corners []plane.XY, step float64) []plane.XY {
	if step == 0 {
		return corners
	}
	out := corners[:1:1]
	for i, p := range corners[1:] {
		out = append(out, trial.Straight(corners[i], p, step)[1:]...)
	}
	return out
}

// hundredsOfMetres: the ends of a bar lie on the lattice, off by half a step of 15 nm: on
// 38 edges of 200 m no more than 5.7e-5 m². Seen: 2e-5.
const hundredsOfMetres = 5.7e-5 // m²

// lift puts lifted fixes into a line, standing at fixes k: a lift of no length.
func lift(line []plane.XY, at ...int) ([]plane.XY, []geo.WorkState) {
	var out []plane.XY
	var state []geo.WorkState
	for k, p := range line {
		out, state = append(out, p), append(state, geo.Working)
		if slices.Contains(at, k) {
			out = append(out, p, p)
			state = append(state, geo.Lifted, geo.Working)
		}
	}
	return out, state
}

// TestDoubleWorkedAtAnyDensity: closed forms, by hand. Two coverings of a place count once
// where less than 12 m were driven between them.
//
//   - Rows 5 m apart, 6 m wide, up and down: 19 laps of 1 m. At d metres before the end
//     of a row the way to the next is 2d + 5 m: below 12 m for 3.5 m of 200 m.
//   - Forth and back on one line: 2d metres, below 12 m for 6 m of 200 m.
//   - Nine legs of 40 m, with one bar on each bisector: 360 m × 6 m, nothing twice.
//   - With bends of 30° the bar pivots: at each of the eight a triangle of ½·3²·sin 30°
//     outside is worked, and inside both legs have 3²·tan 15° in common.
func TestDoubleWorkedAtAnyDensity(t *testing.T) {
	var rows []plane.XY
	for k := range 20 {
		y := 2.5 + 5*float64(k)
		row := []plane.XY{{Y: y}, {X: 200, Y: y}}
		if k%2 == 1 {
			slices.Reverse(row)
		}
		rows = append(rows, row...)
	}
	legs := func(bend float64) []plane.XY {
		p, out := plane.XY{X: -100, Y: -100}, []plane.XY{{X: -100, Y: -100}}
		for k := range 9 {
			sin, cos := math.Sincos(bend * float64(k) * math.Pi / 180)
			p = p.Add(plane.XY{X: 40 * cos, Y: 40 * sin})
			out = append(out, p)
		}
		return out
	}
	inner := 9*math.Tan(15*math.Pi/180) - 9*math.Sin(30*math.Pi/180)/2
	wide, small := trial.Rectangle(-300, -300, 300, 300), trial.Rectangle(0, 0, 200, 100)
	for _, c := range []struct {
		name          string
		field, line   []plane.XY
		worked, twice float64
	}{
		{"rows", small, rows, 20000, 19 * 196.5},
		{"forth and back", small, []plane.XY{{Y: 50}, {X: 200, Y: 50}, {Y: 50}}, 1200, 6 * 194},
		{"bends of 5°", wide, legs(5), 2160, 0},
		{"bends of 10°", wide, legs(10), 2160, 0},
		{"bends of 14.9°", wide, legs(14.9), 2160, 0},
		{"bends of 15°", wide, legs(15), 2160, 0},
		{"bends of 30°", wide, legs(30), 2160 - 8*inner, 0},
	} {
		for _, step := range []float64{0, 50, 10, 5, 2} {
			one := trial.Sketch{Rings: [][]plane.XY{c.field}, Lines: [][]plane.XY{drawnEvery(c.line, step)}}
			line, state := lift(one.Lines[0], len(one.Lines[0])/3, len(one.Lines[0])/2)
			for name, s := range map[string]trial.Sketch{
				"as driven": one,
				"backwards": one.Reversed(),
				"mirrored":  one.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: p.Y} }),
				"turned":    one.Moved(func(p plane.XY) plane.XY { return plane.XY{X: 0.6*p.X - 0.8*p.Y, Y: 0.8*p.X + 0.6*p.Y} }),
				"lifted":    {Rings: one.Rings, Lines: [][]plane.XY{line}, State: [][]geo.WorkState{state}},
			} {
				b := checked(t, s, drive.Work{Width: 6, GapDist: 1000}).Balance
				what := fmt.Sprintf("%s, a point every %g m, %s", c.name, step, name)
				trial.Near(t, what+": worked", b.Once+b.Twice+b.More, c.worked, hundredsOfMetres)
				trial.Near(t, what+": twice", b.Twice, c.twice, hundredsOfMetres)
				trial.Near(t, what+": more", b.More, 0, hundredsOfMetres)
			}
		}
	}
}

// TestTravelRunsOnOverLifts: the set works 60 m, is lifted, goes back, aside or not, and is
// lowered again where some metres are worked a second time. On these it was driven the
// lifted way and the metres back: less than 12 m is once.
func TestTravelRunsOnOverLifts(t *testing.T) {
	for _, c := range []struct {
		name         string
		back, lifted float64 // m
		twice        bool
	}{
		{"lifted for 0 m", 0, 0, false},
		{"3 m driven between", 1.5, 1.5, false},
		{"6 m driven between", 3, 3, false},
		{"11 m driven between", 5.5, 5.5, false},
		{"12 m driven between", 6, 6, true},
		{"13 m driven between", 6.5, 6.5, true},
		{"lifted for 3 m, 1 m back", 1, 3, false},
		{"lifted for 10.9 m, 1 m back", 1, 10.9, false},
		{"lifted for 11 m, 1 m back", 1, 11, true},
		{"lifted for 13 m, 1 m back", 1, 13, true},
	} {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, -20, 120, 20)}}
		line := trial.Straight(plane.XY{}, plane.XY{X: 60}, 2)
		state := make([]geo.WorkState, len(line))
		for k := range state {
			state[k] = geo.Working
		}
		aside := math.Sqrt(max(0, c.lifted*c.lifted-c.back*c.back)) / 2
		for _, p := range drawnEvery([]plane.XY{{X: 60}, {X: 60 - c.back/2, Y: aside}, {X: 60 - c.back}}, 0.5) {
			line, state = append(line, p), append(state, geo.Lifted)
		}
		for _, p := range trial.Straight(plane.XY{X: 60 - c.back}, plane.XY{X: 120}, 1.5) {
			line, state = append(line, p), append(state, geo.Working)
		}
		s.Lines, s.State = [][]plane.XY{line}, [][]geo.WorkState{state}
		back := s.Reversed()
		back.State = [][]geo.WorkState{slices.Clone(state)}
		slices.Reverse(back.State[0])
		want := 0.0
		if c.twice {
			want = 6 * c.back
		}
		for name, s := range map[string]trial.Sketch{"": s, ", backwards": back} {
			r := checked(t, s, drive.Work{Width: 6})
			trial.Near(t, c.name+name+": twice", r.Balance.Twice, want, 1e-6)
			trial.Near(t, c.name+name+": once", r.Balance.Once, 720-want, 1e-6)
			if len(r.Passes) != 2 {
				t.Errorf("%s%s: %d passes, want 2", c.name, name, len(r.Passes))
			} else if lost := r.Passes[0].Area + r.Passes[1].Area; name == "" {
				trial.Near(t, c.name+": of the passes", lost, 720+want, 1e-6)
				trial.Near(t, c.name+": of the first", r.Passes[0].Area, 360, 1e-6)
			}
		}
	}
}

// TestTravelIsNotShared: what a second machine works again within relap is double-worked,
// whichever of them comes first, and so is what one that comes back later works.
func TestTravelIsNotShared(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, -3, 120, 3)}}
	first, second := s, s
	first.Lines = [][]plane.XY{trial.Straight(plane.XY{}, plane.XY{X: 60}, 2)}
	second.Lines = [][]plane.XY{trial.Straight(plane.XY{X: 57}, plane.XY{X: 120}, 2)}
	trial.Near(t, "two machines, 3 m over the seam", checkTracks(t, s, drive.Work{Width: 6}, first.Track(), second.Track()).Balance.Twice, 18, 1e-6)
	trial.Near(t, "the other first", checkTracks(t, s, drive.Work{Width: 6}, second.Track(), first.Track()).Balance.Twice, 18, 1e-6)
	both := s
	both.Lines = append(slices.Clone(first.Lines), second.Lines...)
	trial.Near(t, "one machine, 3 m from part to part", checkTracks(t, s, drive.Work{Width: 6}, both.Track()).Balance.Twice, 0, 1e-6)
}

// TestRounds: a ring of 60 legs of 1 m, twice round and a bit. Each place is passed again
// after 60 m, so with less than that for relap the second round is worked twice: 6 m × 60 m, but
// for the slanted ends of the first and the last leg. A ring shorter than relap counts
// once however often it is driven.
func TestRounds(t *testing.T) {
	radius := 0.5 / math.Sin(math.Pi/60)
	for _, c := range []struct {
		relap, twice, more float64
		rounds             int
	}{
		{relap: 59.9, rounds: 2, twice: 360}, {relap: 60, rounds: 2, twice: 360}, {relap: 60.1, rounds: 2}, {relap: 100, rounds: 2},
		{relap: 59.9, rounds: 3, more: 360}, {relap: 60.1, rounds: 5}, {relap: 119.9, rounds: 5},
	} {
		var seen []float64
		for _, step := range []float64{0, 0.5, 0.2} {
			s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-20, -20, 20, 20)},
				Lines: [][]plane.XY{drawnEvery(trial.Arc(plane.XY{}, radius, 0, 360*float64(c.rounds), 60*c.rounds), step)}}
			for name, s := range map[string]trial.Sketch{"": s, ", backwards": s.Reversed()} {
				b := checked(t, s, drive.Work{Width: 6, Relap: c.relap}).Balance
				what := fmt.Sprintf("%d rounds of 60 m, relap %g m, a point every %g m%s", c.rounds, c.relap, step, name)
				trial.Near(t, what+": twice", b.Twice, c.twice, 0.6)
				trial.Near(t, what+": more", b.More, c.more, 0.6)
				seen = append(seen, b.Twice)
			}
		}
		if d := slices.Max(seen) - slices.Min(seen); d > 1e-6 {
			t.Errorf("relap %g m: %.9f to %.9f m² twice, as it is sampled and read: want the same within 1e-6", c.relap, slices.Min(seen), slices.Max(seen))
		}
	}
}

// wander is a drawn line with bends of every kind, some going back on themselves, inside
// a square. Bends at which the bar's rule changes are left out.
func wandering(rng *rand.Rand, size float64) []plane.XY {
	p, heading := plane.XY{X: size * (rng.Float64() - 0.5), Y: size * (rng.Float64() - 0.5)}, 2*math.Pi*rng.Float64()
	line := []plane.XY{p}
	for len(line) < 16 {
		bend := []float64{14, 40, 100, 149, 180}[rng.IntN(5)]
		if turn := bend * (rng.Float64()*2 - 1); math.Abs(math.Abs(turn)-15) > 0.5 {
			bend = turn
		}
		if rng.IntN(8) == 0 {
			bend = 180
		}
		if math.Abs(math.Abs(bend)-150) < 0.5 {
			continue
		}
		next := heading + bend*math.Pi/180
		q := p.Add(plane.XY{X: math.Cos(next), Y: math.Sin(next)}.Scale(3 + 30*rng.Float64()*rng.Float64()))
		if max(math.Abs(q.X), math.Abs(q.Y)) > size/2 {
			heading = math.Atan2(-p.Y, -p.X)
			continue
		}
		p, heading, line = q, next, append(line, q)
	}
	return line
}

// TestSamplingChangesNothing: lines with bends of every kind, drawn with points at random on
// their straights, mirrored, backwards, and lifted for 0 m at random, all have the same shares of the
// field, within 1e-9. The points stand no nearer to the bends than the slanted bars there reach along
// the leg, half the width × tan 7.5°: nearer, bars cross, and some cm² inside the bend are passed earlier.
func TestSamplingChangesNothing(t *testing.T) {
	seed := check.Seed(t)
	n := uint64(60)
	if testing.Short() || trial.UnderRaceDetector() {
		n = 10
	}
	twice := 0
	for k := range n {
		rng := rand.New(rand.NewPCG(seed, k))
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-50, -50, 50, 50)}, Lines: [][]plane.XY{wandering(rng, 80)}}
		w := drive.Work{Width: 2 + 4*rng.Float64(), Relap: []float64{0, 5, 30, 60}[rng.IntN(4)], GapDist: 1000}
		dense := func(step float64) trial.Sketch {
			line := s.Lines[0][:1:1]
			for i, p := range s.Lines[0][1:] {
				var on []float64
				for range int(s.Lines[0][i].Dist(p) / step) {
					on = append(on, rng.Float64())
				}
				slices.SortFunc(on, cmp.Compare)
				for _, u := range on {
					reach := max(2*0.05, 0.14*w.Width/2)
					q := s.Lines[0][i].Lerp(p, u)
					if q.Dist(line[len(line)-1]) > 2*0.05 && min(q.Dist(p), q.Dist(s.Lines[0][i])) > reach {
						line = append(line, q)
					}
				}
				line = append(line, p)
			}
			return trial.Sketch{Rings: s.Rings, Lines: [][]plane.XY{line}}
		}
		fine := dense(1)
		line, state := lift(fine.Lines[0], 1+rng.IntN(len(fine.Lines[0])-2), 1+rng.IntN(len(fine.Lines[0])-2))
		want := shares(checked(t, s, w))
		if want["twice"] > 0 {
			twice++
		}
		for name, o := range map[string]trial.Sketch{
			"a point every 8 m or so":     dense(8),
			"a point every metre or so":   fine,
			"mirrored":                    s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: p.X, Y: -p.Y} }),
			"backwards":                   s.Reversed(),
			"fine and backwards":          fine.Reversed(),
			"fine and lifted for no time": {Rings: s.Rings, Lines: [][]plane.XY{line}, State: [][]geo.WorkState{state}},
		} {
			got := shares(checked(t, o, w))
			for what, v := range want {
				if !(math.Abs(got[what]-v) <= 1e-9) {
					t.Errorf("seed %d, line %d, %s, %s: %.12g of the field, was %.12g (%.2g apart)", seed, k, name, what, got[what], v, got[what]-v)
				}
			}
		}
	}
	if twice < int(n)/2 {
		t.Errorf("too tame: %d of %d lines work some ground twice", twice, n)
	}
}

// walkStep is the side of a raster's cells, and how far the bar moves at most from one stop of
// its walk to the next, m.
const walkStep = 0.02

// walked is the second opinion on double-worked ground: a raster over which the bar is
// walked in steps of 2 cm along corners, by its own reading of the rule. Each cell
// keeps the travel at which the bar passed it last, and how often it was worked. At
// ends only: the travel of a whole leg is that of its beginning for who comes
// back, and of its end for who was there: what is wrong with comparing legs.
func walked(corners []plane.XY, width, relap, size float64, ends bool) (twice float64) {
	n := int(size / walkStep)
	last, depth := make([]float64, n*n), make([]uint8, n*n)
	for i := range last {
		last[i] = math.Inf(-1)
	}
	pass := func(a, b [2]plane.XY, begin, end float64) { // right and left end of the bar, before and behind
		q := []plane.XY{a[0], b[0], b[1], a[1]}
		box := plane.EmptyBox().Extend(q...)
		for row := max(0, int((box.Min.Y+size/2)/walkStep)); row < n && float64(row)*walkStep-size/2 < box.Max.Y; row++ {
			y := (float64(row)+0.5)*walkStep - size/2
			var cuts []float64
			for i, p := range q {
				if r := q[(i+1)%4]; (p.Y > y) != (r.Y > y) {
					cuts = append(cuts, p.X+(y-p.Y)/(r.Y-p.Y)*(r.X-p.X))
				}
			}
			slices.Sort(cuts)
			for i := 0; i+1 < len(cuts); i += 2 {
				for col := max(0, int(math.Ceil((cuts[i]+size/2)/walkStep-0.5))); col < n && (float64(col)+0.5)*walkStep-size/2 < cuts[i+1]; col++ {
					c := row*n + col
					if begin-last[c] >= relap {
						depth[c]++
					}
					last[c] = end
				}
			}
		}
	}
	// bar sets right and left end for a direction, longer by 1/cos of half a bend.
	bar := func(at, d plane.XY, longer float64) [2]plane.XY {
		across := plane.XY{X: -d.Y, Y: d.X}.Scale(longer * width / 2)
		return [2]plane.XY{at.Sub(across), at.Add(across)}
	}
	dir := func(i int) plane.XY { return unit(corners[i+1].Sub(corners[i])) }
	angle := func(i int) float64 { return math.Atan2(dir(i-1).Cross(dir(i)), dir(i-1).Dot(dir(i))) }
	s := 0.0
	for i := 0; i+1 < len(corners); i++ {
		from, to := bar(corners[i], dir(i), 1), bar(corners[i+1], dir(i), 1)
		if i > 0 {
			switch a := math.Abs(angle(i)) * 180 / math.Pi; {
			case a <= 15:
				from = bar(corners[i], unit(dir(i-1).Add(dir(i))), 1/math.Cos(angle(i)/2))
			case a <= 150: // the bar swings from the leg before to this one
				old := bar(corners[i], dir(i-1), 1)
				for k := range 200 {
					u, v := float64(k)/200, float64(k+1)/200
					pass([2]plane.XY{old[0].Lerp(from[0], u), old[1].Lerp(from[1], u)}, [2]plane.XY{old[0].Lerp(from[0], v), old[1].Lerp(from[1], v)}, s, s)
				}
			}
		}
		if i+2 < len(corners) && math.Abs(angle(i+1))*180/math.Pi <= 15 {
			to = bar(corners[i+1], unit(dir(i).Add(dir(i+1))), 1/math.Cos(angle(i+1)/2))
		}
		long := corners[i].Dist(corners[i+1])
		steps := int(1.2*long/walkStep) + 1
		for k := range steps {
			u, v := float64(k)/float64(steps), float64(k+1)/float64(steps)
			begin, end := s+(u+v)/2*long, s+(u+v)/2*long
			if ends {
				begin, end = s, s+long
			}
			pass([2]plane.XY{from[0].Lerp(to[0], u), from[1].Lerp(to[1], u)}, [2]plane.XY{from[0].Lerp(to[0], v), from[1].Lerp(to[1], v)}, begin, end)
		}
		s += long
	}
	for _, d := range depth {
		if d > 1 {
			twice += walkStep * walkStep
		}
	}
	return twice
}

// TestDoubleWorkedByWalking: the engine beside a raster over which the bar is walked. Its
// travel is the bar's own, which on a bend differs a little from that of four triangles, and
// cells are counted whole; a raster that compares the ends of legs is far off.
func TestDoubleWorkedByWalking(t *testing.T) {
	const size = 40
	seed := check.Seed(t)
	n := uint64(24)
	if testing.Short() || trial.UnderRaceDetector() {
		n = 4
	}
	worst, wrong, all := 0.0, 0, 0.0
	for k := range n {
		rng := rand.New(rand.NewPCG(seed, k))
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-size/2, -size/2, size/2, size/2)}, Lines: [][]plane.XY{wandering(rng, size)}}
		w := drive.Work{Width: 2 + 4*rng.Float64(), Relap: 4 + 30*rng.Float64(), GapDist: 1000}
		b := checked(t, s, w).Balance
		got := b.Twice + b.More
		want := walked(s.Lines[0], w.Width, w.Relap, size, false)
		if d := math.Abs(got - want); d > 1 {
			t.Errorf("seed %d, line %d, %.2f m wide, relap %.2f m: %.3f m² worked twice or more, by walking %.3f m²", seed, k, w.Width, w.Relap, got, want)
		} else {
			worst = max(worst, d)
		}
		if math.Abs(walked(s.Lines[0], w.Width, w.Relap, size, true)-got) > 1 {
			wrong++
		}
		all += got
	}
	t.Logf("largest difference %.3f m² of %.0f m² in the mean", worst, all/float64(n))
	t.Logf("comparing legs by their ends is seen on %d of %d lines", wrong, n)
	if wrong < int(n)/4 { // mostly on three of four
		t.Errorf("comparing legs by their ends is seen on %d of %d lines only", wrong, n)
	}
}

// TestBackwardsWhereItStood: a set that stands now and then, tool down or lifted, and
// creeps, gives the same shares of the field read backwards.
func TestBackwardsWhereItStood(t *testing.T) {
	seed := check.Seed(t)
	for k := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, k))
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-50, -50, 50, 50)}}
		p, heading := plane.XY{X: -30, Y: 20 * (rng.Float64() - 0.5)}, 0.0
		var line []plane.XY
		var state []geo.WorkState
		now := geo.Working
		for range 150 {
			step := 2 * rng.Float64()
			switch rng.IntN(12) {
			case 0: // stands, by a receiver that wanders some mm, now and then by half the limit
				for range rng.IntN(30) {
					line = append(line, p.Add(plane.XY{X: 0.012 * rng.NormFloat64(), Y: 0.012 * rng.NormFloat64()}))
					state = append(state, now)
				}
			case 1: // creeps
				for range rng.IntN(20) {
					p = p.Add(plane.XY{X: 0.02 * math.Cos(heading), Y: 0.02 * math.Sin(heading)})
					line, state = append(line, p), append(state, now)
				}
			case 2:
				now = []geo.WorkState{geo.Working, geo.Working, geo.Lifted, geo.StateUnknown}[rng.IntN(4)]
			}
			heading += 0.15 * rng.NormFloat64()
			if next := p.Add(plane.XY{X: step * math.Cos(heading), Y: step * math.Sin(heading)}); max(math.Abs(next.X), math.Abs(next.Y)) < 45 {
				p = next
			} else {
				heading += 1
			}
			line, state = append(line, p), append(state, now)
		}
		s.Lines, s.State = [][]plane.XY{line}, [][]geo.WorkState{state}
		back := s.Reversed()
		back.State = [][]geo.WorkState{slices.Clone(state)}
		slices.Reverse(back.State[0])
		w := drive.Work{Width: 4, Headland: 20}
		want, got := shares(checked(t, s, w)), shares(checked(t, back, w))
		for what, v := range want {
			if !(math.Abs(got[what]-v) <= 1e-9) {
				t.Errorf("seed %d, line %d, %s: %.12g of the field, backwards %.12g (%.2g apart)", seed, k, what, v, got[what], got[what]-v)
			}
		}
	}
}

// TestALoneFixBetweenGaps: the bar does not work where it turns at a fix with a log gap on either side.
func TestALoneFixBetweenGaps(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-20, -20, 120, 120)}}
	s.Lines = [][]plane.XY{slices.Concat(trial.Straight(plane.XY{}, plane.XY{X: 40}, 2), []plane.XY{{X: 80}}, trial.Straight(plane.XY{X: 80, Y: 40}, plane.XY{X: 80, Y: 80}, 2))}
	b := checked(t, s, drive.Work{Width: 6}).Balance
	trial.Near(t, "once", b.Once, 6*80, trial.Square100)
	trial.Near(t, "unknown", b.Unknown, 6*80+4.5-9, trial.Square100) // and the wedge outside, less the square both gaps have
}
