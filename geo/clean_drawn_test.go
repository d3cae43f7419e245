package geo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// spot is a drawn fix: metres east and north of 54° N 10° E, and seconds.
type spot struct {
	x, y, t float64
	state   geo.WorkState
	quality geo.Quality
}

const metre = 180 / (6371008.8 * math.Pi) // degrees of latitude

// aDay is 2026-04-14 06:00 UTC.
var aDay = float64(time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC).Unix())

// draw makes a track of parts. The speed column holds the number of the fix, so
// that a test sees whether columns were cut alike.
func draw(parts ...[]spot) geo.Track {
	t := geo.Track{Source: "drawn"}
	var flat []float64
	var ends []int
	for _, part := range parts {
		for _, s := range part {
			flat = append(flat, 10+s.x*metre/math.Cos(54*math.Pi/180), 54+s.y*metre, s.t)
			t.Speed = append(t.Speed, float64(len(t.Speed)))
			t.State = append(t.State, s.state)
			t.Quality = append(t.Quality, s.quality)
			t.Width = append(t.Width, 6)
			t.Heading = append(t.Heading, geo.Bearing(len(t.Heading)%360))
			t.Offset = append(t.Offset, 0)
			t.HDOP = append(t.HDOP, math.NaN())
		}
		ends = append(ends, len(flat))
	}
	t.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, ends)
	return t
}

// straight is n fixes eastward at 2 m/s and 1 Hz.
func straight(n int) []spot {
	out := make([]spot, n)
	for k := range out {
		out[k] = spot{x: 2 * float64(k), t: aDay + float64(k), state: geo.Working, quality: geo.QualityFixed}
	}
	return out
}

func with(line []spot, from, to int, f func(k int, s *spot)) []spot {
	out := slices.Clone(line)
	for k := from; k < to; k++ {
		f(k, &out[k])
	}
	return out
}

// untimed takes the times away.
func untimed(line []spot) []spot {
	return with(line, 0, len(line), func(_ int, s *spot) { s.t = math.NaN() })
}

// field is rows passes of 200 m with U-turns of 3 m radius, at so many hertz,
// with noise of so many metres, lifted in the turns.
func field(rows int, hz, noise float64, rng *rand.Rand) []spot {
	var out []spot
	t := aDay
	put := func(x, y float64, state geo.WorkState) {
		out = append(out, spot{x + noise*rng.NormFloat64(), y + noise*rng.NormFloat64(), t, state, geo.QualityFixed})
		t += 1 / hz
	}
	for row := range rows {
		y, step := 6*float64(row), 2.5/hz
		east := row%2 == 0
		for s := 0.0; s < 200; s += step {
			if east {
				put(s, y, geo.Working)
			} else {
				put(200-s, y, geo.Working)
			}
		}
		for a := 0.0; a < math.Pi; a += 1.5 / hz / 3 {
			x := 200 + 3*math.Sin(a)
			if !east {
				x = -3 * math.Sin(a)
			}
			put(x, y+3-3*math.Cos(a), geo.Lifted)
		}
	}
	return out
}

// stand is a set parked for n seconds at 1 Hz after the last fix of a line: the receiver wanders.
func stand(line []spot, n int, wander float64, rng *rand.Rand) []spot {
	last := line[len(line)-1]
	for k := range n {
		s := last
		s.x, s.y = last.x+wander*(2*rng.Float64()-1), last.y+wander*(2*rng.Float64()-1)
		s.t += float64(k + 1)
		line = append(line, s)
	}
	return line
}

// onwards continues a line eastward at 2 m/s after so many seconds.
func onwards(line []spot, n int, pause float64) []spot {
	last := line[len(line)-1]
	for k := range n {
		s := last
		s.x, s.t = last.x+2*float64(k+1), last.t+pause+float64(k)
		line = append(line, s)
	}
	return line
}

// said is what was set aside, one word per run: reason, first fix, number.
func said(aside []geo.SetAside) string {
	var words []string
	for _, s := range aside {
		words = append(words, fmt.Sprintf("%s %d+%d", s.Why, s.First, s.Fixes))
	}
	return strings.Join(words, "; ")
}

