package sheet

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/testdata/check"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/paulmach/orb"
)

// armsLength is how many dots a millimetre of paper a telephone sees at arm's length (leastModule), as dots to the inch.
const armsLength = "127"

// scanned reads the QR code that stands in a box of a page so wide, in mm, as a telephone held over it would.
func scanned(t *testing.T, page image.Image, width float64, b paper.Box) (string, error) {
	t.Helper()
	dpmm := float64(page.Bounds().Dx()) / width
	seen := image.NewGray(image.Rect(0, 0, int(b.W*dpmm), int(b.H*dpmm)))
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

// frontCode is where the code stands on the first page.
func (s *checkSetting) frontCode() paper.Box {
	b := s.boxes().side
	return paper.Rect(b.X, b.Y, codeSide, codeSide)
}

// onlyPlace reads what a code says as one geo: URI (RFC 5870), all of it, and says how far from a place it is, in degrees.
func onlyPlace(t *testing.T, text string, at orb.Point) float64 {
	t.Helper()
	m := regexp.MustCompile(`^geo:(-?[0-9]+\.[0-9]+),(-?[0-9]+\.[0-9]+)$`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("%q is no geo: URI", text)
	}
	lat, _ := strconv.ParseFloat(m[1], 64)
	lon, _ := strconv.ParseFloat(m[2], 64)
	return max(math.Abs(lat-at[1]), math.Abs(lon-at[0]))
}

// Each of the largest strips has a code that opens its place, read in grey at arm's length; the first page has that of the first.
func TestCodesOpenThePlacesOfStrips(t *testing.T) {
	for _, c := range []struct {
		strips int
		words  string
	}{{1, "The code opens strip 1 on the map of a telephone (geo: URI, RFC 5870)."}, {4, "Each of the 4 largest has its own on page 2."}, {5000, "Each of the 6 largest has its own on page 2."}} {
		r := field(400, 200, 0, c.strips)
		pdf := printed(t, r, Page{})
		if got := strings.Join(strings.Fields(textOf(t, pdf, 1)), " "); !strings.Contains(got, c.words) {
			t.Errorf("page 1 lacks %q:\n%s", c.words, got)
		}
		s, err := setUp(r, Page{})
		if err != nil {
			t.Fatal(err)
		}
		look := func(page string, strip coverage.Strip, b paper.Box) {
			t.Helper()
			text, err := "", errors.New("not looked at")
			for _, dpi := range []string{armsLength, "150", "200"} { // a telephone is held nearer when it does not read at once; the reader here misses one of some fifty at each look
				p, no := png.Decode(strings.NewReader(check.Poppler(t, pdf, "pdftoppm", "-r", dpi, "-gray", "-png", "-f", page, "-l", page, "FILE")))
				if no != nil {
					t.Fatal(no)
				}
				if text, err = scanned(t, p, s.w, b); err == nil {
					break
				}
			}
			if err != nil {
				t.Fatalf("the code of strip %d on page %s cannot be read: %v", strip.Number, page, err)
			}
			if d := onlyPlace(t, text, strip.At); !(d < 5.1e-7) {
				t.Errorf("page %s: %s, want the place of strip %d, %v", page, text, strip.Number, strip.At)
			}
		}
		look("1", r.Strips[0], s.frontCode())
		l := s.newLeaf()
		for i, frame := range s.detailFrames(s.pageHead(l, "") + 1.5) {
			look("2", r.Strips[i], detailCode(frame))
		}
	}
}

// Another reader, Debian's zbar, finds the codes by itself on the whole page at arm's length: those of the strips and that of the first pass of the re-work.
func TestZbarReadsTheCodes(t *testing.T) {
	if _, err := exec.LookPath("zbarimg"); err != nil {
		check.Skip(t, "zbarimg (zbar-tools) is not installed")
	}
	r := field(400, 200, 0, 6)
	plan := reworked(r)
	pdf := printed(t, r, Page{Rework: &plan})
	begin := r.Local.Point(plan.Passes[0].Line[0])
	for page, want := range map[string][]orb.Point{"1": {r.Strips[0].At}, "2": {r.Strips[0].At, r.Strips[1].At, r.Strips[2].At, r.Strips[3].At, r.Strips[4].At, r.Strips[5].At}, "3": {begin}} {
		file := filepath.Join(t.TempDir(), "page.png")
		if err := os.WriteFile(file, []byte(check.Poppler(t, pdf, "pdftoppm", "-r", armsLength, "-gray", "-png", "-f", page, "-l", page, "FILE")), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("zbarimg", "-q", "--raw", file).Output()
		if err != nil {
			t.Fatalf("page %s: %v", page, err)
		}
		lines := strings.Fields(string(out))
		for _, at := range want {
			if !slices.ContainsFunc(lines, func(line string) bool { return onlyPlace(t, line, at) < 5.1e-7 }) {
				t.Errorf("page %s: %v, want also %v", page, lines, at)
			}
		}
		if len(lines) != len(want) {
			t.Errorf("page %s: %d codes, want %d", page, len(lines), len(want))
		}
	}
}

// A code is as coarse as arm's length wants, wherever on the earth its place is.
func TestCodesStayReadable(t *testing.T) {
	for _, at := range []orb.Point{{0, 0}, {11.5, 48.1}, {-179.999999, -89.999999}} {
		squares, err := placeCode(at)
		if err != nil {
			t.Fatal(err)
		}
		if got := min(codeSide, detailCodeSide) / float64(len(squares)); got < leastModule {
			t.Errorf("%v: squares of %.2f mm, want at least %.2f", at, got, leastModule)
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
	s, err := setUp(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := scanned(t, page, s.w, s.frontCode()); err != nil {
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
	if got, err := scanned(t, spoilt, s.w, s.frontCode()); err == nil {
		t.Errorf("a spoilt code is read as %q", got)
	}
}
