package paper

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"testing"
	"time"
)

// fontPrograms are the fonts in a PDF.
func fontPrograms(t *testing.T, pdf []byte) (fonts [][]byte) {
	t.Helper()
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		if z, err := zlib.NewReader(bytes.NewReader(part)); err == nil {
			if b, err := io.ReadAll(z); err == nil && bytes.HasPrefix(b, []byte{0, 1, 0, 0}) {
				fonts = append(fonts, b)
			}
		}
	}
	if len(fonts) != 2 {
		t.Fatalf("%d fonts, want regular and bold", len(fonts))
	}
	return fonts
}

// Every entry of the table of contents must point at its object, whatever the
// length of the date.
func TestDateKeepsTheTableOfContents(t *testing.T) {
	raw, err := bind([]*Leaf{lettered(t)}, "x")
	if err != nil {
		t.Fatal(err)
	}
	for _, when := range []time.Time{{}, time.Date(2026, 4, 14, 1, 2, 3, 0, time.UTC)} {
		b, err := timeless(raw, when)
		if err != nil {
			t.Fatal(err)
		}
		table := bytes.LastIndex(b, []byte("\nxref\n")) + 1
		if want := fmt.Sprintf("startxref\n%d\n", table); !bytes.Contains(b, []byte(want)) {
			t.Errorf("%v: no %q", when, want)
		}
		entries := regexp.MustCompile(`(?m)^(\d{10}) 00000 n $`).FindAllSubmatch(b[table:], -1)
		if len(entries) < 8 {
			t.Fatalf("%d entries", len(entries))
		}
		for i, e := range entries {
			at, err := strconv.Atoi(string(e[1]))
			if err != nil {
				t.Fatal(err)
			}
			if want := fmt.Sprintf("%d 0 obj\n", i+1); !bytes.HasPrefix(b[at:], []byte(want)) {
				t.Errorf("%v: entry %d points at %q", when, i+1, b[at:at+10])
			}
		}
	}
	for _, bad := range []string{"", "no PDF", "\nxref\ntrailer\n", "\nxref\n9999999999 00000 n \ntrailer\nstartxref\n"} {
		if _, err := timeless([]byte(bad), time.Time{}); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

// lettered is a leaf with letters in both of its own fonts.
func lettered(t *testing.T) *Leaf {
	t.Helper()
	f, err := LoadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	l := New(100, 50, f)
	l.Text(10, 20, Lettering{Size: 12}, "worked once")
	l.Text(10, 30, Lettering{Size: 12, Bold: true}, "missed")
	return l
}

// A font that is cut down adds up to what OpenType asks for.
func TestSumsOfFonts(t *testing.T) {
	for _, f := range fontPrograms(t, bound(t, lettered(t))) {
		if sum := fontSum(f); sum != 0xB1B0AFBA {
			t.Errorf("a font of %d bytes adds up to %#x, want 0xB1B0AFBA", len(f), sum)
		}
	}
}
