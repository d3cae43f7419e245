package geo_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/geo"
)

// TestCleanLimits holds each limit of cleaning from both sides: what lies just within it stays, what lies just beyond
// is set aside. The situations are closed forms: a straight pass, of which some fixes are moved in place or time by so
// much.
func TestCleanLimits(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	pass := func(n int, speed, rate float64) []spot { // m/s, 1/s
		return with(straight(n), 0, n, func(k int, s *spot) { s.x, s.t = speed*float64(k)/rate, aDay+float64(k)/rate })
	}
	aside := func(of []spot, from, to int, by float64) []spot {
		return with(of, from, to, func(_ int, s *spot) { s.y += by })
	}
	late := func(from, to int, by float64) []spot {
		return with(straight(200), from, to, func(_ int, s *spot) { s.t += by })
	}
	days := func(n int) []spot { // n fixes, each with a date of its own
		return with(straight(200), 90, 90+n, func(k int, s *spot) { s.t += 86400 * float64(1+(k-90)*(k-90)) * float64(1-2*(k%2)) })
	}
	in1980 := func(ahead float64) []spot { // the last 20 fixes, so many metres farther on
		start := float64(time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).Unix())
		return with(straight(200), 180, 200, func(k int, s *spot) { s.t, s.x = start+float64(k), s.x+ahead })
	}
	shaking := func(by float64) []spot { // parked for a minute, to and fro
		p := straight(50)
		for k := range 60 {
			p = append(p, spot{x: 98 + by*float64((k+1)%2), t: aDay + 50 + float64(k), state: geo.Working, quality: geo.QualityFixed})
		}
		return onwards(p, 50, 1)
	}
	for _, c := range []struct {
		name           string
		within, beyond []spot
		kept, said     string
	}{
		{"thrown by 10 m, where ten steps and the fastest drive are less", aside(pass(400, 2, 10), 200, 201, 9.9), aside(pass(400, 2, 10), 200, 201, 10.1), "", "thrown far off 200+1"},
		{"thrown by ten usual steps, 30 m", aside(pass(200, 3, 1), 100, 101, 29.7), aside(pass(200, 3, 1), 100, 101, 30.1), "", "thrown far off 100+1"},
		{"thrown by what is driven at 20 m/s, in a second", aside(pass(200, 1, 1), 100, 101, 19.9), aside(pass(200, 1, 1), 100, 101, 20.1), "", "thrown far off 100+1"},
		{"thrown for a minute", aside(straight(400), 100, 161, 300), aside(straight(400), 100, 158, 300), "", "thrown far off 100+58"},
		{"thrown for 600 fixes", aside(pass(3000, 2, 20), 1000, 1601, 300), aside(pass(3000, 2, 20), 1000, 1600, 300), "", "thrown far off 1000+600"},
		{"a clock ahead by a minute", late(90, 100, 59), late(90, 100, 62), "with a wrong clock 100+0", "with a wrong clock 90+10"},
		{"eight dates in a run", days(9), days(8), "with a wrong clock 91+0; with a wrong clock 93+0; with a wrong clock 95+0; with a wrong clock 97+0; with a wrong clock 99+0", "with a wrong clock 90+8"},
		{"1980, and 25 m on", in1980(24), in1980(22), "with a wrong clock 180+0", "with a wrong clock 180+20"},
		{"a stop of ten seconds", onwards(stand(straight(50), 9, 0.01, rng), 50, 1), onwards(stand(straight(50), 13, 0.01, rng), 50, 1), "", "standing still 50+12"},
		{"parked, within 10 cm", shaking(0.11), shaking(0.09), "", "standing still 50+59; with a repeated position 109+1"},
	} {
		for _, side := range []struct {
			name string
			s    []spot
			want string
		}{{"within", c.within, c.kept}, {"beyond", c.beyond, c.said}} {
			if _, aside := geo.Clean(draw(side.s)); said(aside) != side.want {
				t.Errorf("%s, %s: %q, want %q", c.name, side.name, said(aside), side.want)
			}
		}
	}
}

// TestCleanTellsHowFarTheClockWasOff: ahead is above 0 and behind below, whichever side of the leap is the wrong one.
func TestCleanTellsHowFarTheClockWasOff(t *testing.T) {
	const day, week = 86400.0, 7 * 86400.0
	start := float64(time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).Unix())
	off := func(from, to int, by float64) []spot {
		return with(straight(200), from, to, func(_ int, s *spot) { s.t += by })
	}
	for _, c := range []struct {
		name string
		s    []spot
		want float64 // s
	}{
		{"ten fixes an hour ahead", off(90, 100, 3600), 3600},
		{"ten fixes an hour behind", off(90, 100, -3600), -3600},
		{"one fix a year ahead", off(90, 91, 400*day), 400 * day},
		{"the first fixes dated 1980", off(0, 20, start-aDay), start - aDay},
		{"the last fixes dated 1980", off(180, 200, start-aDay), start - aDay},
		{"the first fixes ten years ahead", off(0, 20, 3650*day), 3650 * day},
		{"the last fixes ten years ahead", off(180, 200, 3650*day), 3650 * day},
		{"the week counter rolled over", off(120, 200, -1024*week), -1024 * week},
		{"set back by an hour, kept", off(100, 200, -3600), -3600},
	} {
		_, aside := geo.Clean(draw(c.s))
		if len(aside) != 1 || aside[0].Why != geo.FaultClock || math.Abs(aside[0].By-c.want) > 2 {
			t.Errorf("%s: %+v, want one run off by %g s", c.name, aside, c.want)
		}
	}
}
