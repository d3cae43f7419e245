package web_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/testdata/check"

	"github.com/chromedp/chromedp"
)

// TestPage looks at the page in a real browser.
func TestPage(t *testing.T) {
	b := browser(t)
	rules, none := os.ReadFile("page/node_modules/axe-core/axe.min.js")
	t.Chdir(t.TempDir()) // short names on the pictures
	const dir = "farm"
	if said, code := balk(t, "demo", dir); code != 0 {
		t.Fatal(said)
	}
	address, _ := served(t, append(pond(dir), "--keep", "kept")...)
	for name, test := range map[string]func(*testing.T, context.Context, string, string){"bands": bands, "what if": whatIf, "of another frame": ofAnotherFrame, "written into the set": writtenIntoTheSet, "on a phone": onAPhone, "other verbs": asked, "in the field": inTheField, "whole in one file": wholeInOneFile, "clicked at random": randomClicks, "cancelled": cancelled, "corner dragged": dragged, "by keyboard": byKeyboard, "on paper": onPaper} {
		t.Run(name, func(t *testing.T) { test(t, b, address, dir) })
	}
	far, err := filepath.Abs(dir) // the browser runs elsewhere
	if err != nil {
		t.Fatal(err)
	}
	t.Run("put and kept", func(t *testing.T) { putAndKept(t, b, far) })
	t.Run("corrected and taken back", func(t *testing.T) { correctedAndTakenBack(t, b, dir) })
	t.Run("every panel", func(t *testing.T) {
		if none != nil {
			check.Skip(t, "no axe-core (npm ci in cmd/internal/web/page) to look over the page with")
		}
		everyPanel(t, b, far, string(rules))
	})
	t.Run("fault in place", func(t *testing.T) { faultInPlace(t, b, far) })
}

// bands: the page shows what the command says, and its bands answer to each other.
func bands(t *testing.T, b context.Context, address, dir string) {
	want := reported(t, pond(dir)...)
	p := open(t, b, address+"#lang=en", 1280, 1400, "light")
	p.field()
	if got := eval[int](p, `document.querySelectorAll('#list button').length`); got != len(want.Strips) {
		t.Errorf("%d strips in the list, want %d", got, len(want.Strips))
	}
	if got := p.text("balance"); !strings.Contains(got, fmt.Sprintf("%.4f", want.Balance.Missed/1e4)) {
		t.Errorf("the balance %q has not the %.4f ha missed", got, want.Balance.Missed/1e4)
	}
	if got := p.text("command"); !strings.HasPrefix(got, "balk check ") || !strings.Contains(got, "--rounds 3") {
		t.Errorf("the command %q", got)
	}
	p.picture("wide")
	apart(p, len(want.Strips))
	eval[bool](p, `(() => { const s = document.getElementById('passes'); s.value = 'surety'; s.dispatchEvent(new Event('change')); return true })()`)
	if got := p.text("legend"); !strings.Contains(got, "logged as work") || !strings.Contains(got, "not known") || strings.Contains(got, "doubtful") {
		t.Errorf("the legend of passes by surety: %q", got)
	}
	p.picture("wide-surety")
	eval[bool](p, `(() => { const s = document.getElementById('passes'); s.value = 'across'; s.dispatchEvent(new Event('change')); return !document.getElementById('by-across').hidden })()`)
	if got := p.text("legend"); !strings.Contains(got, "percent") || !strings.Contains(got, "uncut between sweeps") {
		t.Errorf("the legend of passes by slope: %q", got)
	}
	p.picture("wide-across")

	eval[bool](p, `(document.querySelector('#list button[aria-label="strip 2"]').click(), true)`)
	p.wait("a strip that was clicked is in the address", `location.hash.includes('strip=2')`)
	p.wait("its row is marked", `document.querySelector('#list tr.selected button').textContent.startsWith('2')`)
	at := eval[[]float64](p, `(() => { document.querySelector('#list button[aria-label="strip 1"]').dispatchEvent(new MouseEvent('dblclick', {bubbles: true})); const r = document.getElementById('map').getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2] })()`)
	eval[bool](p, `(document.querySelector('#list button[aria-label="strip 2"]').click(), true)`)
	p.do(chromedp.MouseClickXY(at[0], at[1])) // the map was taken to strip 1, which is a square
	p.wait("a strip that was clicked on the map is marked in the list", `document.querySelector('#list tr.selected button')?.textContent === '1'`)
	eval[bool](p, `(document.getElementById('whole').click(), true)`)
	eval[bool](p, `(() => { const r = document.getElementById('when'); r.value = 1200; r.dispatchEvent(new Event('input')); return true })()`)
	p.wait("the time is told, and how far the neighbour is", `document.getElementById('now').textContent.includes('08:50') && /spacing to the neighbour \d\.\d\d m/.test(document.getElementById('now').textContent)`)
	p.picture("wide-time")
}

