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
	tractor := drive.Work{Tractor: rig.Tractor{Width: 2.5, Track: 1.8, Tyre: 0.5}}
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
		{"a pass, the tractor ahead", func(d *Trodden) { d.Drive(east); d.cut(cut(east)) }, 0},
		{"driven across it with the tool lifted", func(d *Trodden) { d.Drive(east); d.cut(cut(east)); d.Drive(north) }, 2 * 0.5 * 4},
		{"twice over the same place", func(d *Trodden) { d.cut(cut(east)); d.Drive(north); d.Drive(north) }, 2 * 0.5 * 4},
		{"driven along it", func(d *Trodden) { d.cut(cut(east)); d.Drive(east) }, 2 * 0.5 * 50},
		{"driven across and cut again", func(d *Trodden) { d.cut(cut(east)); d.Drive(north); d.cut(cut(east)) }, 0},
		{"aslant to the cells", func(d *Trodden) { d.cut(cut(turned(east))); d.Drive(turned(north)) }, 2 * 0.5 * 4},
		{"beyond the field", func(d *Trodden) { d.cut(cut(north)); d.Drive(north) }, 2 * 0.5 * 40},
		{"cut after the headland's turns", func(d *Trodden) { d.Drive(north); d.cut(cut(north)) }, 0},
	} {
		d := NewTrodden(field, tractor)
		c.do(d)
		if got := d.Area(); math.Abs(got-c.want) > 0.03*c.want+0.05 {
			t.Errorf("%s: %.2f m², want %.2f", c.name, got, c.want)
		}
	}
	if d := NewTrodden(field, drive.Work{Tractor: rig.Tractor{Width: 2.5}}); d.Area() != 0 {
		t.Error("tyres that are not known tread ground")
	}
}

// Three tyres of 0.2 m on the implement, 1 m apart, in a bar of 4 m on 50 m, with and without a tractor's two of 0.5 m.
func TestTroddenByTheImplement(t *testing.T) {
	field := []plane.Polygon{{trial.Rectangle(0, 0, 60, 40)}}
	east, north := []plane.XY{{X: 5, Y: 20.03}, {X: 55, Y: 20.03}}, []plane.XY{{X: 30.02, Y: -10}, {X: 30.02, Y: 50}}
	body := rig.Body{Tyre: 0.2, Tyres: []float64{-1, 0, 1}}
	behind := body
	behind.TyresBehind = 1.2
	trailed := rig.Mount{Trailed: true, Drawbar: 4, BarBehind: 1}
	packed := trailed
	packed.BarBehind = -1 // its axle behind the bar
	for _, c := range []struct {
		name string
		w    drive.Work
		want float64
	}{
		{"mounted, wheels ahead of the bar, and lifted across it", drive.Work{Body: body}, 0},
		{"mounted, wheels behind the bar", drive.Work{Body: behind}, 3 * 0.2 * 50},
		{"trailed, its axle ahead of the bar", drive.Work{Body: body, Mount: trailed}, 3 * 0.2 * 4},
		{"trailed, its axle behind the bar", drive.Work{Body: body, Mount: packed}, 3*0.2*50 + 3*0.2*4 - 9*0.2*0.2},
		{"two by their track", drive.Work{Body: rig.Body{Tyre: 0.2, Track: 2, TyresBehind: 1}}, 2 * 0.2 * 50},
		{"one beyond the bar, on what was cut before", drive.Work{Body: rig.Body{Tyre: 0.2, Tyres: []float64{2.5}}}, 0.2 * 50},
		{"and the tractor's", drive.Work{Body: body, Mount: trailed, Tractor: rig.Tractor{Track: 1.2, Tyre: 0.5}}, (2*0.5 + 3*0.2) * 4}, // 0.35 to 0.85 m and 0.9 to 1.1 m aside: apart
	} {
		d := NewTrodden(field, c.w)
		if len(c.w.Body.Tyres) == 1 {
			d.cut(drive.Along(east, 6, 0))
		}
		d.Work(east, drive.Along(east, 4, 0))
		d.Drive(north)
		if got := d.Area(); math.Abs(got-c.want) > 0.03*c.want+0.05 {
			t.Errorf("%s: %.2f m², want %.2f", c.name, got, c.want)
		}
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
