package plan

import "testing"

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
	h, worth := survey(8).leftRows(lane, 3)
	if b := bearing(h); !worth || b < 89 || b > 91 {
		t.Errorf("lane: worked %v at %g°, want at 90°", worth, b)
	}
	if _, worth := survey(8).leftRows(box(5, 5)[0], 3); worth {
		t.Error("5 by 5 m in a headland of 3 m is worked: want it left")
	}
	if _, worth := survey(800).leftRows(box(5, 5)[0], 3); !worth {
		t.Error("5 by 5 m is left at 800 h/ha: want it worked")
	}
}