// apart looks at the numbers on the map: every strip has one, none stands over another, and what is far from its strip has a line.
func apart(p *tab, strips int) {
	p.Helper()
	p.wait("there are numbers", `!!document.getElementById('map').dataset.names`)
	var placed [][4]float64 // number, x, y, whether a line leads there
	for one := range strings.SplitSeq(eval[string](p, `document.getElementById('map').dataset.names`), ";") {
		var at [4]float64
		if _, err := fmt.Sscan(one, &at[0], &at[1], &at[2], &at[3]); err != nil {
			p.Fatal(one, err)
		}
		placed = append(placed, at)
	}
	if len(placed) != strips {
		p.Errorf("%d numbers for %d strips", len(placed), strips)
	}
	const high, digit = 12, 8 // px, of the type they are set in: less than the room they have
	for k, a := range placed {
		for _, b := range placed[:k] {
			wide := float64(digit*(len(fmt.Sprint(a[0]))+len(fmt.Sprint(b[0])))) / 2
			if math.Abs(a[1]-b[1]) < wide && math.Abs(a[2]-b[2]) < high {
				p.Errorf("numbers %v and %v stand over each other", a, b)
			}
		}
	}
}

// whatIf: what is supposed follows at once, beside how it was driven, and says its command.
func whatIf(t *testing.T, b context.Context, address, dir string) {
	was, want := reported(t, pond(dir)...), reported(t, append(pond(dir), "--width", "5.5")...)
	p := open(t, b, address+"#lang=en", 1280, 1000, "light")
	p.field()
	eval[bool](p, `(() => { document.getElementById('what-if').click(); const i = document.querySelector('#suppose-form input[name=width]'); i.value = '5.5'; i.dispatchEvent(new Event('input')); return true })()`)
	p.wait("the other half of the map is there", `!document.getElementById('other').hidden`)
	if got := p.text("changes"); !strings.Contains(got, fmt.Sprintf("strips: %d → %d", len(was.Strips), len(want.Strips))) {
		t.Errorf("%q does not say that of %d strips come %d", got, len(was.Strips), len(want.Strips))
	}
	if got := p.text("command"); !strings.HasSuffix(got, "--width 5.5") {
		t.Errorf("the command %q", got)
	}
	p.picture("what-if")
	if at := eval[string](p, `location.hash`); !strings.Contains(at, "if.width=5.5") {
		t.Errorf("the address %q does not hold what is supposed", at)
	}
	eval[bool](p, `(() => { const i = document.querySelector('#suppose-form input[name=width]'); i.value = '500'; i.dispatchEvent(new Event('input')); return true })()`)
	p.refused = true
	p.wait("what cannot be is told in the words of the command", `document.getElementById('changes').textContent.includes('500')`)
}

