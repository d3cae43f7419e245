package answer

import (
	"testing"

	"balk/coverage"
	"balk/export/words"
)

func TestSlopesInWords(t *testing.T) {
	s := &coverage.Slope{Mean: 0.08, Most: coverage.Steepest{Slope: 0.171, At: [2]float64{11.5, 48.1}}, Across: coverage.Steepest{Slope: 0.16}}
	strips := []coverage.Strip{{Number: 1, Lies: &coverage.Lies{Across: 0.07}}, {Number: 2}, {Number: 4, Lies: &coverage.Lies{Across: 0.16}}, {Number: 5, Lies: &coverage.Lies{Across: 0.12}}}
	const ground = "At work the ground rises by 8 % in the mean and by 17 % at the most (48.100000, 11.500000); across the way by up to 16 %."
	for _, c := range []struct {
		limit float64
		want  string
	}{
		{0, ground + " Of missed strips, number 4 lies across the steepest slope, 16 %."},
		{15, ground + " Strip 4 lies across a slope of 16 %."},
		{10, ground + " Across slopes of 10 % and more lie strips 4 (16 %), 5 (12 %)."},
		{20, ground},
	} {
		if got := Slopes(words.English, s, strips, c.limit); got != c.want {
			t.Errorf("limit %g: %q, want %q", c.limit, got, c.want)
		}
	}
	if got := Slopes(words.English, nil, strips, 0) + Slopes(words.English, &coverage.Slope{Most: coverage.Steepest{Slope: 0.004}}, nil, 0); got != "" {
		t.Errorf("nothing known, level ground: %q", got)
	}
	ways := []Way{{"re-work pass 3", coverage.WaySlope{Across: 0.16, Down: 0.03}}, {"the way to re-work pass 7", coverage.WaySlope{Across: 0.05, Down: 0.14, Turning: true}}, {"the way to re-work pass 9", coverage.WaySlope{Across: 0.12, Down: 0.11, Turning: true}}}
	for _, c := range []struct {
		limit float64
		want  string
	}{
		{0, "Re-work pass 3 runs across a slope of 16 %. The way to re-work pass 7 turns downhill at 14 %. Re-work pass 3 runs downhill at 3 %. These are the steepest; none is presumed safe (--steep names all from a limit on)."},
		{13, "Re-work pass 3 runs across a slope of 16 %. The way to re-work pass 7 turns downhill at 14 %."},
		{10, "Across slopes of 10 % and more run: re-work pass 3 (16 %), the way to re-work pass 9 (12 %). Downhill at 10 % and more turn: the way to re-work pass 7 (14 %), the way to re-work pass 9 (11 %)."},
		{30, ""},
	} {
		if got := Ways(words.English, ways, c.limit); got != c.want {
			t.Errorf("limit %g: %q, want %q", c.limit, got, c.want)
		}
	}
}
