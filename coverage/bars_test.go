package coverage

import (
	"context"
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// Two bars of 6 m, the second 1.5 m behind and lowered with the first: on each of two rows the first leaves 1.5 m × 6 m at the begin that the second
// works, and the second as much at the end (closed form). With a state of its own the second is lifted for the last 20 m of the first row.
func TestBarsOfASet(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-60, -10, 60, 10)}, Lines: [][]plane.XY{
		trial.Straight(plane.XY{X: -50, Y: 4}, plane.XY{X: 50, Y: 4}, 1), trial.Straight(plane.XY{X: 50, Y: -4}, plane.XY{X: -50, Y: -4}, 1)}}
	im := rig.Implement{Width: 6, Bars: []rig.Bar{{Name: "coarse"}, {Name: "fine", Behind: 1.5}}}
	work := func(k int) drive.Work { return drive.Work{}.With(im.OfBar(k)) }
	of := func(results ...Result) Bars {
		b, err := BarsOf(context.Background(), results)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	lifted := func(from int) geo.Track {
		track := s.Track()
		for k := range track.Fixes() {
			state := geo.Working
			if from <= k && k < len(s.Lines[0]) {
				state = geo.Lifted
			}
			track.State = append(track.State, state)
		}
		return track
	}
	const none = math.MaxInt
	first, second := checkTracks(t, s, work(0), lifted(none)), checkTracks(t, s, work(1), lifted(none))
	both := of(first, second)
	for k, b := range both.Each {
		trial.Near(t, "missed by one", b.Alone, 2*1.5*6, 1e-3)
		if b.Rows != 2 || b.OnlyHere != 0 {
			t.Errorf("bar %d: %+v", k, b)
		}
	}
	trial.Near(t, "some", both.Some, 2*2*1.5*6, 1e-3)
	trial.Near(t, "all", both.All, 2*(100-1.5)*6, 1e-3)
	trial.Near(t, "begins", both.Each[1].Begins, -1.5, 1e-4)
	trial.Near(t, "ends", both.Each[1].Ends, -1.5, 1e-4)
	trial.Near(t, "others", ground.AreaOf(both.Others), 2*1.5*6, 1e-3)
	t.Run("in the other order", func(t *testing.T) {
		turned := of(second, first)
		trial.Near(t, "some", turned.Some, both.Some, 1e-6)
		trial.Near(t, "all", turned.All, both.All, 1e-6)
		trial.Near(t, "begins", turned.Each[1].Begins, 1.5, 1e-4)
	})
	t.Run("one place, one state", func(t *testing.T) {
		one := of(first, first, first)
		if one.Some != 0 || len(one.Others) > 0 || one.Each[2].Begins != 0 || one.Each[2].Ends != 0 {
			t.Errorf("%+v", one)
		}
		trial.Near(t, "all", one.All, 2*100*6, 1e-3)
	})
	t.Run("a state of its own", func(t *testing.T) {
		apart := of(first, checkTracks(t, s, work(1), lifted(len(s.Lines[0])-21)))
		trial.Near(t, "missed by the second", apart.Each[1].Alone, (1.5+21.5)*6, 8) // lifted between two fixes
		if e := apart.Each[1].Ends; !(e <= -1.5 && e > -25) {
			t.Errorf("ends %g m farther on", e)
		}
		trial.Near(t, "missed by the first", apart.Each[0].Alone, 2*1.5*6, 1e-3)
	})
	t.Run("another never down", func(t *testing.T) {
		idle := of(first, checkTracks(t, s, work(1), lifted(0)))
		if b := idle.Each[1]; b.Rows != 1 || idle.Each[1].OnlyHere != 0 {
			t.Errorf("%+v", b)
		}
		trial.Near(t, "missed by the second", idle.Each[1].Alone, 100*6+1.5*6, 1e-3)
	})
	t.Run("narrower, to the right", func(t *testing.T) {
		im := im
		im.Bars = []rig.Bar{{Name: "coarse"}, {Name: "fine", Width: 4, Right: 1}}
		narrow := of(first, checkTracks(t, s, drive.Work{}.With(im.OfBar(1)), lifted(none)))
		trial.Near(t, "some", narrow.Some, 2*100*2, 1e-3)
		trial.Near(t, "missed by the first", narrow.Each[0].Alone, 0, 1e-6)
		trial.Near(t, "others", ground.AreaOf(narrow.Others), 2*100*2, 1e-3)
	})
}
