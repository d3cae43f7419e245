package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// slowly lets so many bytes a second leave the page; 0 = as many as there are.
func (p *tab) slowly(bytes float64) {
	p.Helper()
	if bytes == 0 {
		bytes = -1
	}
	if _, err := chromedp.Call(p.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{DownloadThroughput: -1, UploadThroughput: bytes}},
	}); err != nil {
		p.Fatal(err)
	}
}

// cancelled: a large file on its way shows how far it is; cancelled, it leaves nothing, and what was chosen is chosen still. So does what cannot be read.
func cancelled(t *testing.T, b context.Context, _, dir string) {
	keep := filepath.Join(t.TempDir(), "kept")
	address, _ := served(t, "--keep", keep)
	p := open(t, b, address+"#lang=en", 1280, 800, "light")
	log, err := os.ReadFile(filepath.Join(dir, "track-pond.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	large := filepath.Join(t.TempDir(), "track-pond.geojson")
	if err := os.WriteFile(large, append(log, bytes.Repeat([]byte{' '}, 8<<20)...), 0o644); err != nil {
		t.Fatal(err)
	}
	boundary, err := filepath.Abs(filepath.Join(dir, "fields.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	p.wait("there is a place to put files", `!document.getElementById('put').hidden`)
	p.do(chromedp.SetUploadFiles("#files", []string{boundary, large}))
	nothing := func(when string) {
		t.Helper()
		p.wait(when+": the files are chosen still", `!document.getElementById('put').hidden && document.querySelectorAll('#chosen li').length === 2`)
		var left []os.DirEntry
		for range 100 { // the server hears of it a moment later
			if left, err = os.ReadDir(keep); err == nil && len(left) == 0 {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
		t.Errorf("%s: left behind: %v %v", when, left, err)
	}
	p.slowly(1 << 20)
	eval[bool](p, `(document.getElementById('put-form').requestSubmit(), true)`)
	p.wait("it is told how far the files are", `document.getElementById('busy-what').textContent === 'taking the files' && document.getElementById('busy-bar').value > 0.05 && document.getElementById('busy-bar').value < 1`)
	p.picture("busy")
	eval[bool](p, `(document.getElementById('cancel').click(), true)`)
	nothing("cancelled")
	p.slowly(0)
	p.refused = true // nobody said how wide the set is
	eval[bool](p, `(document.getElementById('put-form').requestSubmit(), true)`)
	p.wait("it is told that there is no width", `document.getElementById('fault-words').textContent.includes('width')`)
	nothing("refused")
	eval[bool](p, `(document.getElementById('put-width').value = '6', document.getElementById('put-form').requestSubmit(), true)`)
	p.field()
	if left, err := os.ReadDir(keep); err != nil || len(left) != 1 {
		t.Errorf("%v %v, want one folder", left, err)
	}
}

// pointed is the place that the page tells under the pointer: lon, lat.
func (p *tab) pointed(x, y float64) (lon, lat float64) {
	p.Helper()
	p.do(chromedp.MouseEvent(chromedp.MouseMoved, x, y))
	p.wait("the place is told", `/\d, \d/.test(document.getElementById('place').textContent)`)
	if _, err := fmt.Sscanf(p.text("place"), "%f, %f", &lat, &lon); err != nil {
		p.Fatal(err)
	}
	return lon, lat
}

// dragged: a corner of the boundary is dragged by hand; the others stay, and the field is as much larger as the corner's triangle says.
func dragged(t *testing.T, b context.Context, _, dir string) {
	keep := filepath.Join(t.TempDir(), "kept")
	address, _ := served(t, append(pond(dir), "--keep", keep)...)
	p := open(t, b, address+"#lang=en&correct=1", 1280, 1200, "light")
	p.field()
	text, err := os.ReadFile(filepath.Join(dir, "fields.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var fields struct {
		Features []struct {
			Geometry struct{ Coordinates [][][2]float64 }
		}
	}
	if err := json.Unmarshal(text, &fields); err != nil {
		t.Fatal(err)
	}
	ring := fields.Features[0].Geometry.Coordinates[0]
	eval[bool](p, `(() => { const k = document.getElementById('correct-kind'); k.value = 'boundary'; k.dispatchEvent(new Event('change')); document.getElementById('whole').click(); document.getElementById('correct-place').click(); return true })()`)
	p.wait("its corners can be dragged", `document.getElementById('correct-said').textContent.includes('drag the corners')`)
	box := eval[[4]float64](p, `(() => { const r = document.getElementById('map').getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()`)
	x0, y0 := box[0]+box[2]/4, box[1]+box[3]/4
	lon0, lat0 := p.pointed(x0, y0)
	lon1, _ := p.pointed(x0+200, y0)
	_, lat1 := p.pointed(x0, y0+200)
	east, south := (lon1-lon0)/200, (lat1-lat0)/200 // degrees a pixel
	corner := 0
	for k, q := range ring { // the most easterly and southerly, which has room to be dragged to
		if q[0]/math.Abs(east)-q[1]/math.Abs(south) > ring[corner][0]/math.Abs(east)-ring[corner][1]/math.Abs(south) {
			corner = k
		}
	}
	x, y := x0+(ring[corner][0]-lon0)/east, y0+(ring[corner][1]-lat0)/south
	for _, step := range []struct {
		kind input.DispatchMouseEventType
		by   float64
	}{{chromedp.MouseMoved, 0}, {chromedp.MousePressed, 0}, {chromedp.MouseMoved, 6}, {chromedp.MouseMoved, 12}, {chromedp.MouseReleased, 12}} {
		p.do(chromedp.MouseEvent(step.kind, x+step.by, y+step.by, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	}
	eval[bool](p, `(() => { for (const [id, v] of [['correct-who', 'N. N.'], ['correct-why', 'the fence was moved']]) document.getElementById(id).value = v; document.getElementById('correct-form').requestSubmit(); return true })()`)
	p.wait("the correction is in the list", `document.querySelector('#correct-list li')?.textContent.includes('the fence was moved') && document.getElementById('field').dataset.whole !== undefined`)
	got := eval[[][2]float64](p, `fetch('/api/operations/call.1/corrections').then(r => r.json()).then(all => all[0].place)`)
	moved := 0
	for _, q := range got {
		near := math.Inf(1)
		for _, was := range ring {
			near = min(near, math.Hypot((q[0]-was[0])/east, (q[1]-was[1])/south))
		}
		if near > 0.1 { // px
			moved++
			if at := [2]float64{ring[corner][0] + 12*east, ring[corner][1] + 12*south}; math.Abs(q[0]-at[0]) > 2*math.Abs(east) || math.Abs(q[1]-at[1]) > 2*math.Abs(south) {
				t.Errorf("the corner is at %v, want %v", q, at)
			}
		}
	}
	if moved < 1 || moved > 2 || len(got) < len(ring)-1 { // the last corner of a ring is its first
		t.Errorf("%d of %d corners are elsewhere: %v", moved, len(got), got)
	}
	before, after := reported(t, pond(dir)...), reported(t, append(pond(dir), "--farm", filepath.Join(keep, "farm"))...)
	if after.Balance.Field < before.Balance.Field+100 || !strings.Contains(p.text("balance"), fmt.Sprintf("%.4f", after.Balance.Field/1e4)) {
		t.Errorf("the field has %.0f m², before %.0f; the page says %q", after.Balance.Field, before.Balance.Field, p.text("balance"))
	}
	p.picture("corner")
}