// checkContract holds a cleaning against the promises of Clean that concern any track.
func checkContract(t *testing.T, raw geo.Track) (geo.Track, []geo.SetAside) {
	t.Helper()
	before, speed, state := slices.Clone(raw.Line.FlatCoords()), slices.Clone(raw.Speed), slices.Clone(raw.State)
	got, aside := geo.Clean(raw)
	if !sameNumbers(before, raw.Line.FlatCoords()) || !sameNumbers(speed, raw.Speed) || !slices.Equal(state, raw.State) {
		t.Error("the argument was changed")
	}
	n := raw.Fixes()
	gone, late := make([]bool, n), make([]bool, n)
	for _, s := range aside {
		if s.First < 0 || s.First+s.Fixes > n {
			t.Fatalf("run %+v lies outside %d fixes", s, n)
		}
		for k := s.First; k < s.First+s.Fixes; k++ {
			if s.Why == geo.FaultClock {
				late[k] = true
				continue
			}
			if gone[k] {
				t.Errorf("fix %d is set aside twice", k)
			}
			gone[k] = true
		}
	}
	// What is kept: the raw fixes less the gone ones, part by part, in order.
	var flat []float64
	var ends []int
	var numbers []float64
	stride, start := raw.Line.Stride(), 0
	for _, end := range raw.Line.Ends() {
		kept := len(flat)
		for k := start / stride; k < end/stride; k++ {
			if gone[k] {
				continue
			}
			flat = append(flat, before[k*stride:(k+1)*stride]...)
			if late[k] {
				flat[len(flat)-1] = math.NaN()
			}
			if raw.Speed != nil {
				numbers = append(numbers, raw.Speed[k])
			}
		}
		if len(flat) > kept || !slices.Contains(gone, true) {
			ends = append(ends, len(flat))
		}
		start = end
	}
	if !sameNumbers(flat, got.Line.FlatCoords()) || !slices.Equal(ends, got.Line.Ends()) {
		t.Errorf("kept fixes or parts are not those of the track less the runs %s", said(aside))
	}
	if !sameNumbers(numbers, got.Speed) || raw.State != nil && len(got.State) != got.Fixes() || raw.Quality != nil && len(got.Quality) != got.Fixes() ||
		raw.Width != nil && len(got.Width) != got.Fixes() || raw.Heading != nil && len(got.Heading) != got.Fixes() ||
		raw.Offset != nil && len(got.Offset) != got.Fixes() || raw.HDOP != nil && len(got.HDOP) != got.Fixes() {
		t.Error("columns were not cut alike")
	}
	again, more := geo.Clean(got)
	for _, s := range more {
		if s.Fixes > 0 {
			t.Errorf("cleaning again sets aside %s (first %s)", said(more), said(aside))
			break
		}
	}
	if !sameNumbers(again.Line.FlatCoords(), got.Line.FlatCoords()) {
		t.Error("cleaning again changes the track")
	}
	return got, aside
}

func sameNumbers(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return x == y || math.IsNaN(x) && math.IsNaN(y) })
}

// messy is a field log with every fault at random places.
func messy(rng *rand.Rand) geo.Track {
	line := field(1+rng.IntN(4), []float64{1, 5}[rng.IntN(2)], 0.02, rng)
	some := func(most int) (from, to int) {
		from = rng.IntN(len(line))
		return from, min(len(line), from+1+rng.IntN(most))
	}
	for range rng.IntN(12) {
		from, to := some(1 + rng.IntN(80))
		amount := math.Pow(10, 1+6*rng.Float64())
		switch rng.IntN(10) {
		case 0:
			line = with(line, from, to, func(_ int, s *spot) { s.y += amount })
		case 1:
			line = with(line, from, to, func(_ int, s *spot) { s.x += amount * rng.NormFloat64(); s.y += amount * rng.NormFloat64() })
		case 2:
			line = with(line, from, to, func(_ int, s *spot) { s.t += amount * 100 })
		case 3:
			line = with(line, from, to, func(_ int, s *spot) { s.t -= amount * 1000 * rng.Float64() })
		case 4:
			line = with(line, from, len(line), func(_ int, s *spot) { s.t += amount * float64(1-2*rng.IntN(2)) })
		case 5:
			line = with(line, from, to, func(_ int, s *spot) { s.x, s.y = line[from].x, line[from].y })
		case 6:
			line = slices.Concat(line[:to], line[from:])
		case 7:
			q := geo.Quality(rng.IntN(7))
			line = with(line, from, to, func(_ int, s *spot) {
				s.quality, s.state = q, geo.WorkState(rng.IntN(3))
				s.x, s.y = line[from].x+0.5*rng.NormFloat64(), line[from].y+0.5*rng.NormFloat64()
			})
		case 8:
			line = with(line, from, to, func(_ int, s *spot) { s.t = math.NaN() })
		case 9: // parked for up to a minute and a half
			wait := 20 + 70*rng.Float64()
			line = with(line, from, len(line), func(k int, s *spot) {
				if s.t += wait; k < to {
					s.t += wait * (float64(k-from)/float64(to-from) - 1)
					s.x, s.y = line[from].x+0.02*rng.NormFloat64(), line[from].y+0.02*rng.NormFloat64()
				}
			})
		}
	}
	var parts [][]spot
	for range rng.IntN(4) {
		k := rng.IntN(len(line))
		if k == 0 {
			continue
		}
		parts = append(parts, line[:k])
		if line = line[k:]; rng.IntN(2) == 0 {
			line = append([]spot{parts[len(parts)-1][k-1]}, line...) // goes on from the last fix
		}
	}
	parts = append(parts, line)
	rng.Shuffle(len(parts), func(i, j int) {
		if i+j > len(parts) {
			parts[i], parts[j] = parts[j], parts[i]
		}
	})
	return draw(parts...)
}