// ofAnotherFrame: that the log is in the frame of the satellites is said of the log, not of its set, and gives what the command then says. By the
// transformation EPSG:8405 the two lie 0.97 m apart there that day, so that more is missed along the boundary.
func ofAnotherFrame(t *testing.T, b context.Context, address, dir string) {
	was, want := reported(t, pond(dir)...), reported(t, append(pond(dir), "--frame", "satellites")...)
	if math.Abs(was.Balance.Missed-want.Balance.Missed) < 100 {
		t.Fatalf("%.0f and %.0f m² missed: nothing to tell apart", was.Balance.Missed, want.Balance.Missed)
	}
	p := open(t, b, address+"#lang=de", 1280, 1000, "light")
	p.field()
	choose := func(v string) {
		eval[bool](p, `(() => { document.getElementById('what-if').click(); const i = document.querySelector('#suppose-form select[name=frame]'); i.value = '`+v+`'; i.dispatchEvent(new Event('input')); return true })()`)
	}
	choose("satellites")
	p.wait("the other half of the map is there", `!document.getElementById('other').hidden && document.getElementById('changes').textContent.includes('→')`)
	if got := p.text("changes"); !strings.Contains(got, fmt.Sprintf("Streifen: %d → %d", len(was.Strips), len(want.Strips))) || !strings.Contains(got, fmt.Sprintf("nicht bearbeitet: %.0f m² → %.0f m²", was.Balance.Missed, want.Balance.Missed)) {
		t.Errorf("%q, want %d → %d strips, missed %.0f → %.0f m²", got, len(was.Strips), len(want.Strips), was.Balance.Missed, want.Balance.Missed)
	}
	if got := p.text("command"); !strings.HasSuffix(got, "--frame satellites") {
		t.Errorf("the command %q", got)
	}
	if got := eval[string](p, `[...document.querySelectorAll('#suppose-form select[name=frame] option')].map(o => o.textContent).join()`); got != "eins von beiden,der Karten,der Satelliten" {
		t.Errorf("the choice %q", got)
	}
	if eval[bool](p, `![...document.querySelectorAll('#suppose-form button')].find(x => x.textContent.includes('sweep-mounted.toml')).disabled`) {
		t.Error("the frame of a log may be written into the file of a set")
	}
	p.picture("what-if-frame")
	if at := eval[string](p, `location.hash`); !strings.Contains(at, "if.frame=satellites") {
		t.Errorf("the address %q does not hold what is supposed", at)
	}
	choose("")
	p.wait("as driven again", `document.getElementById('other').hidden && !location.hash.includes('if.frame')`)
}

// onAPhone: nothing is wider than the screen, in either language, light and dark.
func onAPhone(t *testing.T, b context.Context, address, _ string) {
	for _, c := range []struct{ scheme, lang string }{{"light", "de"}, {"dark", "en"}} {
		p := open(t, b, address+"#lang="+c.lang, 390, 844, c.scheme)
		p.field()
		if wide := eval[int](p, `document.documentElement.scrollWidth`); wide > 390 {
			t.Errorf("%s: the page is %d px wide", c.lang, wide)
		}
		if c.lang == "de" && !strings.Contains(p.text("answer"), "nicht bearbeitet") {
			t.Errorf("in German: %q", p.text("answer"))
		}
		p.picture("phone-" + c.scheme)
	}
	p := open(t, b, address+"#lang=de&passes=speed&t=900", 1280, 1000, "dark")
	p.field()
	p.picture("wide-dark")
}

// putAndKept: files that are put on the page give what the command gives, and are there again when the page is loaded anew, and when balk is.
func putAndKept(t *testing.T, b context.Context, dir string) {
	keep := filepath.Join(t.TempDir(), "kept")
	address, stop := served(t, "--keep", keep)
	p := open(t, b, address+"#lang=en", 1280, 1000, "light")
	p.wait("there is a place to put files", `!document.getElementById('put').hidden`)
	p.picture("empty")
	p.do(chromedp.SetUploadFiles("#files", []string{filepath.Join(dir, "fields.geojson"), filepath.Join(dir, "track-elbow.geojson"), filepath.Join(dir, "sweep-trailed.toml")}))
	eval[bool](p, `(document.getElementById('put-rounds').value = '4', document.getElementById('put-form').requestSubmit(), true)`)
	p.field()
	want := reported(t, filepath.Join(keep, "1", "fields.geojson"), filepath.Join(keep, "1", "track-elbow.geojson"), "--implement", filepath.Join(keep, "1", "sweep-trailed.toml"), "--rounds", "4")
	look := func(when string, p *tab) {
		t.Helper()
		p.field()
		if got := eval[int](p, `document.querySelectorAll('#list button').length`); got != len(want.Strips) || got == 0 {
			t.Errorf("%s: %d strips in the list, want %d", when, got, len(want.Strips))
		}
	}
	look("put on the page", p)
	p.picture("elbow")
	p.do(chromedp.Reload())
	look("loaded anew", p)
	p.refused = true // it may be asking for something when balk ends
	stop()
	address, _ = served(t, "--keep", keep)
	p = open(t, b, address+"#lang=en", 1280, 1000, "light")
	p.wait("it is here already", `document.querySelector('#earlier button') !== null`)
	eval[bool](p, `(document.querySelector('#earlier button').click(), true)`)
	look("balk started anew", p)
}

