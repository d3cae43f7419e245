package sheet

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestSameInputSameBytes(t *testing.T) {
	p := Page{Operation: "harrowing", Zone: time.FixedZone("here", 3600)}
	first := printed(t, everything(), p)
	zone := time.Local
	defer func() { time.Local = zone }()
	time.Sleep(1100 * time.Millisecond) // until a clock that counts seconds has gone on
	for _, local := range []*time.Location{time.FixedZone("east", 5*3600), time.UTC} {
		time.Local = local
		if !bytes.Equal(first, printed(t, everything(), p)) {
			t.Error("same input, other bytes, in a machine's zone of", local)
		}
	}
	for _, f := range fontPrograms(t, first) {
		if sum := fontSum(f); sum != 0xB1B0AFBA {
			t.Errorf("a font of %d bytes adds up to %#x, want 0xB1B0AFBA", len(f), sum)
		}
	}
	if !bytes.Contains(first, []byte("/CreationDate(D:20260414063000Z)")) {
		t.Error("the date of the file is not that of the operation")
	}
	r := everything()
	r.Passes[0].From, r.Passes[0].To = time.Time{}, time.Time{}
	if b := printed(t, r, p); bytes.Contains(b, []byte("CreationDate")) || !strings.Contains(words(t, b, 1), "no time logged") {
		t.Error("an operation without time: the file has a date, or does not say that none was logged")
	}
	var a, b bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		leaves, err := Pages(everything(), p)
		if err != nil {
			t.Fatal(err)
		}
		if err := leaves[0].SVG(out); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("same input, other SVG")
	}
}

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
	leaves, err := Pages(everything(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := bind(leaves, "x")
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
			at := int(number(t, string(e[1])))
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

// Sheets made side by side are those made one after the other.
func TestSheetsSideBySide(t *testing.T) {
	want := printed(t, everything(), Page{})
	got := make([][]byte, 4)
	var wg sync.WaitGroup
	for i := range got {
		wg.Go(func() {
			var b bytes.Buffer
			if err := PDF(&b, everything(), Page{}); err == nil {
				got[i] = b.Bytes()
			}
		})
	}
	wg.Wait()
	for i, b := range got {
		if !bytes.Equal(b, want) {
			t.Errorf("sheet %d of 4 differs", i+1)
		}
	}
}
