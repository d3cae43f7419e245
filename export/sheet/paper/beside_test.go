package paper

import (
	"bytes"
	"fmt"
	"sync"
	"testing"
)

// Pages that share their fonts may be drawn side by side, in all forms, and come out as one after the other.
func TestPagesSideBySide(t *testing.T) {
	draw := func(n int, wait func(func())) (out [][]byte) {
		f, err := LoadFonts()
		if err != nil {
			t.Fatal(err)
		}
		out = make([][]byte, 2*n)
		for i := range n {
			l := New(100, 50, f)
			l.Text(10, 20, Lettering{Size: 10, Halo: 0.4}, fmt.Sprintf("page %d: äöü αβγ жщю", i))
			for k, write := range []func(*bytes.Buffer) error{func(b *bytes.Buffer) error { return l.SVG(b) }, func(b *bytes.Buffer) error { return l.PNG(b, 60) }} {
				wait(func() {
					var b bytes.Buffer
					if err := write(&b); err != nil {
						t.Error(err)
					}
					out[2*i+k] = b.Bytes()
				})
			}
		}
		return out
	}
	const pages = 8
	want := draw(pages, func(do func()) { do() })
	var wg sync.WaitGroup
	got := draw(pages, wg.Go)
	wg.Wait()
	for i := range want {
		if !bytes.Equal(got[i], want[i]) {
			t.Errorf("page %d, form %d: %d bytes beside others, %d alone", i/2, i%2, len(got[i]), len(want[i]))
		}
	}
}
