package web_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/testdata/check"
	"balk/testdata/trial"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// look is a way to look at the page.
type look struct {
	lang, scheme string
	width        int64
}

// looks are all ways, or, where nobody asks for more, two that differ in everything.
func looks() (all []look) {
	for _, width := range []int64{1280, 390} {
		for _, lang := range []string{"en", "de"} {
			for _, scheme := range []string{"light", "dark"} {
				all = append(all, look{lang, scheme, width})
			}
		}
	}
	if trial.Long() || os.Getenv("BALK_PICTURES") != "" {
		return all
	}
	return []look{all[0], all[len(all)-1]}
}

// panel is a part of the page that opens: what opens it, and what holds once it is there.
type panel struct{ name, open, holds string }

var panels = []panel{
	{"field", `true`, `document.getElementById('field').dataset.whole !== undefined`},
	{"what-if", `(() => { document.getElementById('what-if').click(); const i = document.querySelector('#suppose-form input[name=width]'); i.value = '4.5'; i.dispatchEvent(new Event('input')); return true })()`, `!document.getElementById('other').hidden && document.getElementById('changes').textContent.includes('→')`},
	{"correct", `(() => { document.getElementById('what-if').click(); document.getElementById('correct').click(); return true })()`, `!document.getElementById('corrections').hidden`},
	{"turn", `(() => { document.getElementById('correct').click(); document.querySelector('[data-also=turn]').click(); return true })()`, `document.querySelectorAll('#also-shown img').length === 2`},
	{"compare", `(document.querySelector('[data-also=compare]').click(), true)`, `document.querySelectorAll('#also-shown tbody tr').length === 3`},
	{"sweeps", `(document.querySelector('[data-also=sweeps]').click(), true)`, `document.querySelector('#also-shown .said') !== null`},
	{"handover", `(document.getElementById('hand-over').click(), true)`, `document.querySelectorAll('#also-shown img').length >= 2`},
	{"season", `(document.querySelector('[data-also=season]').click(), true)`, `document.querySelector('#also-shown svg.season path.f-missed') !== null && document.querySelector('#also-shown .rain') !== null`},
	{"spots", `(document.querySelector('[data-also=spots]').click(), true)`, `document.querySelectorAll('#also-shown tbody tr').length >= 20`},
	{"strip", `(document.querySelector('[data-also=spots]').click(), document.getElementById('in-field').click(), true)`, `document.getElementById('goal-what').textContent !== ''`},
	{"place", `(() => { const s = document.getElementById('goal-of'); s.value = 'places'; s.dispatchEvent(new Event('change')); return true })()`, `!document.getElementById('goal-cut').hidden`},
	{"empty", `(document.getElementById('more').click(), true)`, `!document.getElementById('put').hidden && document.querySelector('#earlier button') !== null`},
	{"fault", `(document.getElementById('put-form').requestSubmit(), true)`, `!document.getElementById('fault').hidden`},
}

// everyPanel: every part of the page is looked over in English and German, light and dark, wide and on a phone: an engine of rules finds
// nothing against WCAG 2.2 AA, nothing is wider than the screen or cut off in its box, and no word of another language stands there.
func everyPanel(t *testing.T, b context.Context, dir, rules string) {
	address, _ := served(t, filepath.Join(dir, "fields.geojson"), filepath.Join(dir, "track-pond.geojson"), "--implement", filepath.Join(dir, "sweep-mounted.toml"), "--rounds", "3",
		"--weather", filepath.Join(dir, "weather.csv"), "--keep", filepath.Join(t.TempDir(), "kept"))
	kept := false
	for _, l := range looks() {
		t.Run(fmt.Sprint(l.lang, " ", l.scheme, " ", l.width), func(t *testing.T) {
			p := open(t, b, address+"#t=900&strip=1&lang="+l.lang, l.width, 1000, l.scheme)
			p.field()
			if !kept {
				kept = eval[bool](p, `fetch('/api/operations/call.1/season?does=cuts', {method: 'POST'}).then(r => r.ok)`)
			}
			eval[bool](p, rules+"\n;true")
			for _, one := range panels {
				eval[bool](p, one.open)
				p.wait(one.name, one.holds)
				p.over(one.name, l)
				p.picture(fmt.Sprint(one.name, "-", l.lang, "-", l.scheme, "-", l.width))
			}
		})
	}
}

