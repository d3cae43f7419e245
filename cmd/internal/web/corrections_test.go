package web_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/web"
)

// Corrections of every kind count, are listed with who, when and why, and can be taken back; what cannot be one is refused and leaves nothing.
func TestCorrections(t *testing.T) {
	dir, keep := farm(t), filepath.Join(t.TempDir(), "kept")
	v := visit(t, append(pond(dir), "--keep", keep)...)
	const path = "/api/operations/call.1/corrections"
	missed := func() (m2, field float64) {
		var seen web.View
		if err := json.Unmarshal(v.get("/api/operations/call.1/view?haste=1"), &seen); err != nil {
			t.Fatal(err)
		}
		return seen.Balance.Missed, seen.Balance.Field
	}
	was, area := missed()
	for name, c := range map[string]struct {
		body string
		is   func(m2, field float64) bool
	}{
		"lifted": {`{"kind": "lifted", "begin": "2026-04-14T06:50:00Z", "end": "2026-04-14T06:50:20Z"`, func(m2, _ float64) bool { return m2 > was+100 }},
		"aside":  {`{"kind": "aside", "begin": "2026-04-14T06:50:00Z", "end": "2026-04-14T06:50:20Z"`, func(m2, _ float64) bool { return m2 != was }},
		"a gate": {`{"kind": "gate", "place": [[11.5718, 48.1361]]`, func(m2, field float64) bool { return m2 == was && field == area }},
		"boundary": {`{"kind": "boundary", "place": [[11.5730, 48.1370], [11.5740, 48.1370], [11.5740, 48.1375], [11.5730, 48.1375]], "holes": [[[11.5734, 48.1372], [11.5735, 48.1372], [11.5735, 48.1373], [11.5734, 48.1373]]]`,
			func(_, field float64) bool { return math.Abs(field-(74.4*55.6-83)) < 10 }}, // 74.4 m by 55.6 m, less a hole of 7.4 m by 11.1 m
		"obstacle": {`{"kind": "obstacle", "place": [[11.5730, 48.1370], [11.5731, 48.1370], [11.5731, 48.1371], [11.5730, 48.1371]]`, func(_, field float64) bool { return math.Abs(area-field-83) < 2 }}, // 7.4 m by 11.1 m
	} {
		status, _, text := v.ask("POST", path, strings.NewReader(c.body+`, "who": "N. N.", "why": "seen"}`), nil)
		var made web.Correction
		if err := json.Unmarshal(text, &made); err != nil || status != http.StatusOK {
			t.Errorf("%s: %d %s", name, status, text)
			continue
		}
		if m2, field := missed(); !c.is(m2, field) {
			t.Errorf("%s: %.1f m² missed of %.1f, before %.1f of %.1f", name, m2, field, was, area)
		}
		var all []web.Correction
		if err := json.Unmarshal(v.get(path), &all); err != nil || len(all) != 1 || all[0].Who != "N. N." || all[0].Why != "seen" || all[0].Made == "" || all[0].Kind != made.Kind {
			t.Errorf("%s: listed %+v: %v", name, all, err)
		}
		if status, _, text := v.ask("DELETE", fmt.Sprintf("%s/%d", path, made.Number), nil, nil); status != http.StatusNoContent {
			t.Errorf("%s, taken back: %d %s", name, status, text)
		}
		if m2, field := missed(); m2 != was || field != area {
			t.Errorf("%s, taken back: %.1f m² missed of %.1f, before %.1f of %.1f", name, m2, field, was, area)
		}
	}
	for name, body := range map[string]string{
		"no kind":               `{"kind": "painted", "begin": "2026-04-14T06:50:00Z"}`,
		"a gate without place":  `{"kind": "gate"}`,
		"backwards":             `{"kind": "lifted", "begin": "2026-04-14T06:50:20Z", "end": "2026-04-14T06:50:00Z"}`,
		"no time":               `{"kind": "lifted", "begin": "at noon"}`,
		"two corners":           `{"kind": "obstacle", "place": [[11.5730, 48.1370], [11.5731, 48.1370]]}`,
		"nothing is left of it": `{"kind": "aside", "begin": "2026-01-01T00:00:00Z", "end": "2027-01-01T00:00:00Z"}`,
		"another word":          `{"kind": "gate", "where": "there"}`,
		"no JSON":               `kind`,
	} {
		if status, _, text := v.ask("POST", path, strings.NewReader(body), nil); status < 400 || status >= 500 {
			t.Errorf("%s: %d %s", name, status, text)
		}
		if left := strings.TrimSpace(string(v.get(path))); left != "[]" {
			t.Errorf("%s: left is %s", name, left)
		}
	}
	if status, _, text := v.ask("DELETE", path+"/99", nil, nil); status < 400 || status >= 500 {
		t.Errorf("what is not there, taken back: %d %s", status, text)
	}
	if m2, _ := missed(); m2 != was {
		t.Errorf("%.1f m² missed, at the begin %.1f", m2, was)
	}
}