// faultInPlace: what cannot be read is told in the words of the command line, in place.
func faultInPlace(t *testing.T, b context.Context, dir string) {
	address, _ := served(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	p := open(t, b, address+"#lang=en", 390, 844, "light")
	p.wait("there is a place to put files", `!document.getElementById('put').hidden`)
	p.do(chromedp.SetUploadFiles("#files", []string{filepath.Join(dir, "track-elbow.geojson")}))
	eval[bool](p, `(document.getElementById('put-form').requestSubmit(), true)`)
	p.wait("it is told", `document.getElementById('fault-words').textContent.includes('no boundary is among the files')`)
	p.refused = true
}

// correctedAndTakenBack: a stretch that was not worked is missed from then on, for the command too, until that is taken back.
func correctedAndTakenBack(t *testing.T, b context.Context, dir string) {
	keep := filepath.Join(t.TempDir(), "kept")
	address, _ := served(t, append(pond(dir), "--keep", keep)...)
	before := reported(t, pond(dir)...)
	p := open(t, b, address+"#lang=en&correct=1", 1280, 1200, "light")
	p.field()
	// Strip 2 is ticked; after the correction another has its number, and the tick stays with the ground.
	eval[bool](p, `(document.querySelector('#list button[aria-label="strip 2"]').click(), document.getElementById('in-field').click(), true)`)
	p.wait("a strip to go to", `/^strip \d+/.test(document.getElementById('goal-what').textContent)`)
	ticked := eval[int](p, `(document.querySelector('[data-state="done"]').click(), Number(document.getElementById('goal-what').textContent.match(/\d+/)[0]))`)
	p.wait("it is hatched", fmt.Sprintf(`document.getElementById('map').dataset.done === '%d'`, ticked))
	eval[bool](p, `(() => {
		for (const [id, value] of [['correct-kind', 'lifted'], ['correct-from', '08:50:00'], ['correct-to', '08:50:20'], ['correct-who', 'N. N.'], ['correct-why', 'a pin was broken']]) {
			const e = document.getElementById(id)
			e.value = value
			e.dispatchEvent(new Event('change'))
		}
		document.getElementById('correct-form').requestSubmit()
		return true
	})()`)
	p.wait("the correction is in the list", `document.querySelector('#correct-list li') !== null && document.getElementById('field').dataset.whole !== undefined`)
	after := reported(t, append(pond(dir), "--farm", filepath.Join(keep, "farm"))...)
	at := before.Strips[ticked-1].At
	now := 0
	for now < len(after.Strips) && after.Strips[now].At != at {
		now++
	}
	if now == len(after.Strips) || after.Strips[now].Number == ticked {
		t.Fatalf("strip %d is as it was after the correction: nothing is asked", ticked)
	}
	p.wait("the tick stays with the ground", fmt.Sprintf(`document.getElementById('map').dataset.done === '%d'`, after.Strips[now].Number))
	if after.Balance.Missed < before.Balance.Missed+100 {
		t.Errorf("%.0f m² missed by the command, before %.0f", after.Balance.Missed, before.Balance.Missed)
	}
	if got := p.text("balance"); !strings.Contains(got, fmt.Sprintf("%.4f", after.Balance.Missed/1e4)) {
		t.Errorf("the balance %q has not the %.4f ha missed", got, after.Balance.Missed/1e4)
	}
	if got := p.text("command"); !strings.Contains(got, "--farm ") {
		t.Errorf("the command %q", got)
	}
	if got := p.text("correct-list"); !strings.Contains(got, "a pin was broken") || !strings.Contains(got, "2026-04-14 08:50:00 – 2026-04-14 08:50:20") {
		t.Errorf("the list %q", got)
	}
	p.picture("corrected")
	eval[bool](p, `(() => { document.getElementById('whole').click(); const k = document.getElementById('correct-kind'); k.value = 'boundary'; k.dispatchEvent(new Event('change')); document.getElementById('correct-place').click(); return true })()`)
	p.wait("the corners of the boundary can be dragged", `document.getElementById('correct-said').textContent.includes('drag the corners')`)
	eval[bool](p, `(document.querySelector('#correct-list button').click(), true)`)
	p.wait("the list is empty again", fmt.Sprintf(`document.querySelector('#correct-list li') === null && document.getElementById('field').dataset.whole !== undefined && document.getElementById('balance').textContent.includes('%.4f')`, before.Balance.Missed/1e4))
}
