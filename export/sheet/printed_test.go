package sheet

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// levelRing is a level rectangle, counter-clockwise; a hole if turned round.
func levelRing(x, y, w, h float64) plane.Ring {
	return plane.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}

func hole(x, y, w, h float64) plane.Ring {
	return plane.Ring{{X: x, Y: y}, {X: x, Y: y + h}, {X: x + w, Y: y + h}, {X: x + w, Y: y}}
}

// turned turns points about the origin, degrees counter-clockwise.
func turned(pts []plane.XY, deg float64) []plane.XY {
	s, c := math.Sincos(deg * math.Pi / 180)
	out := make([]plane.XY, len(pts))
	for i, p := range pts {
		out[i] = plane.XY{X: c*p.X - s*p.Y, Y: s*p.X + c*p.Y}
	}
	return out
}

// field is a result with passes side by side along x and so many strips, laid out
// around the origin and turned.
func field(w, h, deg float64, strips int) coverage.Result {
	l := geo.LocalAt(orb.Point{11.57, 48.14})
	at := time.Date(2026, 4, 14, 22, 30, 0, 0, time.UTC)
	r := coverage.Result{Field: geo.Field{Name: "Long Acre", Number: 1}, Local: l, Work: drive.Work{Width: 6, Overlap: 0.1, TurnRadius: 6}, Bar: drive.Bar{Width: 6, From: drive.WidthGiven, Least: 6, Most: 6, Whole: 1},
		Headland: ground.HeadlandLoss{Depth: 11.8}, Noise: coverage.Noise{PassErrorFrom: "given", PassError: 0.05}}
	r.Layers.Field = []plane.Polygon{{turned(levelRing(-w/2, -h/2, w, h), deg)}}
	n := int(h / 5.9)
	for i := range n {
		y := -h/2 + (float64(i)+0.5)*h/float64(n)
		line := []plane.XY{{X: -w / 2, Y: y}, {X: w / 2, Y: y}}
		if i%2 == 1 {
			line[0], line[1] = line[1], line[0]
		}
		r.Passes = append(r.Passes, drive.Pass{Number: i + 1, From: at.Add(time.Duration(i) * time.Minute), To: at.Add(time.Duration(i+1) * time.Minute), Line: turned(line, deg), Length: w})
	}
	missed := 0.0
	across := int(math.Ceil(math.Sqrt(float64(strips) * w / h)))
	for i := range strips {
		down := (strips + across - 1) / across
		x, y := -w/2+w*(float64(i%across)+0.5)/float64(across), -h/2+h*(float64(i/across)+0.5)/float64(down)
		long, wide := 0.6*w/float64(across), 0.3+0.2*float64(strips-i)/float64(strips)
		shape := plane.Polygon{turned(levelRing(x-long/2, y-wide/2, long, wide), deg)}
		r.Strips = append(r.Strips, coverage.Strip{Number: i + 1, Area: long * wide, Length: long, MeanWidth: wide, MaxWidth: wide, At: l.Point(turned([]plane.XY{{X: x, Y: y}}, deg)[0]),
			Passes: []int{1, 2}, Cause: coverage.CauseDrift, Surety: coverage.SuretyCertain, Shape: shape, Approach: coverage.Approach{Pass: 1, Along: 80, Aside: 2.9, Left: true}})
		r.Layers.Missed = append(r.Layers.Missed, shape)
		missed += long * wide
	}
	r.Balance = ground.Balance{Field: w * h, Missed: missed, Once: w*h - missed}
	r.Telling = coverage.Telling{Strips: coverage.GraspFirm, Error: 0.05, Missed: [2]float64{0.9 * missed, 1.1 * missed}}
	return r
}

// everything is worked() with passes, a tight turn, effort and spacing: every mark
// of the sheet is on it.
func everything() coverage.Result {
	r := worked()
	at := time.Date(2026, 4, 14, 5, 30, 0, 0, time.UTC)
	r.Passes[0].From, r.Passes[0].To = at, at.Add(time.Hour)
	r.Work.TurnRadius = 6
	r.Strips[0].Surety, r.Strips[0].Passes, r.Strips[0].MaxWidth = coverage.SuretyLikely, []int{1}, 5
	r.Strips[0].Approach = coverage.Approach{Pass: 1, Along: 42.3, Aside: 2.95}
	r.Turns = []drive.Turn{{Number: 1, From: 1, To: 2, Seconds: 12, Radius: 3.2, At: r.Local.Point(plane.XY{X: 40, Y: 40}), Tight: true, Line: []plane.XY{{X: 38, Y: 36}, {X: 42, Y: 40}, {X: 38, Y: 44}}}}
	r.Effort = coverage.Effort{Timed: true, Working: coverage.Spent{Metres: 2000, Seconds: 1200, Share: 0.8}, Turning: coverage.Spent{Metres: 200, Seconds: 300, Share: 0.2}, OnField: 1500,
		Speed: coverage.WorkSpeed{Mean: 2, Q05: 1.8, Q95: 2.2}, Classes: []coverage.SpeedClass{{From: 6 / 3.6, Seconds: 400}, {From: 7 / 3.6, Seconds: 800}}, EffectiveCapacity: 6.5, TheoreticalCapacity: 10, FieldEfficiency: 0.65}
	r.Spacing = coverage.Spacing{Planned: 4.9, Median: 4.91, Q05: 4.8, Q25: 4.88, Q75: 4.93, Q95: 5, Samples: 50, Wider: 0.04, Narrower: 0.02}
	r.Findings = []geo.Finding{{File: "folder/log.csv", What: "2 fixes merged"}}
	return r
}

func printed(t testing.TB, r coverage.Result, p Page) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, r, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// textOf is the text of a page, blanks made one.
func textOf(t *testing.T, pdf []byte, page int) string {
	t.Helper()
	n := fmt.Sprint(page)
	return strings.Join(strings.Fields(check.Poppler(t, pdf, "pdftotext", "-raw", "-f", n, "-l", n, "FILE", "-")), " ")
}

// pictureOf is a page at 100 dots an inch.
func pictureOf(t *testing.T, pdf []byte, page int) image.Image {
	t.Helper()
	n := fmt.Sprint(page)
	img, err := png.Decode(strings.NewReader(check.Poppler(t, pdf, "pdftoppm", "-r", "100", "-png", "-f", n, "-l", n, "FILE")))
	if err != nil {
		t.Fatal(err)
	}
	return img
}