// over looks over what is shown.
func (p *tab) over(name string, l look) {
	p.Helper()
	for _, f := range eval[[]string](p, `axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => r.passes.length < 15 ? ['only ' + r.passes.length + ' rules were looked at'] : r.violations.flatMap(v => v.nodes.slice(0, 3).map(n => v.id + ': ' + n.target.join(' ') + ': ' + n.failureSummary)))`) {
		p.Errorf("%s: %s", name, f)
	}
	if wide := eval[int64](p, `document.documentElement.scrollWidth`); wide > l.width {
		p.Errorf("%s: the page is %d px wide, for it has %s", name, wide, eval[string](p, `[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => (e.id || e.className || e.tagName) + ': ' + e.textContent.slice(0, 60)).slice(-3).join('; ')`))
	}
	for _, f := range eval[[]string](p, `[...document.querySelectorAll('button, .button, th, label, select, input, h1, h2, figcaption, p')].filter(e => e.offsetParent !== null && e.type !== 'file' && !e.querySelector('input[type=file]') && (e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0 || e.tagName === 'INPUT' && e.placeholder && !e.value && (() => { const g = document.createElement('canvas').getContext('2d'), s = getComputedStyle(e); g.font = s.font; return g.measureText(e.placeholder).width > e.clientWidth - parseFloat(s.paddingLeft) - parseFloat(s.paddingRight) })())).map(e => (e.id || e.className || e.tagName) + ': ' + (e.textContent || e.placeholder || e.value))`) {
		p.Errorf("%s: cut off in its box: %s", name, f)
	}
	for _, f := range eval[[]string](p, `fetch('/api/words?lang=de').then(r => r.json()).then(german => {
		const other = document.documentElement.lang === 'de' ? new Map(Object.entries(german)) : new Map(Object.entries(german).map(([e, d]) => [d, e])), out = []
		const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT)
		for (let n; n = walk.nextNode();) {
			const words = n.textContent.trim(), is = other.get(words)
			if (is !== undefined && is !== words && n.parentElement.offsetParent !== null && !other.has(is) && !n.parentElement.closest('[lang=' + (document.documentElement.lang === 'de' ? 'en' : 'de') + ']')) out.push(words)
		}
		return out
	})`) {
		p.Errorf("%s: in another language: %q", name, f)
	}
}

// byKeyboard: whatever can be done on the page is reached by the Tab key alone, each once, in the order in which it stands, and is seen to be; and it lets go at its end.
func byKeyboard(t *testing.T, b context.Context, address, _ string) {
	p := open(t, b, address+"#lang=en&correct=1&field=1&also=turn&strip=1", 1280, 900, "light")
	p.field()
	p.wait("the turn is drawn", `document.querySelectorAll('#also-shown img').length === 2`)
	want := eval[[]string](p, `(() => {
		const all = [...document.querySelectorAll('button, select, input, a[href], [tabindex="0"]')].filter(e => !e.disabled && e.tabIndex >= 0 && e.getClientRects().length && getComputedStyle(e).visibility === 'visible')
		all.forEach((e, k) => { e.dataset.tab = (e.id || e.textContent || e.tagName) + ' ' + k })
		document.activeElement.blur()
		return all.map(e => e.dataset.tab)
	})()`)
	if len(want) < 60 {
		t.Fatalf("%d things to reach: the test does not see them", len(want))
	}
	var got []string
	for range len(want) + 5 {
		p.do(chromedp.KeyEvent("\t"))
		at := eval[[2]string](p, `(() => { const e = document.activeElement, s = getComputedStyle(e), o = getComputedStyle(e.closest('.button') ?? e); return [e.dataset.tab ?? '', parseFloat(o.outlineWidth) >= 2 && o.outlineStyle !== 'none' || e === document.body ? '' : 'not seen'] })()`)
		if at[0] == "" {
			break
		}
		if at[1] != "" {
			t.Errorf("%s has the focus, which is not seen", at[0])
		}
		got = append(got, at[0])
	}
	if !slices.Equal(got, want) {
		for k := range min(len(got), len(want)) {
			if got[k] != want[k] {
				t.Errorf("%d: %q, want %q", k, got[k], want[k])
				break
			}
		}
		t.Errorf("%d reached of %d", len(got), len(want))
	}
	eval[bool](p, `(document.getElementById('map').focus(), true)`)
	was := p.text("north")
	for _, key := range []string{"+", "-", "/"} {
		p.do(chromedp.KeyEvent(key))
	}
	p.wait("/ goes to the strips", `document.activeElement.closest('#list') !== null`)
	p.do(chromedp.KeyEvent("\x1b"))
	p.wait("Esc leaves the strip", `!location.hash.includes('strip=')`)
	if was == "" {
		t.Error("no north")
	}
}

// onPaper: printed, the page has the answer, the map, the strips that are worked again, the cautions and the balance, and nothing to press.
func onPaper(t *testing.T, b context.Context, address, _ string) {
	p := open(t, b, address+"#lang=en&t=900", 1280, 1000, "light")
	p.field()
	printed, err := chromedp.Call(p.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: 8.27, PaperHeight: 11.69, PrintBackground: ptr(true)})
	if err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("BALK_PICTURES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "printed.pdf"), printed.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		check.Skip(t, "no pdftotext (Debian's poppler-utils) to read the printed page with")
	}
	read := exec.Command("pdftotext", "-layout", "-", "-")
	read.Stdin = bytes.NewReader(printed.Data)
	text, err := read.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"By the GPS log about", "worked once", "overhead lines", "along pass 7, right", "Balance", "balk check "} {
		if !strings.Contains(strings.Join(strings.Fields(string(text)), " "), want) {
			t.Errorf("%q is not on the paper:\n%s", want, text)
		}
	}
	if strips, balance := strings.LastIndex(string(text), "along pass"), strings.Index(string(text), "Balance at credited"); strips > balance {
		t.Errorf("the balance is printed over the list of strips:\n%s", text)
	}
	for _, not := range []string{"Hand over", "Measure", "Copy", "Replay", "Other files", "Whole field"} {
		if strings.Contains(string(text), not) {
			t.Errorf("%q is on the paper", not)
		}
	}
	if pages := strings.Count(string(text), "\f"); pages > 3 {
		t.Errorf("%d pages", pages)
	}
}
