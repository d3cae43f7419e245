package coverage

import (
	"math"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

// TestCoarseCoordinatesAreTold: six decimals of a degree add 0.8 × 11 cm to the error.
func TestCoarseCoordinatesAreTold(t *testing.T) {
	rounded := func(decimals int) geo.Track {
		track := trial.Gapped(0.3).Track()
		flat := track.Line.FlatCoords()
		for i := range flat {
			if i%3 < 2 { // lon, lat; the third is the time
				flat[i] = math.Round(flat[i]*math.Pow10(decimals)) / math.Pow10(decimals)
			}
		}
		return track
	}
	coarse := func(r Result) (told []string) {
		for _, f := range r.Findings {
			if strings.Contains(f.What, "coordinates come in steps") {
				told = append(told, f.What)
			}
		}
		return told
	}
	const step = 0.11112 // m, a millionth of a degree of latitude
	r := checkTracks(t, trial.Gapped(0.3), drive.Work{Width: 6, PassError: 0.02}, rounded(6))
	trial.Near(t, "rounding", r.Noise.Rounding, 0.8*step, 1e-4)
	trial.Near(t, "error", r.Noise.PassError, math.Hypot(0.02, 0.8*step), 1e-4)
	if told := coarse(r); len(told) != 1 || !strings.Contains(told[0], "0.11 m (6 decimals of a degree)") {
		t.Errorf("told %q", told)
	}
	r = checkTracks(t, trial.Gapped(0.3), drive.Work{Width: 6, PassError: 0.02}, rounded(7))
	trial.Near(t, "error with 7 decimals", r.Noise.PassError, math.Hypot(0.02, 0.08*step), 1e-4)
	if told := coarse(r); len(told) != 0 {
		t.Errorf("7 decimals are fine enough: told %q", told)
	}
	r = checkTracks(t, trial.Gapped(0.3), drive.Work{Width: 6}, rounded(6))
	if told := coarse(r); len(told) != 1 || r.Noise.Rounding != 0 || !strings.Contains(told[0], "up to 0.089 m apart") {
		t.Errorf("no error to add to: told %q, rounding %g m", told, r.Noise.Rounding)
	}
}

// HDOP bounds the error where nothing says how fixes were won: a strip it leaves certain is certain,
// of others nothing is known, and none is dropped as noise.
func TestHDOPBoundsTheError(t *testing.T) {
	logged := func(gap, hdop float64, q geo.Quality) geo.Track {
		track := trial.Gapped(gap).Track()
		for range track.Fixes() {
			track.HDOP = append(track.HDOP, hdop)
			if q != geo.QualityNone {
				track.Quality = append(track.Quality, q)
			}
		}
		return track
	}
	for _, c := range []struct {
		name   string
		w      drive.Work
		track  geo.Track
		gap    float64
		from   string
		most   float64 // m
		surety Surety
	}{
		{"a wide strip", drive.Work{Width: 6}, logged(3, 0.8, geo.QualityNone), 3, fromHDOP, 0.8, SuretyCertain},
		{"a narrow one", drive.Work{Width: 6}, logged(0.3, 0.8, geo.QualityNone), 0.3, fromHDOP, 0.8, SuretyUnknown},
		{"qualities that say nothing", drive.Work{Width: 6}, logged(3, 1.4, geo.QualityUnknown), 3, fromHDOP, 1.4, SuretyCertain},
		{"a quality goes before", drive.Work{Width: 6}, logged(0.3, 0.8, geo.QualityFixed), 0.3, fromQuality, 0.0143 * 1.96, SuretyCertain},
		{"so does what is given", drive.Work{Width: 6, PassError: 0.05}, logged(0.3, 0.8, geo.QualityNone), 0.3, fromGiven, 0.05, SuretyCertain},
		{"not logged after all", drive.Work{Width: 6}, logged(0.3, math.NaN(), geo.QualityNone), 0.3, "", 0, SuretyUnknown},
		{"no more than is taken", drive.Work{Width: 6}, logged(0.3, 99, geo.QualityNone), 0.3, fromHDOP, 10, SuretyUnknown},
	} {
		r := checkTracks(t, trial.Gapped(c.gap), c.w, c.track)
		if r.Noise.PassErrorFrom != c.from || math.Abs(r.Noise.PassError-c.most) > 1e-3 || r.Noise.Pieces != 0 {
			t.Errorf("%s: %+v, want %.3f m from %q", c.name, r.Noise, c.most, c.from)
		}
		if len(r.Strips) == 0 || r.Strips[0].Surety != c.surety {
			t.Errorf("%s: %d strips, the first %q, want %q", c.name, len(r.Strips), r.Strips[0].Surety, c.surety)
		}
		if n := r.Noise; n.PassErrorFrom != "" && !(r.Telling.Missed[0] <= r.Balance.Missed && r.Balance.Missed <= r.Telling.Missed[1]) {
			t.Errorf("%s: %.2f m² missed, from %.2f to %.2f", c.name, r.Balance.Missed, r.Telling.Missed[0], r.Telling.Missed[1])
		}
	}
	// Two tracks that join, one without: nothing is known there.
	a, b := logged(0.3, 0.8, geo.QualityNone), trial.Gapped(0.3).Track()
	if r := checkTracks(t, trial.Gapped(0.3), drive.Work{Width: 6}, a, b); r.Noise.PassErrorFrom != fromHDOP {
		t.Errorf("%+v", r.Noise)
	}
}
