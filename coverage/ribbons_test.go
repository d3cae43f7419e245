package coverage

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// A frame of 12 sweeps on two beams, 0.7 m ahead of and behind the bar's middle, that lap by 5 cm, driven 100 m eastwards and turned 4° to the right of
// its way: five of its eleven neighbours have the rear one on the left and leave 1.4·sin 4° − 0.05·cos 4° (closed form); the ends leave combs.
func TestRibbonsBetweenSweeps(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-60, -10, 60, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{X: -50}, plane.XY{X: 50}, 2)}}
	w := drive.Work{Width: 3.05, Sweeps: rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{-0.7, 0.7}}}
	headed := func(s trial.Sketch, headings ...geo.Bearing) geo.Track {
		track := s.Track()
		for i, line := range s.Lines {
			for range line {
				track.Heading = append(track.Heading, headings[i])
			}
		}
		return track
	}
	wide := 1.4*math.Sin(4*math.Pi/180) - 0.05*math.Cos(4*math.Pi/180)
	combs := 2 * 0.7 * (5*0.20 + 0.25)
	r := checkTracks(t, s, w, headed(s, 94)).Ribbons
	trial.Near(t, "as left", r.Left, 5*100*wide+combs, 1e-3)
	trial.Near(t, "combs", r.Combs, combs, 1e-3)
	trial.Near(t, "widest", r.Widest, wide, 2e-5)
	trial.Near(t, "length", r.Length, 500, 1e-3)
	if !(r.Area <= r.Left+1e-6 && r.Area > r.Left-5*2*0.7*wide-1e-3) || !r.Told || len(r.Pairs) != 5 { // combs and ribbons share ground at the ends
		t.Errorf("%+v", *r)
	}
	trial.Near(t, "sure, as no heading wavers", r.Sure, r.Area, 1e-9)
	for _, m := range r.Cutting { // 100 m straight on, for each of twelve
		trial.Near(t, "way in the ground", m, 100, 1e-3)
	}
	for _, p := range r.Pairs {
		trial.Near(t, "of a pair", p.Area, 100*wide, 1e-3)
		if p.LeftOf != p.RightOf-1 || p.LeftOf%2 != 0 {
			t.Errorf("%+v: no pair whose left sweep stands behind", p)
		}
	}
	t.Run("the headland's share", func(t *testing.T) {
		w := w
		w.Headland = 8
		if r := checkTracks(t, s, w, headed(s, 94)).Ribbons; r.Headland != 0 { // the pass runs along the middle 4 m
			t.Errorf("%g m² in the headland", r.Headland)
		}
		w.Headland = 9.9
		if all := checkTracks(t, s, w, headed(s, 94)).Ribbons; all.Headland < 0.75*all.Area || all.Headland > 0.9*all.Area { // one of five runs along the middle
			t.Errorf("%g of %g m² in the headland", all.Headland, all.Area)
		}
	})
	t.Run("another pass over it has cut them", func(t *testing.T) {
		s := s
		s.Lines = append(s.Lines, trial.Straight(plane.XY{X: 55}, plane.XY{X: -55}, 2))
		r := checkTracks(t, s, w, headed(s, 94, 270)).Ribbons
		if r.Left < 5*100*wide || r.Area > 0.1*r.Left {
			t.Errorf("%+v", *r)
		}
	})
	t.Run("no heading is logged: no crab is known", func(t *testing.T) {
		r := checkTracks(t, s, w, s.Track()).Ribbons
		if r.Told || r.Length != 0 {
			t.Errorf("%+v", *r)
		}
		trial.Near(t, "combs alone", r.Area, combs, 1e-3)
	})
	t.Run("no layout is known", func(t *testing.T) {
		if r := checkTracks(t, s, drive.Work{Width: 3.05}, headed(s, 94)).Ribbons; r != nil {
			t.Errorf("%+v", *r)
		}
	})
	t.Run("worked once, twice and missed do not hang on it", func(t *testing.T) {
		with, without := checkTracks(t, s, w, headed(s, 94)), checkTracks(t, s, drive.Work{Width: 3.05}, headed(s, 94))
		if with.Balance != without.Balance {
			t.Errorf("%+v and %+v", with.Balance, without.Balance)
		}
	})
}
