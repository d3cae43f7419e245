package sheet

import (
	"bytes"
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
	if !bytes.Contains(first, []byte("/CreationDate (D:20260414063000Z)")) {
		t.Error("the date of the file is not that of the operation")
	}
	r := everything()
	r.Passes[0].From, r.Passes[0].To = time.Time{}, time.Time{}
	if b := printed(t, r, p); bytes.Contains(b, []byte("CreationDate")) || !strings.Contains(textOf(t, b, 1), "no time logged") {
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
