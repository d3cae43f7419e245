package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"balk/cmd/internal/web"

	rights "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// asked: what other verbs say stands on the page as their commands say it.
func asked(t *testing.T, b context.Context, _, dir string) {
	address, _ := served(t, filepath.Join(dir, "fields.geojson"), filepath.Join(dir, "track-elbow.geojson"), "--implement", filepath.Join(dir, "sweep-trailed.toml"), "--rounds", "4", "--keep", filepath.Join(t.TempDir(), "kept"))
	p := open(t, b, address+"#lang=en&also=turn", 1280, 1000, "light")
	p.field()
	p.wait("the turn is drawn", `document.querySelector('#also-shown img')?.naturalWidth > 0 && document.querySelectorAll('#also-shown img').length === 2`)
	p.picture("turn")
	eval[bool](p, `(() => { for (const [name, v] of [['headland', 30], ['drawbar', 5]]) { const i = document.querySelector('#also-form input[name=' + name + ']'); i.value = v; i.dispatchEvent(new Event('input')) } return true })()`)
	p.wait("its command follows", `document.getElementById('also-command').textContent.includes('--headland 30') && document.getElementById('also-command').textContent.includes('drawbar=5') && document.querySelectorAll('#also-shown img').length === 2`)
	if got, want := p.text("also-said"), said(t, p.text("also-command"), "answer"); !strings.Contains(got, want) {
		t.Errorf("the page says %q of the turn, its command %q", got, want)
	}
	p.picture("turn-dragged")
	for kind, holds := range map[string]string{
		"compare": `document.querySelectorAll('#also-shown tbody tr').length === 3 && document.querySelector('#also-shown img')?.naturalWidth > 0`,
		"spots":   `document.querySelectorAll('#also-shown tbody tr').length >= 20`,
	} {
		eval[bool](p, fmt.Sprintf(`(document.querySelector('[data-also=%s]').click(), true)`, kind))
		p.wait(kind+" is told", holds)
		if got, want := p.text("also-said"), said(t, p.text("also-command"), "answer"); !strings.Contains(got, want) {
			t.Errorf("%s: the page says %q, the command %q", kind, got, want)
		}
		p.picture(kind)
	}
	eval[bool](p, `(document.getElementById('hand-over').click(), true)`)
	p.wait("the pages of the sheet are shown", `document.querySelectorAll('#also-shown img').length >= 2 && [...document.querySelectorAll('#also-shown img')].every(i => i.naturalWidth > 0)`)
	if got := p.text("also-command"); !strings.Contains(got, " --pictures svg --page ") || !strings.HasSuffix(got, " --out handover") {
		t.Errorf("the command %q", got)
	}
	p.picture("handover")
	p.refused = true // there is no farm yet
	eval[bool](p, `(document.querySelector('[data-also=season]').click(), true)`)
	p.wait("there is no farm", `document.getElementById('also-said').textContent.includes('no farm folder')`)
	eval[bool](p, `([...document.querySelectorAll('#also-form button')].at(-1).click(), true)`)
	p.wait("the season is drawn", `document.querySelector('#also-shown svg.season path.f-missed') !== null && document.querySelector('#also-shown .said').textContent.includes('1 operation')`)
	p.picture("season")
}

// said is what a command that the page shows says with --json.
func said(t *testing.T, command, member string) string {
	t.Helper()
	args := regexp.MustCompile(`'[^']*'|\S+`).FindAllString(command, -1)[1:]
	for k, a := range args {
		args[k] = strings.Trim(a, "'")
	}
	out, code := balk(t, append(args, "--json")...)
	var r map[string]json.RawMessage
	if err := json.Unmarshal([]byte(out), &r); code != 0 || err != nil {
		t.Fatalf("%s: %d %v: %.300s", command, code, err, out)
	}
	var lines []string
	if err := json.Unmarshal(r[member], &lines); err != nil || len(lines) == 0 {
		t.Fatalf("%s: %v", r[member], err)
	}
	return strings.Join(lines, " ")
}

// The sweeps panel says what balk sweeps says.
func TestSweepsPanel(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	var told web.Told
	if err := json.Unmarshal(v.get("/api/operations/call.1/also/sweeps?want=5"), &told); err != nil {
		t.Fatal(err)
	}
	want, code := balk(t, "sweeps", "--implement", filepath.Join(dir, "sweep-mounted.toml"), "--want", "5")
	if code != 0 || told.Said != want || !strings.Contains(want, "5.0° by") {
		t.Errorf("the page says %q, the command %q", told.Said, want)
	}
	if len(told.Files) != 1 || !strings.Contains(told.Files[0].Text, "<svg") || len(told.Report) < 100 {
		t.Errorf("%d files, a report of %d bytes", len(told.Files), len(told.Report))
	}
}

