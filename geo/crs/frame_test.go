package crs

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
)

func TestDrift(t *testing.T) {
	day := func(s string) time.Time {
		at, err := time.Parse(time.DateOnly, s)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for _, c := range []struct {
		name        string
		frame       string
		lon, lat    float64
		at          string
		want        string
		east, north float64 // m
		by          float64 // m, to which the figure is known
	}{
		// From memory: 2.5 cm a year since 1989, towards the north-east; 0.97 m by 2026.
		{"central Europe", "", 10.5, 49, "2026-05-01", "ETRS89", 0.71, 0.66, 0.02},
		{"the north of Europe", "ETRS89", 25, 66, "2026-05-01", "ETRS89", 0.62, 0.57, 0.05},
		{"Alice Springs, the map's frame told", "GDA2020", 133.885516, -23.670110, "2020-01-01", "GDA2020", 0, 0, 0.001},
		{"Alice Springs, where maps may be in either", "", 133.885516, -23.670110, "2026-01-01", "GDA94", 1.1, 1.9, 0.3},
	} {
		d, ok := DriftAt(c.frame, c.lon, c.lat, day(c.at))
		if c.east == 0 && c.north == 0 {
			if ok && math.Hypot(d.East, d.North) > c.by {
				t.Errorf("%s: %+v", c.name, d)
			}
			continue
		}
		if !ok || d.Frame != c.want || !(math.Abs(d.East-c.east) <= c.by && math.Abs(d.North-c.north) <= c.by) {
			t.Errorf("%s: %+v %t, want %s, %.2f m east, %.2f m north", c.name, d, ok, c.want, c.east, c.north)
		}
	}
	for _, nowhere := range [][2]float64{{-58, -34}, {139, 36}, {174, -41}, {116, 40}} {
		if d, ok := DriftAt("", nowhere[0], nowhere[1], day("2026-05-01")); ok {
			t.Errorf("at %v: %+v", nowhere, d)
		}
	}
	// The worked example of the manual of GDA2020 (ICSM, from memory): Alice Springs moves so far from GDA94 to GDA2020.
	old, _ := DriftAt("GDA94", 133.885516, -23.670110, day("2020-01-01"))
	from, to := [3]float64{-4052051.7643, 4212836.2017, -2545106.0245}, [3]float64{-4052052.7379, 4212835.9897, -2545104.5898}
	lon, lat := GRS80.geographic(from)
	lon2, lat2 := GRS80.geographic(to)
	east, north := GRS80.metres(lon2-lon, lat2-lat, lat)
	if off := math.Hypot(old.East-east, old.North-north); !(off < 1e-3) {
		t.Errorf("Alice Springs from GDA94 to GDA2020: %.4f, %.4f m, want %.4f, %.4f", old.East, old.North, east, north)
	}
}

func TestFrameOf(t *testing.T) {
	for code, want := range map[int]string{25832: "ETRS89", 4258: "ETRS89", 2154: "ETRS89", 2180: "ETRS89", 3006: "ETRS89", 28355: "GDA94", 7855: "GDA2020", 26915: "NAD83", 2955: "NAD83", 6344: "NAD83",
		4326: "", 32632: "", 3857: "", 31468: "", 2193: "", 31983: ""} {
		p, err := FromEPSG(code)
		if err != nil {
			t.Fatal(code, err)
		}
		if got := FrameOf(p); got != want {
			t.Errorf("EPSG:%d (%s): %q, want %q", code, p.Name(), got, want)
		}
	}
	if got := FrameOf(Geographic{}); got != "" {
		t.Errorf("no system: %q", got)
	}
}

// Drifts are what PROJ's transformations of the same codes move a place by, to a tenth of a millimetre.
func TestDriftsAsPROJ(t *testing.T) {
	tool := projTool(t, "cct")
	places := [][2]float64{{10.5, 48.3}, {-3.7, 40.4}, {25, 66}, {-0.1, 51.5}, {148.2, -33.1}, {116.1, -31.9}, {-93.6, 42.0}, {-105, 50.4}}
	days := []time.Time{time.Date(2004, 7, 2, 0, 0, 0, 0, time.UTC), time.Date(2019, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)}
	for _, f := range systems().frames {
		in := ""
		for _, p := range places {
			in += fmt.Sprintf("%.12f %.12f 0\n", p[0], p[1])
		}
		earth := piped(t, in, tool, "-d", "9", "+proj=cart", "+ellps=WGS84")
		for _, day := range days {
			in = ""
			for _, g := range earth {
				in += fmt.Sprintf("%.9f %.9f %.9f %.9f\n", g[0], g[1], g[2], yearOf(day))
			}
			moved := piped(t, in, tool, "-d", "9", "EPSG:"+strconv.Itoa(f.code))
			in = ""
			for _, g := range moved {
				in += fmt.Sprintf("%.9f %.9f %.9f\n", g[0], g[1], g[2])
			}
			back := piped(t, in, tool, "-I", "-d", "12", "+proj=cart", "+ellps=WGS84")
			if len(back) != len(places) {
				t.Fatalf("EPSG:%d: %d lines of %d", f.code, len(back), len(places))
			}
			for i, p := range places {
				d := f.drift(p[0], p[1], day)
				east, north := WGS84.metres(p[0]-back[i][0], p[1]-back[i][1], p[1])
				if off := math.Hypot(d.East-east, d.North-north); !(off < 1e-4) {
					t.Errorf("%s at %v on %s: %.4f m east, %.4f m north, PROJ says %.4f, %.4f", f.name, p, day.Format(time.DateOnly), d.East, d.North, east, north)
				}
			}
		}
	}
	if n := len(systems().frames); n < 4 || !strings.Contains(systems().frames[0].name, "ETRS89") {
		t.Errorf("%d frames", n)
	}
}
