package job

import (
	"testing"

	"balk/coverage"
	"balk/export/words"
)

// TestNamesOfStripsOnAPhone: no length or width is told as nothing.
func TestNamesOfStripsOnAPhone(t *testing.T) {
	for want, c := range map[string]struct {
		l             words.Language
		length, width float64
	}{
		"3 · 149 × 0.42 m":  {words.English, 149.08, 0.416},
		"3 · 149 × 12 m":    {words.English, 149.08, 12.3},
		"3 · 9.0 × 5.9 m":   {words.English, 8.99, 5.862},
		"3 · 27 × 0.04 m":   {words.English, 26.76, 0.043},
		"3 · 0.41 × 0.10 m": {words.English, 0.41, 0.101},
		"3 · 27 × 0,04 m":   {words.German, 26.76, 0.043},
	} {
		if got := (HandoverSpec{Paperwork: Paperwork{Language: c.l}}).place(coverage.Strip{Number: 3, Length: c.length, MaxWidth: c.width}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
