package web_test

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
)

// TestHowFast prints what the page costs: processor time of server and of the main thread of the page, so that whatever else the machine
// does counts for little. Nothing here is a limit: .ci/long writes it down.
func TestHowFast(t *testing.T) {
	if !trial.Long() {
		t.Skip("prints figures, with BALK_LONG=1")
	}
	b := browser(t)
	for name, o := range map[string]weaving{
		"20 ha at 1 Hz":            {passes: 75, length: 450, step: 2.25, width: 6, pitch: 5.9, weave: 0.12, period: 90},
		"a million fixes at 10 Hz": {passes: 430, length: 520, step: 0.2237, width: 6, pitch: 5.9, weave: 0.06, period: 260},
		"5,000 strips":             {passes: 501, length: 600, step: 2, width: 6, pitch: 6, weave: 0.3, period: 60},
	} {
		t.Run(name, func(t *testing.T) { looked(t, b, o) })
	}
}

// weaving is an invented operation: rows side by side, each of which weaves against its neighbours, so that ground is left between them.
type weaving struct {
	passes                                    int
	length, step, width, pitch, weave, period float64 // m
}

// files are its boundary and its log, as GeoJSON, at 2.2 m/s.
func (o weaving) files(t *testing.T) (boundary, log string, fixes int, area float64) {
	t.Helper()
	dir := t.TempDir()
	boundary, log = filepath.Join(dir, "field.geojson"), filepath.Join(dir, "log.geojson")
	high := float64(o.passes-1)*o.pitch + o.width
	ring := ""
	for k, q := range append(trial.Rectangle(0, 0, o.length, high), plane.XY{}) {
		if k > 0 {
			ring += ","
		}
		at := trial.Paper.Point(q)
		ring += fmt.Sprintf("[%.9f,%.9f]", at[0], at[1])
	}
	if err := os.WriteFile(boundary, []byte(`{"type":"Feature","properties":{"name":"weaving"},"geometry":{"type":"Polygon","coordinates":[[`+ring+`]]}}`), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(log)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriter(f)
	rng := rand.New(rand.NewPCG(18, 1))
	at := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	fmt.Fprint(w, `{"type":"FeatureCollection","features":[`)
	for p := range o.passes {
		along := trial.Straight(plane.XY{}, plane.XY{X: o.length}, o.step)
		for k, q := range along {
			side := o.weave
			if p%2 == 1 { // driven back
				q.X, side = o.length-q.X, -o.weave
			}
			q.Y = o.width/2 + float64(p)*o.pitch + side*math.Sin(2*math.Pi*q.X/o.period) + 0.004*rng.NormFloat64()
			lonlat := trial.Paper.Point(q)
			if fixes > 0 {
				fmt.Fprint(w, ",")
			}
			fixes++
			at = at.Add(time.Duration(o.step / 2.2 * float64(time.Second)))
			if k == 0 {
				at = at.Add(15 * time.Second)
			}
			fmt.Fprintf(w, "\n"+`{"type":"Feature","geometry":{"type":"Point","coordinates":[%.9f,%.9f]},"properties":{"time":%q,"working":%t}}`, lonlat[0], lonlat[1], at.Format("2006-01-02T15:04:05.000Z"), k < len(along)-1)
		}
	}
	fmt.Fprint(w, "\n]}\n")
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return boundary, log, fixes, o.length * high
}

// looked puts an operation on the page, and says what it took until it was seen, and what follows from there.
func looked(t *testing.T, b context.Context, o weaving) {
	boundary, log, fixes, area := o.files(t)
	address, stop := served(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	defer stop()
	p := open(t, b, address+"#lang=en", 1280, 1000, "light")
	p.wait("there is a place to put files", `!document.getElementById('put').hidden`)
	p.do(chromedp.SetUploadFiles("#files", []string{boundary, log}))
	main, server := p.cost(), check.CPUTime(t)
	wall := eval[float64](p, fmt.Sprintf(`new Promise(done => {
		document.getElementById('put-width').value = %g
		const from = performance.now()
		const look = () => performance.getEntriesByName('shown').length ? requestAnimationFrame(() => setTimeout(() => done(performance.now() - from))) : setTimeout(look, 5)
		document.getElementById('put-form').requestSubmit()
		look()
	})`, o.width))
	main, server = p.cost()-main, check.CPUTime(t)-server
	what := fmt.Sprintf("%.0f ha, %d fixes", area/1e4, fixes)
	t.Logf("page: %s: first picture: server %.2f s, main thread %.2f s, by the clock %.2f s", what, server.Seconds(), main, wall/1000)
	p.field()
	what += fmt.Sprintf(", %d strips", eval[int](p, `document.querySelectorAll('#list tbody button').length`))
	t.Log("page: " + p.slid(what))
	t.Log("page: " + p.supposed(what))
	p.walked(what)
}

// slid moves the time, a step a frame.
func (p *tab) slid(what string) string {
	main := p.cost()
	worst := eval[float64](p, frames(100, `const r = document.getElementById('when'); r.value = Number(r.max) * k / n; r.dispatchEvent(new Event('input'))`))
	return fmt.Sprintf("%s: slider: main thread %.1f ms a step, at most %.0f ms of script", what, (p.cost()-main)*10, worst)
}

// walked moves the map by hand, a step a frame, whole and close.
func (p *tab) walked(what string) {
	hand := `const map = document.querySelector('#map .ol-viewport'), box = map.getBoundingClientRect(), x = box.left + box.width / 2 + 150 * Math.sin(k / 8), y = box.top + box.height / 2 + 90 * Math.sin(k / 5)
		const at = (type, on) => on.dispatchEvent(new PointerEvent(type, {bubbles: true, cancelable: true, pointerId: 1, isPrimary: true, pointerType: 'mouse', button: type === 'pointermove' ? -1 : 0, buttons: type === 'pointerup' ? 0 : 1, clientX: x, clientY: y}))
		if (k === 0) at('pointerdown', map); else if (k === n - 1) at('pointerup', document); else at('pointermove', document)`
	wheel := `const map = document.querySelector('#map .ol-viewport'), box = map.getBoundingClientRect()
		map.dispatchEvent(new WheelEvent('wheel', {bubbles: true, cancelable: true, deltaY: k < n / 2 ? -30 : 30, clientX: box.left + box.width / 2, clientY: box.top + box.height / 2}))`
	eval[bool](p, `(document.getElementById('whole').click(), true)`)
	for _, one := range []struct{ name, step string }{{"panning", hand}, {"zooming", wheel}, {"panning close", hand}} {
		if one.name == "panning close" {
			eval[bool](p, `(document.getElementById('closer').click(), document.getElementById('closer').click(), true)`)
		}
		eval[float64](p, frames(5, ``)) // what was put off is done
		main := p.cost()
		worst := eval[float64](p, frames(100, one.step))
		p.Logf("page: %s: %s: main thread %.1f ms a frame, at most %.0f ms of script", what, one.name, (p.cost()-main)*10, worst)
	}
}

// supposed asks for another width, and then one that was not asked for yet by the server's clock.
func (p *tab) supposed(what string) string {
	main, server := p.cost(), check.CPUTime(p)
	wall := eval[float64](p, `new Promise(done => {
		const from = performance.now(), is = document.getElementById('command').textContent
		const look = () => document.getElementById('command').textContent !== is ? requestAnimationFrame(() => setTimeout(() => done(performance.now() - from))) : setTimeout(look, 5)
		document.getElementById('what-if').click()
		const i = document.querySelector('#suppose-form input[name=width]')
		i.value = '5.8'
		i.dispatchEvent(new Event('input'))
		look()
	})`)
	main, server = p.cost()-main, check.CPUTime(p)-server
	eval[bool](p, `(document.getElementById('what-if').click(), true)`)
	return fmt.Sprintf("%s: another width: server %.2f s, main thread %.2f s, by the clock %.2f s", what, server.Seconds(), main, wall/1000)
}

// frames carries out a step in each of n frames, k of n, and gives the longest that script took in one of them, ms: the step and what the page does because of it.
func frames(n int, step string) string {
	return fmt.Sprintf(`new Promise(done => {
		const n = %d
		let k = 0, worst = 0
		const one = () => {
			let from = 0
			requestAnimationFrame(() => { from = performance.now() }) // before and behind what the page asks to have drawn by the step
			const stepped = performance.now()
			;(() => { %s })()
			const step = performance.now() - stepped
			requestAnimationFrame(() => { worst = Math.max(worst, step + performance.now() - from) })
			if (++k < n) setTimeout(() => requestAnimationFrame(one)); else setTimeout(() => done(worst), 100)
		}
		requestAnimationFrame(one)
	})`, n, step)
}

// cost is the processor time that the main thread of a page has taken so far, s.
func (p *tab) cost() float64 {
	p.Helper()
	if _, err := chromedp.Call(p.ctx, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks}); err != nil {
		p.Fatal(err)
	}
	all, err := chromedp.Call(p.ctx, performance.GetMetrics, cdp.Empty{})
	if err != nil {
		p.Fatal(err)
	}
	for _, m := range all.Metrics {
		if m.Name == "TaskDuration" {
			return m.Value
		}
	}
	p.Fatal("no TaskDuration among the metrics")
	return 0
}