// What names a file, or is no flag of the verb, is refused.
func TestOtherVerbsTakeOnlyTheirFlags(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	for _, query := range []string{"turn?implement=/etc/passwd", "turn?out=/tmp/x", "spots?plan=/etc/passwd", "compare?farm=/tmp", "sweeps?headland=5", "turn?headland=--out", "turn?headland=-1", "season?weather=/etc/passwd"} {
		if status, _, text := v.ask("GET", "/api/operations/call.1/also/"+query, nil, nil); status < 400 || status >= 500 {
			t.Errorf("%s: %d %.200s", query, status, text)
		}
	}
	if status, _, text := v.ask("POST", "/api/operations/call.1/season?farm=/tmp/x", nil, nil); status < 400 {
		t.Errorf("a farm elsewhere: %d %s", status, text)
	}
}

// stand puts the browser at a place.
func (p *tab) stand(lon, lat float64) {
	p.Helper()
	p.do(func(ctx context.Context, t *chromedp.Target) (v chromedp.Void, err error) {
		_, err = chromedp.Call(ctx, emulation.SetGeolocationOverride, emulation.SetGeolocationOverrideParams{Latitude: &lat, Longitude: &lon, Accuracy: ptr(3.0)})
		return v, err
	})
}

func ptr[T any](v T) *T { return &v }

// inTheField: from where one stands the way to a strip is told; what is ticked lasts, and is saved.
func inTheField(t *testing.T, b context.Context, _, dir string) {
	keep := filepath.Join(t.TempDir(), "kept")
	address, _ := served(t, append(pond(dir), "--keep", keep)...)
	p := open(t, b, address+"#lang=en", 390, 844, "light")
	at, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	p.do(func(ctx context.Context, t *chromedp.Target) (v chromedp.Void, err error) {
		_, err = chromedp.Call(ctx, rights.SetPermission, rights.SetPermissionParams{Permission: &rights.PermissionDescriptor{Name: "geolocation"}, Setting: rights.PermissionSettingGranted, Origin: "http://" + at.Host})
		return v, err
	})
	p.field()
	strip := eval[[]float64](p, `fetch('/api/operations/call.1/view?haste=1').then(r => r.json()).then(v => v.strips[0].at)`)
	// 60 m south of strip 1, which is 9 m long and 5.86 m wide: a degree of latitude is 111.2 km there (WGS84, from memory)
	p.stand(strip[0], strip[1]-60/111200.0)
	eval[bool](p, `(document.querySelector('#list button[aria-label="strip 1"]').click(), document.getElementById('in-field').click(), true)`)
	p.wait("the place is known", `/^\d+ m, towards/.test(document.getElementById('goal-where').textContent)`)
	for tries := 0; !strings.HasPrefix(p.text("goal-what"), "strip 1 ") && tries < 60; tries++ {
		eval[bool](p, `(document.getElementById('goal-next').click(), true)`)
		if strings.HasPrefix(p.text("goal-what"), "strip 1 ") {
			break
		}
		eval[bool](p, `(document.querySelector('[data-state="left"]').click(), true)`)
	}
	var far, bearing, within float64
	if _, err := fmt.Sscanf(p.text("goal-where"), "%f m, towards %f° (± %f m)", &far, &bearing, &within); err != nil || math.Abs(far-56) > 3 || math.Min(bearing, 360-bearing) > 4 || within != 3 {
		t.Errorf("%q from 60 m south of the middle of strip 1: %v", p.text("goal-where"), err)
	}
	p.picture("phone-field")
	// Held flat or upright, its top or its back to the east, the device has a strip in the north on its left hand.
	for name, held := range map[string]string{"flat": "beta: 0, gamma: 0", "upright": "beta: 90, gamma: 0", "half": "beta: 45, gamma: 0"} {
		p.wait("the compass is heard", `(window.dispatchEvent(new DeviceOrientationEvent('deviceorientationabsolute', {absolute: true, alpha: 270, `+held+`})), document.getElementById('goal-turn').textContent.includes('by the compass'))`)
		var left float64
		if _, err := fmt.Sscanf(p.text("goal-turn"), "%f° to the left", &left); err != nil || math.Abs(left-(90-math.Mod(bearing+180, 360)+180)) > 1.1 {
			t.Errorf("%s, towards the east: %q, want the strip at %.0f°: %v", name, p.text("goal-turn"), bearing, err)
		}
	}
	eval[bool](p, `(document.getElementById('goal-turning').click(), true)`)
	p.wait("the map is turned with it", `document.getElementById('north').style.transform === 'rotate(-90deg)'`)
	p.wait("its numbers are there", `document.getElementById('map').dataset.names.startsWith('1 ')`)
	p.picture("phone-turned")
	eval[bool](p, `(document.getElementById('goal-turning').click(), document.getElementById('goal-note').focus(), document.getElementById('goal-note').value = 'half wr', true)`)
	p.stand(strip[0], strip[1]-50/111200.0)
	p.wait("it is told from the new place", `document.getElementById('goal-where').textContent.startsWith('46 m') || document.getElementById('goal-where').textContent.startsWith('47 m') || document.getElementById('goal-where').textContent.startsWith('45 m')`)
	if got := eval[string](p, `document.getElementById('goal-note').value`); got != "half wr" || eval[string](p, `document.getElementById('north').style.transform`) != "rotate(0deg)" {
		t.Errorf("while somebody walks on, what is being written becomes %q", got)
	}
	eval[bool](p, `(() => { const n = document.getElementById('goal-note'); n.value = 'thistles'; n.dispatchEvent(new Event('change')); document.querySelector('[data-state="done"]').click(); return true })()`)
	p.wait("it is ticked", `document.querySelector('[data-state="done"]').getAttribute('aria-pressed') === 'true'`)
	p.do(chromedp.Reload())
	p.field()
	p.wait("it is ticked still", `document.getElementById('goal-kept').textContent.match(/^[1-9]/) !== null`)
	eval[bool](p, `(document.getElementById('goal-save').click(), true)`)
	p.wait("it is saved", `document.getElementById('goal-kept').textContent === 'saved'`)
	files, err := filepath.Glob(filepath.Join(keep, "notes", "*", "*.json"))
	if err != nil || len(files) != 1 {
		t.Fatalf("%v %v", files, err)
	}
	text, err := os.ReadFile(files[0])
	if err != nil || !strings.Contains(string(text), `"thistles"`) || !strings.Contains(string(text), `"state": "done"`) {
		t.Errorf("%s: %v", text, err)
	}
}

