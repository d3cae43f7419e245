package drive

import "testing"

func TestMedian(t *testing.T) {
	for _, c := range [][]float64{{1}, {2, 1}, {3, 1, 2}, {5, 5, 5, 5}, {4, 3, 2, 1, 0}, {1, 9, 1, 9, 1}} {
		text, got := c, Median(append([]float64(nil), c...))
		below, above := 0, 0
		for _, v := range text {
			if v < got {
				below++
			}
			if v > got {
				above++
			}
		}
		if 2*below > len(text) || 2*above > len(text) {
			t.Errorf("median of %v: got %g", text, got)
		}
	}
}
