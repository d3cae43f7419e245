package drive

import "testing"

// TestBendSaysHowItIsKnown: places 2 m apart that turn by the degrees given.
func TestBendSaysHowItIsKnown(t *testing.T) {
	for _, c := range []struct {
		name  string
		turns []float64
		b     bend
		want  string
	}{
		{"back at one place", []float64{0, 0, 180, 0, 0}, bend{from: 2, to: 2}, "changed direction 1 times within 1 m"},
		{"back and forth", []float64{0, 0, 180, 0, 0, 0, 0, -170, 0, 0}, bend{from: 2, to: 7}, "changed direction 2 times within 10 m"},
		{"three times, turning between", []float64{0, 0, 130, 20, -130, 20, 130, 0, 0}, bend{from: 2, to: 6}, "changed direction 3 times within 8 m"},
		{"round", []float64{0, 0, 45, 45, 45, 45, 0, 0}, bend{from: 2, to: 5}, "turned by 180° within 6 m"},
	} {
		k := course{bends: []bend{c.b}}
		sum := 0.0
		for i, turn := range c.turns {
			sum += turn
			k.nodes = append(k.nodes, node{way: 2 * float64(i), turn: turn, sum: sum})
		}
		if k.joinBends(Work{Width: 6}); len(k.bends) != 1 || k.bends[0].why != c.want {
			t.Errorf("%s: %+v, want %q", c.name, k.bends, c.want)
		}
	}
}
