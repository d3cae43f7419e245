package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// TestSteadyKeepsSpeedApartFromLine: a driver who holds his line while he slows down and speeds up. What his speed does must not let the
// receiver's noise through aside: the heading, by which a bar swings that is carried metres behind, is as good as at even speed.
func TestSteadyKeepsSpeedApartFromLine(t *testing.T) {
	const noise, hertz, seconds = 0.02, 5.0, 600.0
	aside := func(uneven float64) float64 {
		rng := rand.New(rand.NewPCG(3, 3)) // the same noise
		drive := trail{timed: true, tracks: []trackStart{{}}}
		x, v := 0.0, 2.0
		for s := 0.0; s < seconds; s += 1 / hertz {
			if math.Mod(s, 20) < 10 { // at 0.5 m/s² to another speed, and back
				v = min(2+uneven, v+0.5/hertz)
			} else {
				v = max(2-uneven, v-0.5/hertz)
			}
			x += v / hertz
			y := 0.05 * math.Sin(x/20)
			drive.at = append(drive.at, plane.XY{X: x + noise*rng.NormFloat64(), Y: y + noise*rng.NormFloat64()})
			drive.seconds = append(drive.seconds, s)
		}
		if found := drive.steady(Work{Width: 6, Mount: rig.Mount{Hitch: 1, BarBehind: 2}}, 0); len(found) != 1 {
			t.Fatalf("%d findings, want that the motion was estimated", len(found))
		}
		sum := 0.0
		for k, v := range drive.velocity {
			off := math.Atan2(v.Y, v.X) - math.Atan(0.05/20*math.Cos(drive.at[k].X/20))
			sum += off * off
		}
		return math.Sqrt(sum / float64(len(drive.velocity)))
	}
	even, uneven := aside(0), aside(0.7)
	t.Logf("heading off by %.2g at even speed, %.2g at uneven", even, uneven)
	if uneven > 4*even || even > 0.001 {
		t.Errorf("heading off by %.2g at even speed, %.2g at uneven", even, uneven)
	}
}

// TestSteadyKeepsByJolts: on a straight row the set is thrown aside by half a metre within a second, twice, and once more in the row behind a hole in the log. No fix is left by more
// than five deviations of the noise across the way, as it would be were the set as even everywhere; with one worker as with two.
func TestSteadyKeepsByJolts(t *testing.T) {
	const noise, hertz, seed = 0.01, 5.0, 11
	steadied := func(workers int) (drive trail, fixes []plane.XY) {
		rng := rand.New(rand.NewPCG(seed, seed)) // the same noise
		drive = trail{timed: true, tracks: []trackStart{{}}}
		for k := range 6000 {
			s := float64(k) / hertz
			if k >= 4000 {
				s += 60 // longer than the estimate bridges
			}
			y := 0.0
			for _, at := range []float64{100, 500, 1100} {
				y += 0.5 * max(0, min(1, s-at))
			}
			drive.at = append(drive.at, plane.XY{X: 2*s + noise*rng.NormFloat64(), Y: y + noise*rng.NormFloat64()})
			drive.seconds = append(drive.seconds, s)
		}
		fixes = drive.at
		if found := drive.steady(Work{Width: 6, Mount: rig.Mount{Hitch: 1, BarBehind: 2}, Workers: workers}, 0); len(found) != 1 {
			t.Fatalf("%d findings, want that the motion was estimated", len(found))
		}
		return drive, fixes
	}
	drive, fixes := steadied(2)
	alone, _ := steadied(1)
	worst := 0.0
	for k, at := range drive.at {
		off := math.Abs(fixes[k].Y - at.Y)
		if worst = max(worst, off); off > farOff*noise {
			t.Errorf("seed %d, fix %d is left by %.3f m", seed, k, off)
		}
		if at != alone.at[k] || drive.velocity[k] != alone.velocity[k] {
			t.Fatalf("seed %d, fix %d: %v with two workers, %v with one", seed, k, at, alone.at[k])
		}
	}
	t.Logf("left by %.3f m at most", worst)
}

// TestSteadyInBends: rounds of straights and half circles, a fix a second. None of the bends has as many fixes as tell how lively a machine is, which
// must not make corners of them: places in bends are as good as the fixes, and the heading is that of the way.
func TestSteadyInBends(t *testing.T) {
	const noise, speed, long, radius, rounds = 0.01, 2.0, 60.0, 8.0, 12
	const half, round = math.Pi * radius, 2 * (long + math.Pi*radius)
	rng := rand.New(rand.NewPCG(5, 5))
	on := func(s float64) (at, ahead plane.XY, bent bool) {
		s = math.Mod(s, round)
		side := 1.0
		if s >= round/2 {
			s, side = s-round/2, -1
		}
		if s < long {
			return plane.XY{X: side * (s - long/2), Y: -side * radius}, plane.XY{X: side}, false
		}
		sin, cos := math.Sincos((s - long) / radius)
		return plane.XY{X: side * (long/2 + radius*sin), Y: -side * radius * cos}, plane.XY{X: side * cos, Y: side * sin}, true
	}
	drive := trail{timed: true, tracks: []trackStart{{}}}
	for k := 0.0; k*speed < rounds*round; k++ {
		at, _, _ := on(k * speed)
		drive.at = append(drive.at, at.Add(plane.XY{X: noise * rng.NormFloat64(), Y: noise * rng.NormFloat64()}))
		drive.seconds = append(drive.seconds, k)
	}
	if found := drive.steady(Work{Width: 6, Mount: rig.Mount{Hitch: 1, BarBehind: 2}}, 0); len(found) != 1 {
		t.Fatalf("%d findings, want that the motion was estimated", len(found))
	}
	off, turned, n := 0.0, 0.0, 0.0
	for k, at := range drive.at {
		if want, ahead, bent := on(float64(k) * speed); bent {
			v := drive.velocity[k]
			a := math.Atan2(ahead.Cross(v), ahead.Dot(v))
			off, turned, n = off+at.Dist(want)*at.Dist(want)/2, turned+a*a, n+1
		}
	}
	off, turned = math.Sqrt(off/n), math.Sqrt(turned/n)
	t.Logf("in %g fixes on bends places off by %.4f m in a coordinate, headings by %.4f rad", n, off, turned)
	if off > 1.2*noise || turned > 0.012 {
		t.Errorf("places off by %.4f m in a coordinate of fixes with %.3f m, headings by %.4f rad", off, noise, turned)
	}
}
