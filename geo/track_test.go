package geo

import (
	"math"
	"testing"
	"time"
)

// Seconds since 1970 as float64 hold 0.12 µs in these years: what a log says to the
// microsecond comes back as it was said, and not a digit more.
func TestInstantIsWhatTheLogSaid(t *testing.T) {
	for _, said := range []string{
		"2026-04-14T06:30:00Z", "2026-04-14T06:30:00.1Z", "2026-04-14T06:30:00.123Z", "2026-04-14T06:30:59.999Z",
		"2026-04-14T06:30:00.000001Z", "2026-04-14T06:30:00.999999Z", "1969-12-31T23:59:59.75Z",
	} {
		want, err := time.Parse(time.RFC3339Nano, said)
		if err != nil {
			t.Fatal(err)
		}
		seconds := float64(want.Unix()) + float64(want.Nanosecond())/1e9
		if got := Instant(seconds).Format(time.RFC3339Nano); got != said {
			t.Errorf("%s comes back as %s", said, got)
		}
	}
	for _, s := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e12} {
		if got := Instant(s); !got.IsZero() {
			t.Errorf("%g s is %v, want no time", s, got)
		}
	}
}

func TestMomentHasADateWhereTheLogHasOne(t *testing.T) {
	if got := Moment(Instant(23400)); got != "06:30:00" {
		t.Errorf("a time of day alone is %q", got)
	}
	if got := Moment(Instant(1776148200)); got != "2026-04-14 06:30:00" {
		t.Errorf("a time with date is %q", got)
	}
}
