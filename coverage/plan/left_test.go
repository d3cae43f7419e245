package plan

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// TestGroundLeftByRounds: a lane of 400 by 4 m between rounds is worked along, not across; a piece of 5 by 5 m, whose two rows take longer to turn
// between than 25 m² are worth, is left unless missing it is dear.
func TestGroundLeftByRounds(t *testing.T) {
	survey := func(hours float64) *survey {
		s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8, MissedHours: hours, UnfitMinutes: 10})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	lane := box(400, 4)[0]
	l, worth := survey(8).leftRows(lane, 3)
	if b := bearing(l.heading); !worth || b < 89 || b > 91 {
		t.Errorf("lane: worked %v at %g°, want at 90°", worth, b)
	}
	if _, worth := survey(8).leftRows(box(5, 5)[0], 3); worth {
		t.Error("5 by 5 m in a headland of 3 m is worked: want it left")
	}
	if _, worth := survey(800).leftRows(box(5, 5)[0], 3); !worth {
		t.Error("5 by 5 m is left at 800 h/ha: want it worked")
	}
}

// TestBentLaneLeftByRounds: a lane 3 m wide along an arc of 60° on a radius of 300 m is worked in one pass along its middle, of 60° · 300 m; the
// bar's own width at either end adds less than itself. Straight rows across would be a hundred.
func TestBentLaneLeftByRounds(t *testing.T) {
	s, err := surveyOf(t.Context(), box(600, 600), mounted(3), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	var outer, inner []plane.XY
	for i := range 61 {
		u := headingOf(float64(30 + i)).Ahead()
		outer, inner = append(outer, u.Scale(301.45)), append(inner, u.Scale(298.55))
	}
	slices.Reverse(inner)
	lane := plane.Polygon{slices.Concat(outer, inner)}
	if lane.Area() < 0 {
		slices.Reverse(lane[0])
	}
	l, worth := s.leftRows(lane, 3)
	if !worth || l.guide == nil {
		t.Fatalf("worked %v, along a guide %v: want both", worth, l.guide != nil)
	}
	blocks := s.leftBlocks(nil, l, 0, true)
	long, rows := 0.0, 0
	for _, b := range blocks {
		for _, st := range b.strips {
			long, rows = long+st.long(), rows+1
		}
	}
	if want := 300 * math.Pi / 3; rows != 1 || long < want || long > want+3 {
		t.Errorf("%d rows of %.1f m in all: want one of %.1f to %.1f m", rows, long, want, want+3)
	}
}
