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