// What was seen at places of a walk proves what balk spots read says of it, by the command that the page shows.
func TestSeenAtPlaces(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	if status, _, text := v.ask("GET", "/api/operations/call.1/also/seen", nil, nil); status != 404 {
		t.Errorf("before anything was seen: %d %s", status, text)
	}
	var told web.Told
	var plan struct {
		Places []struct {
			Number, Pass, Section int
			At                    [2]float64
			Why                   string
			FromLeft, Length      float64
		}
	}
	if err := json.Unmarshal(v.get("/api/operations/call.1/also/spots"), &told); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(told.Report, &plan); err != nil {
		t.Fatal(err)
	}
	var notes []map[string]any
	drawn, uncut := 0, 0
	for _, p := range plan.Places {
		seen := map[string]any{"cut": "yes", "why": p.Why, "pass": p.Pass, "section": p.Section, "fromLeft": p.FromLeft, "length": p.Length}
		if p.Why == "drawn" {
			if drawn++; drawn%10 == 3 {
				seen["cut"] = "no"
				uncut++
			}
		}
		notes = append(notes, map[string]any{"kind": "place", "number": p.Number, "state": "done", "when": "2026-04-15T09:00:00Z", "at": p.At, "note": "", "seen": seen})
	}
	body, err := json.Marshal(notes)
	if err != nil {
		t.Fatal(err)
	}
	if status, _, text := v.ask("POST", "/api/operations/call.1/notes", strings.NewReader(string(body)), nil); status != 200 {
		t.Fatalf("%d %s", status, text)
	}
	if err := json.Unmarshal(v.get("/api/operations/call.1/also/seen"), &told); err != nil {
		t.Fatal(err)
	}
	var proved struct {
		Answer []string
		Found  struct{ Cut struct{ Have, Places int } }
	}
	if err := json.Unmarshal(told.Report, &proved); err != nil {
		t.Fatal(err)
	}
	if c := proved.Found.Cut; c.Places != drawn || c.Have != drawn-uncut || uncut < 2 {
		t.Errorf("%d of %d cut, want %d of %d", c.Have, c.Places, drawn-uncut, drawn)
	}
	if got, want := strings.Join(proved.Answer, " "), said(t, told.Command, "answer"); got != want || !strings.HasPrefix(told.Command, "balk spots read ") {
		t.Errorf("the page says %q, the command %q: %s", got, want, told.Command)
	}
	for name, seen := range map[string]string{"cut": `{"cut":"perhaps"}`, "a long text": `{"ribs":"` + strings.Repeat("1", 2000) + `"}`} {
		if status, _, text := v.ask("POST", "/api/operations/call.1/notes", strings.NewReader(`[{"kind":"place","number":1,"state":"done","when":"2026-05-01T10:00:00Z","at":[11.5,48.1],"note":"","seen":`+seen+`}]`), nil); status < 400 || status >= 500 {
			t.Errorf("%s: %d %s", name, status, text)
		}
	}
}

