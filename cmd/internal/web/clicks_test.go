package web_test

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"balk/testdata/trial"

	"github.com/chromedp/chromedp"
)

// randomClicks: whatever is clicked in whatever order, on several pages at once, the page goes on, says what the command says
// afterwards, and leaves neither goroutines nor memory behind. BALK_LONG: twenty pages, ten minutes.
func randomClicks(t *testing.T, b context.Context, _, dir string) {
	pages, long, every := 1, 2*time.Second, 60*time.Millisecond
	if trial.Long() {
		pages, long, every = 20, 10*time.Minute, 5*time.Second // of each: as a hand that looks at what it did
	}
	address, stop := served(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	want := reported(t, pond(dir)...)
	first := open(t, b, address+"#lang=en", 1280, 1000, "light")
	first.field()
	routines, memory := held()
	t.Run("clicked", func(t *testing.T) { // its tabs are closed at its end
		var tabs []*tab
		for range pages {
			p := open(t, b, address+"#lang=en", 1280, 1000, "light")
			p.refused = true // some of what is clicked is refused, which the browser notes
			p.field()
			tabs = append(tabs, p)
		}
		for n, p := range tabs {
			eval[bool](p, fmt.Sprintf(clicking, 18+n, every.Milliseconds()))
		}
		time.Sleep(long)
		all := 0
		for n, p := range tabs {
			clicks := eval[int](p, `(clearInterval(window.clicking), window.clicks)`)
			if all += clicks; clicks < 10 {
				t.Errorf("page %d: %d clicks: the test does not click", n, clicks)
			}
		}
		t.Logf("page: %d clicks at random on %d pages in %v", all, pages, long)
	})
	first.refused = true
	first.do(chromedp.Reload())
	first.wait("the page is there still", fmt.Sprintf(`document.getElementById('field').dataset.whole !== undefined && document.getElementById('balance').textContent.includes('%.4f')`, want.Balance.Missed/1e4))
	var now int
	var more int64
	for wait := time.Second; wait < time.Minute; wait *= 2 { // requests that nobody waits for are just ending
		time.Sleep(wait / 4)
		after, grown := held()
		if now, more = after, grown-memory; trial.UnderRaceDetector() { // it keeps memory of its own
			more = 0
		}
		if now <= routines+2 && more < mostGrowth {
			break
		}
	}
	if now > routines+2 || more >= mostGrowth {
		t.Error("more goroutines or memory than before")
	}
	t.Logf("page: %d goroutines, %d before; %d MB more", now, routines, more>>20)
	stop()
}

// mostGrowth is what the results that are held for a while come to, bytes: four suppositions of one operation, and what SQLite keeps.
const mostGrowth = 64 << 20

// clicking clicks about: buttons, rows, choices and sliders that can be seen, but nothing that is taken away or downloaded.
const clicking = `(() => {
	let s = %d
	const draw = n => (s = (s * 48271) %% 2147483647) %% n
	window.clicks = 0
	window.clicking = setInterval(() => {
		const all = [...document.querySelectorAll('button, select, input[type=range], input[type=number]')].filter(e => e.offsetParent !== null && !e.disabled && !['hand-over', 'also-folder', 'goal-save', 'in-field', 'copy'].includes(e.id))
		if (!all.length) return
		const e = all[draw(all.length)]
		window.clicks++
		if (e.tagName === 'BUTTON') { e.click(); return }
		if (e.tagName === 'SELECT') e.selectedIndex = draw(e.options.length)
		else e.value = e.type === 'range' ? Number(e.min) + draw(1000) / 1000 * (Number(e.max) - Number(e.min)) : draw(12)
		e.dispatchEvent(new Event('input', {bubbles: true}))
		e.dispatchEvent(new Event('change', {bubbles: true}))
	}, %d)
	return true
})()`

// held is how many goroutines there are, and how many bytes are in use.
func held() (routines int, memory int64) {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return runtime.NumGoroutine(), int64(m.HeapAlloc)
}
