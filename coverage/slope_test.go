package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// A field of 120 × 120 m that rises by 16 % to the east and 5 % to the north, worked up and down by passes 6 m apart, but for one strip; each pass errs by its
// own 2 cm in height, and the set turns uphill by 0.25° per percent.
func slopingLog(t *testing.T, heights bool) (trial.Sketch, geo.Track) {
	t.Helper()
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 120, 120)}}
	for k := range 20 {
		x := 3 + 6*float64(k)
		if k == 9 {
			x += 2 // leaves a strip 2 m wide, and laps on the other side
		}
		from, to := plane.XY{X: x}, plane.XY{X: x, Y: 120}
		if k%2 == 1 {
			from, to = to, from
		}
		s.Lines = append(s.Lines, trial.Straight(from, to, 2))
	}
	track, rng := s.Track(), rand.New(rand.NewPCG(19, 4))
	for k, line := range s.Lines {
		bias, north := 0.02*rng.NormFloat64(), geo.Bearing(0)
		crab := geo.Bearing(0.25 * 16) // uphill is to the right on the way north
		if k%2 == 1 {
			north, crab = 180, -crab
		}
		for _, p := range line {
			if heights {
				track.Height = append(track.Height, 400+0.16*p.X+0.05*p.Y+bias)
			}
			track.Heading = append(track.Heading, geo.Bearing(math.Mod(float64(north+crab)+360, 360)))
		}
	}
	return s, track
}

func TestSlopeOfACheckedField(t *testing.T) {
	s, track := slopingLog(t, true)
	w := drive.Work{Width: 6, PassError: 0.03}
	r := checkTracks(t, s, w, track)
	lie := r.Slope
	if lie == nil {
		t.Fatal("nothing is known of slopes")
	}
	steep := math.Hypot(0.16, 0.05)
	trial.Near(t, "mean", lie.Mean, steep, 2e-3)
	trial.Near(t, "across", lie.Across.Slope, 0.16, 8e-3)
	trial.Near(t, "left out, of 2 cm a pass", lie.LeftOut, 0.02, 8e-3)
	trial.Near(t, "ground along the slope", lie.Ground/lie.Map, math.Sqrt(1+steep*steep), 1e-4)
	trial.Near(t, "known", lie.Known, 1, 1e-9)
	trial.Near(t, "ground on the map", lie.Map, r.Balance.Field, 1e-6)
	if !(lie.Error > 1e-4 && lie.Error < 0.01) || len(lie.Passes) != 20 {
		t.Errorf("error %g on %d passes", lie.Error, len(lie.Passes))
	}
	for _, p := range lie.Passes { // the way north has uphill on its right
		side, up := -0.16, 0.05
		if p.Pass%2 == 0 {
			side, up = 0.16, -0.05
		}
		trial.Near(t, "mean across a pass", p.Across, side, 6e-3)
		trial.Near(t, "up", p.Up, max(0, up), 6e-3)
		trial.Near(t, "down", p.Down, max(0, -up), 6e-3)
	}
	if r.Strips[0].Area < 200 || r.Strips[0].Lies == nil { // the others lie at the ends of rows, where the bar stands aslant
		t.Fatalf("%.1f m² at %.1f°", r.Strips[0].Area, float64(r.Strips[0].Bearing))
	}
	trial.Near(t, "the strip lies across", r.Strips[0].Lies.Across, 0.16, 6e-3)
	trial.Near(t, "the strip lies along", r.Strips[0].Lies.Along, 0.05, 6e-3)
	if lie.Crab == nil { // on an even slope there and back tell the crab angle from the sensor
		t.Fatal("no crab angle per percent")
	}
	trial.Near(t, "degrees per percent", lie.Crab.PerPercent, 0.25, 0.01)
	trial.Near(t, "sensor", lie.Crab.Sensor, 0, 0.1)

	down, ok := r.WaySlope([]plane.XY{{X: 100, Y: 60}, {X: 30, Y: 60}})
	if !ok || down.Turning || math.Abs(down.Down-0.16) > 6e-3 || math.Abs(down.Across-0.05) > 6e-3 {
		t.Errorf("downhill: %+v", down)
	}
	var bulb []plane.XY // half a circle about (60, 60), first to the north, then down to the west
	for a := 0.0; a <= math.Pi; a += 0.1 {
		bulb = append(bulb, plane.XY{X: 60 + 10*math.Cos(a), Y: 60 + 10*math.Sin(a)})
	}
	if turn, ok := r.WaySlope(bulb); !ok || !turn.Turning || math.Abs(turn.Down-steep) > 8e-3 {
		t.Errorf("a turn downhill: %+v", turn)
	}
	if _, ok := r.WaySlope([]plane.XY{{X: 500, Y: 500}, {X: 520, Y: 500}}); ok {
		t.Error("a slope where nobody drove")
	}
	s, track = slopingLog(t, false)
	if r := checkTracks(t, s, w, track); r.Slope != nil || r.Strips[0].Lies != nil {
		t.Errorf("no heights are logged: %v", r.Slope != nil)
	}
	for range track.Fixes() { // receivers that err by metres from fix to fix tell no slope
		track.Height = append(track.Height, 400+20*rand.New(rand.NewPCG(uint64(len(track.Height)), 1)).NormFloat64())
	}
	if r := checkTracks(t, s, w, track); r.Slope != nil && r.Slope.Known > 0.2 {
		t.Errorf("heights that err by 20 m: known on %.2f of the way", r.Slope.Known)
	}
}
