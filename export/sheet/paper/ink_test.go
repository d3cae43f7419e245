package paper

import (
	"bytes"
	"image/png"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

// Lines of steps of a few hundredths of a millimetre, as thin strips have them, on which the
// library's own outlines of lines panic (one in some hundred).
func TestShortStepsAreDrawn(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 11))
		l := New(2, 2, nil)
		for range 40 {
			var line orb.LineString
			for range 2 + rnd.IntN(5) {
				line = append(line, orb.Point{1 + float64(rnd.IntN(12))/100, 1 + float64(rnd.IntN(12))/100})
			}
			if rnd.IntN(2) == 0 {
				line = append(line, line[0])
			}
			l.Stroke([]orb.LineString{line}, Pen{Colour: Black, Width: 0.1, Round: rnd.IntN(2) == 0})
		}
		var b bytes.Buffer
		if err := l.PNG(&b, 150); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
	}
}

// Every dot is ink where a step of the line passes nearer than half the pen, and none where no step comes
// nearer than that: places a dot's diagonal on either side of it are not asked.
func TestInkIsWhereTheLineIs(t *testing.T) {
	const mm, dpi = 20.0, 254 // ten dots a millimetre
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 12))
		line := make(orb.LineString, 3+rnd.IntN(4))
		for i := range line {
			line[i] = orb.Point{3 + 14*math.Round(rnd.Float64()*100)/100, 3 + 14*math.Round(rnd.Float64()*100)/100}
		}
		if seed%2 == 0 {
			line = append(line, line[0])
		}
		with := Pen{Colour: Black, Width: 0.5 + 2*rnd.Float64(), Round: seed%3 == 0}
		l := New(mm, mm, nil)
		l.Stroke([]orb.LineString{line}, with)
		var b bytes.Buffer
		if err := l.PNG(&b, dpi); err != nil {
			t.Fatal(err)
		}
		picture, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		const diagonal = 0.08 // mm
		for x := range picture.Bounds().Dx() {
			for y := range picture.Bounds().Dy() {
				at := orb.Point{(float64(x) + 0.5) / 10, (float64(y) + 0.5) / 10}
				beside, near := math.Inf(1), math.Inf(1) // of a step, square to it; of the line
				for i := 1; i < len(line); i++ {
					a, b := line[i-1], line[i]
					ux, uy := b[0]-a[0], b[1]-a[1]
					n := math.Hypot(ux, uy)
					if n == 0 {
						continue
					}
					s := ((at[0]-a[0])*ux + (at[1]-a[1])*uy) / n
					off := math.Abs((at[0]-a[0])*uy-(at[1]-a[1])*ux) / n
					if s > diagonal && s < n-diagonal {
						beside = min(beside, off)
					}
					near = min(near, math.Hypot(off, max(0, -s, s-n)))
				}
				red, _, _, _ := picture.At(x, y).RGBA()
				if beside < with.Width/2-diagonal && red > 0x4000 || with.Round && near < with.Width/2-diagonal-0.02 && red > 0x4000 {
					t.Fatalf("seed %d: no ink at %.2f, %.2f, %.2f mm from a line %.2f mm wide", seed, at[0], at[1], beside, with.Width)
				}
				if near > with.Width/2+diagonal && red < 0xF000 {
					t.Fatalf("seed %d: ink at %.2f, %.2f, %.2f mm from a line %.2f mm wide", seed, at[0], at[1], near, with.Width)
				}
			}
		}
	}
}
