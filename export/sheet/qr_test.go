package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"strings"
	"testing"

	"balk/coverage"
	"balk/testdata/check"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// scanned reads the QR code of a first page as a telephone held over it would.
func scanned(t *testing.T, r coverage.Result, page image.Image) (string, error) {
	t.Helper()
	s, err := setUp(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	b, dpmm := s.boxes().side, float64(page.Bounds().Dx())/s.w
	seen := image.NewGray(image.Rect(0, 0, int(codeSide*dpmm), int(codeSide*dpmm)))
	draw.Draw(seen, seen.Bounds(), page, image.Pt(int(b.X*dpmm), int(b.Y*dpmm)), draw.Src)
	bitmap, err := gozxing.NewBinaryBitmapFromImage(seen)
	if err != nil {
		t.Fatal(err)
	}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

// The code on the printed page gives the places of the largest strips, as the page
// says, in colour and in grey.
func TestCodeOnThePageGivesThePlaces(t *testing.T) {
	for _, c := range []struct {
		strips, held int
		words        string
	}{{1, 1, "The code holds the place of the strip"}, {4, 4, "The code holds the places of all 4 strips"}, {5000, 12, "The code holds the places of the 12 largest of 5000 strips"}} {
		r := field(400, 200, 0, c.strips)
		pdf := printed(t, r, Page{})
		if got := textOf(t, pdf, 1); !strings.Contains(got, c.words) {
			t.Errorf("page 1 lacks %q:\n%s", c.words, got)
		}
		text, err := "", errors.New("not looked at")
		for _, dpi := range []string{"200", "150"} { // a telephone looks more than once, and the reader here misses one of some fifty at each look
			page, no := png.Decode(strings.NewReader(check.Poppler(t, pdf, "pdftoppm", "-r", dpi, "-gray", "-png", "-f", "1", "-l", "1", "FILE")))
			if no != nil {
				t.Fatal(no)
			}
			if text, err = scanned(t, r, page); err == nil {
				break
			}
		}
		if err != nil {
			t.Fatal("the code on the page cannot be read:", err)
		}
		lines := strings.Split(text, "\n")
		if len(lines) != c.held {
			t.Fatalf("%d strips: %d lines in the code, want %d", c.strips, len(lines), c.held)
		}
		for i, line := range lines {
			var lat, lon float64
			if _, err := fmt.Sscanf(line, "geo:%f,%f", &lat, &lon); err != nil {
				t.Fatalf("line %d %q: %v", i+1, line, err)
			}
			if at := r.Strips[i].At; max(lon-at[0], at[0]-lon, lat-at[1], at[1]-lat) > 5.1e-7 {
				t.Errorf("line %d: %s, want the place of strip %d, %v", i+1, line, i+1, at)
			}
		}
	}
}

// A code is left out rather than made too fine to read.
func TestCodeStaysReadable(t *testing.T) {
	r := field(400, 200, 0, 40)
	for _, side := range []float64{5, 12, 20, 32, 60} {
		squares, held, err := placesCode(placesOf(r.Strips), side)
		if err != nil {
			t.Fatal(err)
		}
		if (held == 0) != (side < 14) {
			t.Errorf("on %g mm: %d places", side, held)
		}
		if held > 0 && side/float64(len(squares)) < leastModule {
			t.Errorf("on %g mm: squares of %.2f mm, want at least %.2f mm", side, side/float64(len(squares)), leastModule)
		}
	}
}

// The test above must be able to fail: a code with a strip of it painted over is no
// longer read.
func TestScannerSeesADamagedCode(t *testing.T) {
	r := field(400, 200, 0, 4)
	leaves, err := Pages(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := leaves[0].PNG(&b, 200); err != nil {
		t.Fatal(err)
	}
	page, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := scanned(t, r, page); err != nil {
		t.Fatal(err)
	}
	spoilt := image.NewGray(page.Bounds())
	for y := range page.Bounds().Dy() {
		for x := range page.Bounds().Dx() {
			spoilt.Set(x, y, page.At(x, y))
			if y%12 < 4 {
				spoilt.Set(x, y, color.White)
			}
		}
	}
	if got, err := scanned(t, r, spoilt); err == nil {
		t.Errorf("a spoilt code is read as %q", got)
	}
}
