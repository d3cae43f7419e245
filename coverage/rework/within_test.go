package rework

import (
	"errors"
	"testing"
)

// Plans whose way turned out longer than the curve says, in seconds by how many steps they take: the most that keep the time, but never so few that a strip that
// is worked whatever it takes is missing.
func TestWithin(t *testing.T) {
	took := []float64{0, 100, 210, 290, 340, 500, 505}
	for name, c := range map[string]struct {
		seconds     float64
		least, most int
		want        int
	}{
		"all keep it":                {505, 0, 6, 6},
		"one too many":               {504, 0, 6, 5},
		"three too many":             {300, 0, 6, 3},
		"just kept":                  {290, 0, 6, 3},
		"one is left":                {209, 0, 6, 1},
		"none keeps it":              {99, 0, 6, 0},
		"none is planned":            {99, 0, 0, 0},
		"four of them whatever":      {300, 4, 6, 4},
		"four, and five keep it":     {500, 4, 6, 5},
		"as many as there are to be": {300, 6, 6, 6},
	} {
		got, err := within(c.seconds, c.least, c.most, func(steps int) (Plan, error) { return Plan{Time: took[steps], Unfit: steps}, nil })
		if err != nil || got.Unfit != c.want {
			t.Errorf("%s: %d steps (%v), want %d", name, got.Unfit, err, c.want)
		}
	}
	broken := errors.New("broken")
	if _, err := within(300, 0, 6, func(steps int) (Plan, error) {
		if steps == 3 {
			return Plan{}, broken
		}
		return Plan{Time: took[steps]}, nil
	}); err != broken {
		t.Errorf("an error in the middle: %v", err)
	}
}