// Notes of two devices come together: of two about the same the later holds, whichever is saved first.
func TestNotesComeTogether(t *testing.T) {
	dir := farm(t)
	keep := filepath.Join(t.TempDir(), "kept")
	v := visit(t, append(pond(dir), "--keep", keep)...)
	const path = "/api/operations/call.1/notes"
	put := func(notes string) (int, string) {
		status, _, text := v.ask("POST", path, strings.NewReader(notes), nil)
		return status, string(text)
	}
	for _, notes := range []string{
		`[{"kind":"strip","number":1,"state":"done","when":"2026-05-01T10:00:00Z","at":[11.5,48.1],"note":"late"}]`,
		`[{"kind":"strip","number":1,"state":"left","when":"2026-05-01T09:00:00.5Z","at":[11.5,48.1],"note":"early"},{"kind":"place","number":1,"state":"not found","when":"2026-05-01T09:00:00Z","at":[11.5,48.1],"note":""}]`,
		`[{"kind":"strip","number":1,"state":"done","when":"2026-05-01T11:00:00Z","at":[11.501,48.1],"note":"numbered otherwise since a correction"}]`,
	} {
		if status, text := put(notes); status != 200 {
			t.Fatalf("%d %s", status, text)
		}
	}
	var all []web.Note
	if err := json.Unmarshal(v.get(path), &all); err != nil || len(all) != 3 || all[0].Note != "late" || all[1].State != "not found" || all[2].At[0] != 11.501 {
		t.Errorf("%+v %v", all, err)
	}
	for name, notes := range map[string]string{
		"no kind":   `[{"kind":"../x","number":1,"state":"done","when":"2026-05-01T10:00:00Z"}]`,
		"no number": `[{"kind":"strip","number":0,"state":"done","when":"2026-05-01T10:00:00Z"}]`,
		"no state":  `[{"kind":"strip","number":1,"state":"gone","when":"2026-05-01T10:00:00Z"}]`,
		"no time":   `[{"kind":"strip","number":1,"state":"done","when":"today"}]`,
		"no photo":  `[{"kind":"strip","number":1,"state":"done","when":"2026-05-01T10:00:00Z","photo":"javascript:alert(1)"}]`,
	} {
		if status, text := put(notes); status < 400 || status >= 500 {
			t.Errorf("%s: %d %s", name, status, text)
		}
	}
}

// wholeInOneFile: the page in the folder of a handover opens without a server, and asks nobody for anything.
func wholeInOneFile(t *testing.T, b context.Context, _, dir string) {
	out := filepath.Join(t.TempDir(), "handed over")
	if said, code := balk(t, append(append([]string{"handover"}, pond(dir)...), "--page", "--language", "de", "--out", out)...); code != 0 {
		t.Fatal(said)
	}
	file := filepath.Join(out, "page.html")
	want := reported(t, pond(dir)...)
	p := open(t, b, (&url.URL{Scheme: "file", Path: file}).String(), 390, 844, "light")
	p.field()
	if got := eval[int](p, `document.querySelectorAll('#list button').length`); got != len(want.Strips) {
		t.Errorf("%d strips in the list, want %d", got, len(want.Strips))
	}
	if got, miss := p.text("balance"), strings.Replace(fmt.Sprintf("%.4f", want.Balance.Missed/1e4), ".", ",", 1); !strings.Contains(got, miss) {
		t.Errorf("the balance %q has not the %s ha missed", got, miss)
	}
	if seen := eval[int](p, `[...document.querySelectorAll('.served, .choose button')].filter(e => e.offsetParent !== null).length`); seen > 0 {
		t.Errorf("%d controls that want a server are shown", seen)
	}
	eval[bool](p, `(document.getElementById('in-field').click(), document.querySelector('[data-state="done"]').click(), true)`)
	p.wait("a strip is ticked", `document.getElementById('goal-kept').textContent.startsWith('1 ')`)
	if wide := eval[int](p, `document.documentElement.scrollWidth`); wide > 390 {
		t.Errorf("the page is %d px wide", wide)
	}
	p.picture("phone-whole")
}
