package coverage

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// Tyres 0.5 m wide, 1.8 m apart, and a bar of 4 m. Closed forms: two bands of 0.5 m over what was cut before and not again later.
func TestTroddenAfterTheCut(t *testing.T) {
	field := []plane.Polygon{{trial.Rectangle(0, 0, 60, 40)}}
	tractor := rig.Tractor{Width: 2.5, Track: 1.8, Tyre: 0.5}
	east, north := []plane.XY{{X: 5, Y: 20.03}, {X: 55, Y: 20.03}}, []plane.XY{{X: 30.02, Y: -10}, {X: 30.02, Y: 50}}
	cut := func(line []plane.XY) drive.Run { return drive.Along(line, 4, 0) }
	turned := func(line []plane.XY) (out []plane.XY) {
		for _, p := range line {
			sin, cos := math.Sincos(0.3)
			out = append(out, plane.XY{X: 30 + (p.X-30)*cos - (p.Y-20)*sin, Y: 20 + (p.X-30)*sin + (p.Y-20)*cos})
		}
		return out
	}
	for _, c := range []struct {
		name string
		do   func(d *Trodden)
		want float64
	}{
		{"a pass, the tractor ahead", func(d *Trodden) { d.Drive(east); d.Cut(cut(east)) }, 0},
		{"driven across it with the tool lifted", func(d *Trodden) { d.Drive(east); d.Cut(cut(east)); d.Drive(north) }, 2 * 0.5 * 4},
		{"twice over the same place", func(d *Trodden) { d.Cut(cut(east)); d.Drive(north); d.Drive(north) }, 2 * 0.5 * 4},
		{"driven along it", func(d *Trodden) { d.Cut(cut(east)); d.Drive(east) }, 2 * 0.5 * 50},
		{"driven across and cut again", func(d *Trodden) { d.Cut(cut(east)); d.Drive(north); d.Cut(cut(east)) }, 0},
		{"aslant to the cells", func(d *Trodden) { d.Cut(cut(turned(east))); d.Drive(turned(north)) }, 2 * 0.5 * 4},
		{"beyond the field", func(d *Trodden) { d.Cut(cut(north)); d.Drive(north) }, 2 * 0.5 * 40},
		{"cut after the headland's turns", func(d *Trodden) { d.Drive(north); d.Cut(cut(north)) }, 0},
	} {
		d := NewTrodden(field, tractor)
		c.do(d)
		if got := d.Area(); math.Abs(got-c.want) > 0.03*c.want+0.05 {
			t.Errorf("%s: %.2f m², want %.2f", c.name, got, c.want)
		}
	}
	if d := NewTrodden(field, rig.Tractor{Width: 2.5}); d.Area() != 0 {
		t.Error("tyres that are not known tread ground")
	}
}

// A log: a round along the edge first, then rows up to it with turns on it, and the other way about.
func TestTroddenInALog(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, -10, 70, 30)}, Lines: [][]plane.XY{
		trial.Straight(plane.XY{X: 0}, plane.XY{X: 60}, 2), trial.Straight(plane.XY{X: 30, Y: 20}, plane.XY{X: 30, Y: -8}, 2)}}
	w := drive.Work{Width: 4, Tractor: rig.Tractor{Width: 2.5, Track: 1.8, Tyre: 0.5}}
	if r := checkTracks(t, s, w, s.Track()); math.Abs(r.Trodden) > 0.1 { // the second pass cuts it again
		t.Errorf("%.2f m²", r.Trodden)
	}
	w.Tractor.Track = 4.5 // its tyres run beside the bar: 4.2 to 4.8 m apart over the first pass
	if r := checkTracks(t, s, w, s.Track()); math.Abs(r.Trodden-2*0.5*4) > 0.2 {
		t.Errorf("%.2f m², want 4", r.Trodden)
	}
}
