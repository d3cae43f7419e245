package plan

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// bentAt is a field over a bottom edge of 150 m, an arc of a radius that turns left by an angle, and 100 m more.
func bentAt(radius, angle float64) plane.Ring {
	ring := plane.Ring{{X: 0, Y: 0}, {X: 150, Y: 0}}
	const steps = 12
	for k := 1; k <= steps; k++ {
		sin, cos := math.Sincos(angle * float64(k) / steps)
		ring = append(ring, plane.XY{X: 150 + radius*sin, Y: radius * (1 - cos)})
	}
	sin, cos := math.Sincos(angle)
	end := ring[len(ring)-1].Add(plane.XY{X: 100 * cos, Y: 100 * sin})
	return append(ring, end, plane.XY{X: 120, Y: 240}, plane.XY{X: 0, Y: 200})
}

func TestLongestStretch(t *testing.T) {
	const degree = math.Pi / 180
	for _, c := range []struct {
		what string
		ring plane.Ring
		long float64 // m
	}{
		{"straight sides", rectangle(0, 0, 300, 100), 300},
		{"bend of 40° in one corner", bentAt(0.5, 40*degree), 250},
		{"bend of 80° on 60 m", bentAt(60, 80*degree), 250 + 60*80*degree},
		{"corner of 80° rounded on 3 m", bentAt(3, 80*degree), 3*45*degree + 100 + 147.9}, // 45° of it, the side after it, and the next beyond 30°
	} {
		for shift := range len(c.ring) {
			ring := slices.Concat(c.ring[shift:], c.ring[:shift])
			if got := plane.Length(longestStretch(ring, 6)); math.Abs(got-c.long) > 1 {
				t.Errorf("%s, ring from corner %d: %g m: want %g m", c.what, shift, got, c.long)
			}
		}
	}
}

func TestEdgeOfRing(t *testing.T) {
	ring := rectangle(0, 0, 300, 100)
	for _, c := range []struct {
		what string
		edge Edge
		want []plane.XY
	}{
		{"along the ring", Edge{plane.XY{X: 1, Y: -2}, plane.XY{X: 299, Y: 1}}, []plane.XY{{X: 0, Y: 0}, {X: 300, Y: 0}}},
		{"against the ring", Edge{plane.XY{X: 299, Y: 1}, plane.XY{X: 1, Y: -2}}, []plane.XY{{X: 0, Y: 0}, {X: 300, Y: 0}}},
		{"over the ring's start", Edge{plane.XY{X: 0, Y: 100}, plane.XY{X: 0, Y: 0}}, []plane.XY{{X: 0, Y: 100}, {X: 0, Y: 0}}},
	} {
		if got, err := c.edge.of(ring); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, %v: want %v", c.what, got, err, c.want)
		}
	}
}

// TestDistances: rows for a headland of 12 m and a width of 6 m.
func TestDistances(t *testing.T) {
	for _, c := range []struct {
		what   string
		lo, hi float64
		full   bool
		want   []float64
		pitch  float64
	}{
		{"whole widths", 12, 30, false, []float64{15, 21, 27}, 6},
		{"spread", 12, 27, false, []float64{14.5, 19.5, 24.5}, 5},
		{"full spacing, the last laps", 12, 27, true, []float64{15, 21, 24}, 6},
		{"away from the edge", 40, 46, false, []float64{43}, 6},
		{"ground on either side of the rim", 2, 24, false, []float64{3, 9, 15, 21}, 6},
		{"next to nothing left of the rim", 1, 12.5, false, []float64{3, 9, 15}, 6},
		{"all of it right of the rim", -20, -2, false, []float64{-17, -11, -5}, 6},
	} {
		got, pitch := distances(c.lo, c.hi, 12, 6, c.full)
		if len(got) != len(c.want) || math.Abs(pitch-c.pitch) > 1e-9 {
			t.Errorf("%s: rows at %v, pitch %g: want %v, %g", c.what, got, pitch, c.want, c.pitch)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-9 {
				t.Errorf("%s: rows at %v: want %v", c.what, got, c.want)
			}
		}
	}
}

// BenchmarkBent lays out the work along a bent hedge.
func BenchmarkBent(b *testing.B) {
	for b.Loop() {
		p, err := Lay(b.Context(), sHedge(), mounted(6), Options{Speed: 8, AlongLongest: true})
		if err != nil || len(p.Passes) < 25 {
			b.Fatalf("%d passes, %v", len(p.Passes), err)
		}
	}
}
