package web_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is supposed of a set is written into its file, and holds for the commands from then on; nothing else can be written there.
func TestWrittenIntoTheSet(t *testing.T) {
	dir := farm(t)
	set := filepath.Join(dir, "sweep-mounted.toml")
	was, err := os.ReadFile(set)
	if err != nil {
		t.Fatal(err)
	}
	v := visit(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	for name, query := range map[string]string{
		"rounds are no value of a set": "rounds=4", "nor is the frame of the log": "frame=satellites", "another file": "implement=other.toml", "no number": "overlap=much", "no such value": "mount=colour=3", "no name": "mount=3", "nothing": "", "a width its sections have not": "width=5",
	} {
		if status, _, text := v.ask("POST", "/api/operations/call.1/set?"+query, nil, nil); status < 400 || status >= 500 {
			t.Errorf("%s: %d %s", name, status, text)
		}
	}
	if now, _ := os.ReadFile(set); string(now) != string(was) {
		t.Fatalf("the file is another: %s", now)
	}
	before := reported(t, pond(dir)...)
	if status, _, text := v.ask("POST", "/api/operations/call.1/set?overlap=0.3&mount=barRight%3D-0.2", nil, nil); status != 200 {
		t.Fatalf("%d %s", status, text)
	}
	after := reported(t, pond(dir)...)
	if after.Balance.Missed < before.Balance.Missed+50 {
		t.Errorf("%.0f m² missed by the command, before %.0f", after.Balance.Missed, before.Balance.Missed)
	}
	if text := string(v.get("/api/operations/call.1/view")); !strings.Contains(text, fmt.Sprintf(`"missed":%g`, after.Balance.Missed)) {
		t.Errorf("the page has not the %g m² missed", after.Balance.Missed)
	}
	if now, _ := os.ReadFile(set); !strings.Contains(string(now), "overlap = 0.3   # 0.10 until ") || !strings.Contains(string(now), "barRight = -0.2   # not given until ") {
		t.Errorf("the file: %s", now)
	}
	own := visit(t, append(pond(dir), "--overlap", "0.1", "--keep", filepath.Join(t.TempDir(), "kept"))...)
	if status, _, text := own.ask("POST", "/api/operations/call.1/set?overlap=0.3", nil, nil); status < 400 || status >= 500 {
		t.Errorf("the call gives it: %d %s", status, text)
	}
	none := visit(t, pond(dir)[0], pond(dir)[1], "--width", "6", "--keep", filepath.Join(t.TempDir(), "kept"))
	if status, _, text := none.ask("POST", "/api/operations/call.1/set?overlap=0.3", nil, nil); status < 400 || status >= 500 {
		t.Errorf("no file: %d %s", status, text)
	}
}

// writtenIntoTheSet: the button stands beside what is supposed, and afterwards that is how it was driven.
func writtenIntoTheSet(t *testing.T, b context.Context, _, _ string) {
	dir := farm(t)
	address, _ := served(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	p := open(t, b, address+"#lang=en", 1280, 1000, "light")
	p.field()
	eval[bool](p, `(() => { document.getElementById('what-if').click(); const i = document.querySelector('#suppose-form input[name=overlap]'); i.value = '0.3'; i.dispatchEvent(new Event('input')); return true })()`)
	p.wait("it can be written", `[...document.querySelectorAll('#suppose-form button')].some(b => b.textContent === 'Write this into sweep-mounted.toml' && !b.disabled) && document.getElementById('changes').textContent.includes('→')`)
	eval[bool](p, `([...document.querySelectorAll('#suppose-form button')].find(b => b.textContent.startsWith('Write this')).click(), true)`)
	p.wait("it is how it was driven", `document.getElementById('field').dataset.whole !== undefined && document.getElementById('wide').textContent.includes('overlap 0.30 m') && document.getElementById('other').hidden && !location.hash.includes('if.')`)
	want := reported(t, pond(dir)...)
	if got := p.text("balance"); !strings.Contains(got, fmt.Sprintf("%.4f", want.Balance.Missed/1e4)) {
		t.Errorf("the balance %q has not the %.4f ha missed", got, want.Balance.Missed/1e4)
	}
}
