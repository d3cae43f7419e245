package drive

import (
	"fmt"
	"math"
	"testing"

	"balk/geo"
)

func TestWholeLogged(t *testing.T) {
	widths := func(v ...float64) geo.Track { return geo.Track{Columns: geo.Columns{Width: v}} }
	long := widths()
	for range 1000 {
		long.Width = append(long.Width, 6)
	}
	for k := range 5 {
		long.Width[100*k] = 90 // wild
	}
	lifted := widths(6, 6, 12)
	lifted.State = []geo.WorkState{geo.Working, geo.Working, geo.Lifted}
	described := widths(3, 3, 3)
	described.Bar = 6
	for name, c := range map[string]struct {
		tracks []geo.Track
		want   float64
	}{
		"none":                          {[]geo.Track{widths()}, 0},
		"nothing that is one":           {[]geo.Track{widths(0, math.NaN(), -1, math.Inf(1))}, 0},
		"some wild values":              {[]geo.Track{long}, 6},
		"lifted ones do not count":      {[]geo.Track{lifted}, 6},
		"one machine narrower":          {[]geo.Track{widths(3, 3, 3), widths(6, 6, 6)}, 6},
		"half off all the way":          {[]geo.Track{described}, 6},
		"parts lifted most of the time": {[]geo.Track{widths(3, 3, 3, 3, 6)}, 6},
	} {
		if got := WholeLogged(c.tracks); got != c.want {
			t.Errorf("%s: %g m, want %g m", name, got, c.want)
		}
		w, err := Work{WidthFrom: WidthLogged, Sections: []float64{1, 1}}.WithLogged(c.tracks)
		if (err != nil) != (c.want == 0) || err == nil && (w.Width != c.want || w.Sections != nil) {
			t.Errorf("%s: %+v, %v", name, w, err)
		}
	}
	if w, err := (Work{Width: 5}).WithLogged(nil); err != nil || fmt.Sprint(w) != fmt.Sprint(Work{Width: 5}) {
		t.Errorf("given: %+v, %v", w, err)
	}
}
