package coverage

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// turning is two passes of 80 m with a way between them, logged every half metre
// at 2 m/s; the way between is driven with the tool lifted.
//
//	pass 1 →────────────────╮
//	                        │ way between
//	pass 2 ←────────────────╯
func turning(between []plane.XY) trial.Sketch {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, -60, 160, 60)}}
	there := trial.Straight(plane.XY{X: 10, Y: 0}, plane.XY{X: 90, Y: 0}, 0.5)
	end := between[len(between)-1]
	back := trial.Straight(end, plane.XY{X: 10, Y: end.Y}, 0.5)
	line := slices.Concat(there, between[1:], back[1:])
	var times []float64
	var state []geo.WorkState
	way := 0.0
	for i, p := range line {
		if i > 0 {
			way += p.Dist(line[i-1])
		}
		times = append(times, 1.7e9+way/2)
		if i < len(there) || i >= len(there)+len(between)-2 {
			state = append(state, geo.Working)
		} else {
			state = append(state, geo.Lifted)
		}
	}
	s.Lines, s.Times, s.State = [][]plane.XY{line}, [][]float64{times}, [][]geo.WorkState{state}
	return s
}

// fishtail is a quarter of 6 m, 9 m back, a quarter of 6 m: rows 3 m apart.
func fishtail() []plane.XY {
	first := trial.Arc(plane.XY{X: 90, Y: 6}, 6, -90, 0, 20)
	last := trial.Arc(plane.XY{X: 90, Y: -3}, 6, 0, 90, 20)
	return slices.Concat(first, trial.Straight(plane.XY{X: 96, Y: 6}, plane.XY{X: 96, Y: -3}, 0.5)[1:], last[1:])
}

// Way, time, radius and bend of turns with known figures: a half circle is π·r long.
func TestTurnsOfALog(t *testing.T) {
	for _, c := range []struct {
		name           string
		between        []plane.XY
		mount          rig.Mount
		turnRadius     float64
		length, radius float64
		changes        int
		tight          bool
	}{
		{name: "half circle of 8 m", between: trial.Arc(plane.XY{X: 90, Y: 8}, 8, -90, 90, 60), length: 8 * math.Pi, radius: 8},
		{name: "half circle of 8 m, drawbar radius 7 m", between: trial.Arc(plane.XY{X: 90, Y: 8}, 8, -90, 90, 60), turnRadius: 7, length: 8 * math.Pi, radius: 8},
		{name: "half circle of 8 m, drawbar radius 9 m", between: trial.Arc(plane.XY{X: 90, Y: 8}, 8, -90, 90, 60), turnRadius: 9, length: 8 * math.Pi, radius: 8, tight: true},
		{name: "antenna 2 m ahead of the axle", between: trial.Arc(plane.XY{X: 90, Y: 8}, 8, -90, 90, 60), mount: rig.Mount{AntennaAhead: 2, Hitch: 3}, length: 8 * math.Pi, radius: math.Sqrt(60)},
		{name: "drawbar angle beyond its limit", between: trial.Arc(plane.XY{X: 90, Y: 8}, 8, -90, 90, 60), mount: rig.Mount{Trailed: true, Drawbar: 5, MaxAngle: 30}, length: 8 * math.Pi, radius: 8, tight: true},
		{name: "wide U with a straight", between: slices.Concat(trial.Arc(plane.XY{X: 90, Y: 6}, 6, -90, 0, 30), trial.Arc(plane.XY{X: 90, Y: 14}, 6, 0, 90, 30)), length: 6*math.Pi + 8, radius: 6},
		{name: "fishtail", between: fishtail(), length: 6*math.Pi + 9, radius: 6, changes: 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := checked(t, turning(c.between), drive.Work{Width: 4, Mount: c.mount, TurnRadius: c.turnRadius})
			if len(r.Turns) != 1 {
				t.Fatalf("%d turns, want 1: %+v", len(r.Turns), r.Turns)
			}
			got := r.Turns[0]
			if math.Abs(got.Length-c.length) > 0.02 || math.Abs(got.Seconds-c.length/2) > 0.01 {
				t.Errorf("%.3f m, %.3f s, want %.3f m at 2 m/s", got.Length, got.Seconds, c.length)
			}
			if math.Abs(got.Radius-c.radius) > 0.02*c.radius {
				t.Errorf("least radius %.3f m, want %.3f m", got.Radius, c.radius)
			}
			if math.Abs(got.Bend-180) > 0.5 || got.From != 1 || got.To != 2 || got.Changes != c.changes || got.Tight != c.tight {
				t.Errorf("got %+v, want a turn by 180° from pass 1 to 2, %d changes, tight %t", got, c.changes, c.tight)
			}
			if c.mount.Trailed && !(got.Angle > 30 && got.Angle < math.Asin(5.0/8)*180/math.Pi) {
				t.Errorf("drawbar angle %.1f°, want above 30° and below the steady %.1f°", got.Angle, math.Asin(5.0/8)*180/math.Pi)
			}
		})
	}
}

// The tool lifted for 10 m in a row is no turn; nor is the road to another field.
func TestNoTurns(t *testing.T) {
	row := turning(trial.Straight(plane.XY{X: 90, Y: 0}, plane.XY{X: 100, Y: 0}, 0.5))
	line := trial.Straight(plane.XY{X: 10, Y: 0}, plane.XY{X: 150, Y: 0}, 0.5)
	row.Lines = [][]plane.XY{line}
	row.Times, row.State = nil, [][]geo.WorkState{make([]geo.WorkState, len(line))}
	for i, p := range line {
		row.State[0][i] = geo.Working
		if p.X > 70 && p.X < 80 {
			row.State[0][i] = geo.Lifted
		}
	}
	far := turning(slices.Concat(trial.Straight(plane.XY{X: 90, Y: 0}, plane.XY{X: 900, Y: 0}, 5), trial.Straight(plane.XY{X: 900, Y: 16}, plane.XY{X: 90, Y: 16}, 5)))
	for name, s := range map[string]trial.Sketch{"lifted in the row": row, "on the road": far} {
		if r := checked(t, s, drive.Work{Width: 4}); len(r.Passes) != 2 || len(r.Turns) != 0 {
			t.Errorf("%s: %d passes, turns %+v, want 2 and none", name, len(r.Passes), r.Turns)
		}
	}
}
