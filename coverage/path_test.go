package coverage

import (
	"math"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

func TestTracksThatShareAFixAreOnePass(t *testing.T) {
	line := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}}
	first, second := s, s
	first.Lines, second.Lines = [][]plane.XY{line[:21]}, [][]plane.XY{line[20:]}
	r := checkTracks(t, s, drive.Work{Width: 10}, first.Track(), second.Track())
	if len(r.Passes) != 1 {
		t.Errorf("got %d passes, want 1", len(r.Passes))
	}
	trial.Near(t, "once", r.Balance.Once, 1000, trial.Square100)
	// A fix further on they are two, and the track is told apart.
	second.Lines[0] = line[21:]
	r = checkTracks(t, s, drive.Work{Width: 10}, first.Track(), second.Track())
	if len(r.Passes) != 2 || r.Passes[0].Track != 0 || r.Passes[1].Track != 1 {
		t.Errorf("got %+v, want two passes of tracks 0 and 1", r.Passes)
	}
	trial.Near(t, "missed between them", r.Balance.Missed, 20, trial.Square100)
}

func TestLoggedHeadings(t *testing.T) {
	// The set crabs by 20°: the bar stands askew and covers 10 m · cos 20°.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-60, -10, 60, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{X: -50}, plane.XY{X: 50}, 2)}}
	track := s.Track()
	for range track.Fixes() {
		track.Heading = append(track.Heading, 110)
	}
	want := 1000 * math.Cos(20*math.Pi/180)
	trial.Near(t, "crabbing", checkTracks(t, s, drive.Work{Width: 10}, track).Balance.Once, want, 1e-3)
	for k := range track.Heading { // backing up: the same bar
		track.Heading[k] = 290
	}
	trial.Near(t, "backing up", checkTracks(t, s, drive.Work{Width: 10}, track).Balance.Once, want, 1e-3)
	for k := range track.Heading {
		track.Heading[k] = geo.Bearing(math.NaN())
	}
	trial.Near(t, "not logged", checkTracks(t, s, drive.Work{Width: 10}, track).Balance.Once, 1000, 1e-3)
	for k := range track.Heading { // stuck compass
		track.Heading[k] = 0
	}
	r := checkTracks(t, s, drive.Work{Width: 10, Working: drive.EvidenceAll}, track)
	trial.Near(t, "stuck", r.Balance.Once, 1000, 1e-3)
	if len(r.Findings) != 1 || !strings.Contains(r.Findings[0].What, "51 of 51 logged headings") {
		t.Errorf("got findings %v, want the stuck headings", r.Findings)
	}
}

func TestLoggedWidths(t *testing.T) {
	// 10 m wide at first, 4 m from the middle on, nothing (0: not logged) at the end.
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)}}
	track := s.Track()
	for k := range track.Fixes() {
		switch {
		case k <= 25:
			track.Width = append(track.Width, 10)
		case k <= 40:
			track.Width = append(track.Width, 4)
		default:
			track.Width = append(track.Width, 0)
		}
	}
	r := checkTracks(t, s, drive.Work{Width: 6, WidthFrom: drive.WidthLogged}, track)
	trial.Near(t, "once", r.Balance.Once, 50*10+2*7+28*4+2*5+18*6, trial.Square100)
	if got := trial.Say(r.Findings); !strings.Contains(got, "10 of 51 fixes have no logged width: taken as the whole bar of 6.00 m") {
		t.Errorf("said %q", got)
	}
	// Credited width is the logged one less the overlap: below it nothing counts.
	r = checkTracks(t, s, drive.Work{Width: 6, WidthFrom: drive.WidthLogged, Overlap: 4.5}, track)
	trial.Near(t, "once with 4.5 m of overlap", r.Balance.Once, 50*5.5+18*1.5, trial.Square100)
}

func TestUsualStepOfAThinnedLine(t *testing.T) {
	// 400 m in one step, bends with steps of 1 m: the straight is no gap.
	line := append([]plane.XY{{X: -200}}, trial.Arc(plane.XY{X: 200, Y: 10}, 10, -90, 90, 31)...)
	line = append(line, plane.XY{X: -200, Y: 20})
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-200, -3, 213, 23)}, Lines: [][]plane.XY{line}}
	r := checked(t, s, drive.Work{Width: 6})
	trial.Near(t, "unknown", r.Balance.Unknown, 0, trial.Square100)
	if r.Balance.Once < 2*400*6 {
		t.Errorf("once: got %g m², want both straights", r.Balance.Once)
	}
}
