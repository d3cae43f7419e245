package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os/exec"
	"strings"
	"testing"

	"balk/testdata/check"
)

// The layers of an operation come as OGC API – Features: every strip once over the pages, by box, and alone by its number.
func TestFeatures(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", t.TempDir())...)
	want := reported(t, pond(dir)...)
	type feature struct {
		ID         int
		Geometry   struct{ Type string }
		Properties struct {
			Strip int
			Area  float64 `json:"area_m2"`
			Lon   float64
			Lat   float64
		}
	}
	type answer struct {
		Features                      []feature
		NumberMatched, NumberReturned int
		Links                         []struct{ Href, Rel string }
	}
	seen := map[int]feature{}
	path := "/ogc/collections/call.1.missed/items?limit=25"
	for pages := 0; path != ""; pages++ {
		var a answer
		if err := json.Unmarshal(v.get(path), &a); err != nil {
			t.Fatal(err)
		}
		if a.NumberMatched != len(want.Strips) || a.NumberReturned != len(a.Features) || len(a.Features) > 25 || pages > 9 {
			t.Fatalf("%s: %d of %d, %d features", path, a.NumberReturned, a.NumberMatched, len(a.Features))
		}
		for _, f := range a.Features {
			seen[f.Properties.Strip] = f
		}
		path = ""
		for _, l := range a.Links {
			if l.Rel == "next" {
				path = strings.TrimPrefix(l.Href, v.base)
			}
		}
	}
	if len(seen) != len(want.Strips) {
		t.Errorf("%d strips over the pages, want %d", len(seen), len(want.Strips))
	}
	for _, s := range want.Strips {
		if off := seen[s.Number].Properties.Area - s.Area; off > 0.006 || off < -0.006 {
			t.Errorf("strip %d has %.3f m², want %.3f", s.Number, seen[s.Number].Properties.Area, s.Area)
		}
	}
	one := seen[3]
	var alone feature
	if err := json.Unmarshal(v.get(fmt.Sprintf("/ogc/collections/call.1.missed/items/%d", one.ID)), &alone); err != nil || alone != one {
		t.Errorf("alone %+v, among all %+v: %v", alone, one, err)
	}
	var near answer
	box := fmt.Sprintf("bbox=%.7f,%.7f,%.7f,%.7f", one.Properties.Lon-1e-6, one.Properties.Lat-1e-6, one.Properties.Lon+1e-6, one.Properties.Lat+1e-6)
	if err := json.Unmarshal(v.get("/ogc/collections/call.1.missed/items?"+box), &near); err != nil {
		t.Fatal(err)
	}
	if near.NumberMatched == 0 || near.NumberMatched > len(want.Strips)/4 {
		t.Errorf("%d strips in a box of centimetres", near.NumberMatched)
	}
	for query, status := range map[string]int{"limit=0": 400, "limit=x": 400, "offset=-1": 400, "bbox=1,2,3": 400, "bbox=a,b,c,d": 400, "colour=red": 400, "datetime=2026-04-14": 200, "limit=1000000": 200, "offset=99999": 200} {
		if got, _, text := v.ask("GET", "/ogc/collections/call.1.missed/items?"+query, nil, nil); got != status {
			t.Errorf("%s: %d, want %d: %.200s", query, got, status, text)
		}
	}
	for _, path := range []string{"call.1.nothing", "call.9.missed", "call.1.missed/items/0", "call.1.missed/items/99999", "call.1.missed/items/x"} {
		if got, _, text := v.ask("GET", "/ogc/collections/"+path, nil, nil); got != http.StatusNotFound {
			t.Errorf("%s: %d: %.200s", path, got, text)
		}
	}
}

// A GIS reads the layers through GDAL's driver for OGC API – Features.
func TestFeaturesThroughGDAL(t *testing.T) {
	program, err := exec.LookPath("ogrinfo")
	if err != nil {
		check.Skip(t, "no ogrinfo (Debian package gdal-bin) to read the layers of the page with")
	}
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", t.TempDir())...)
	want := reported(t, pond(dir)...)
	out, err := exec.CommandContext(t.Context(), program, "-so", "OAPIF:"+v.base+"/ogc?token="+v.token, "call.1.missed").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, line := range []string{fmt.Sprintf("Feature Count: %d", len(want.Strips)), "area_m2: Real", "cause: String"} {
		if !strings.Contains(string(out), line) {
			t.Errorf("ogrinfo does not say %q:\n%s", line, out)
		}
	}
}
