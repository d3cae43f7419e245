package read

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"balk/geo"
)

// sound says what is wrong with tracks that a reader gave, "" for nothing: every
// fix on Earth, columns nil or as long as the fixes, parts in order.
func sound(tracks []geo.Track, findings []geo.Finding, err error) string {
	if err != nil {
		if tracks != nil || findings != nil {
			return "something is given beside an error"
		}
		if err.Error() == "" {
			return "an error without text"
		}
		return ""
	}
	if len(tracks) == 0 {
		return "neither track nor error"
	}
	for _, k := range tracks {
		n := k.Fixes()
		if n == 0 {
			return "a track without fixes"
		}
		for _, c := range []int{len(k.State), len(k.Width), len(k.Heading), len(k.Speed), len(k.Offset), len(k.Quality), len(k.HDOP)} {
			if c != 0 && c != n {
				return "a column of another length than the track"
			}
		}
		flat := k.Line.FlatCoords()
		for i := 0; i < len(flat); i += 3 {
			if !geo.OnEarth(flat[i], flat[i+1]) || math.IsInf(flat[i+2], 0) {
				return "a fix that is nowhere"
			}
		}
		last := 0
		for _, e := range k.Line.Ends() {
			if e <= last || e > len(flat) {
				return "parts out of order"
			}
			last = e
		}
		if last != len(flat) {
			return "the parts do not hold all fixes"
		}
		for i := range n {
			if k.Width != nil && !(k.Width[i] >= 0 && k.Width[i] <= geo.MaxWidth || math.IsNaN(k.Width[i])) {
				return "a width out of range"
			}
			if k.Speed != nil && !(math.Abs(k.Speed[i]) <= geo.MaxSpeed || math.IsNaN(k.Speed[i])) {
				return "a speed out of range"
			}
		}
	}
	return ""
}

func FuzzCSV(f *testing.F) {
	for _, s := range []string{
		"lon,lat,time,speed_kmh,swath_ft,state,quality,hdop,pass,section\n1,2,2024-05-31T17:30:15Z,7,30,on,4,0.8,a,1\n1,3,,,,,,,b,2\n",
		"Longitude;Latitude;date;time\r\n11,5;48,1;31.05.2024;17:30:15\r\n11,5;48,1;05/31/24;5:30 PM\r\n",
		"lon\tlat\ttime\n1\t2\t45443.7293\n1\t2\t1717176615000\n1\t2\t1e9\n",
		"sep=;\nlon;lat\n\"1,5\";\"2\n\"\n3;4\n", "\ufefflat,lon\n-0,+.5\n5.,1e0\n0x1,2\n9999999999999999999999,1\n", "lon,lat\n1,2", "1,2\n",
	} {
		f.Add([]byte(s), false)
		f.Add([]byte(s), true)
	}
	f.Fuzz(func(t *testing.T, b []byte, hand bool) {
		o := TrackOptions{}
		if hand {
			o.Columns = map[string]string{"lon": "1", "lat": "2"}
		}
		tracks, findings, err := CSVTracks(bytes.NewReader(b), "fuzz", o)
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
		fixes := 0
		for _, k := range tracks {
			fixes += k.Fixes()
		}
		if fixes > bytes.Count(b, []byte{'\n'})+1 {
			t.Fatalf("%d fixes of %d lines", fixes, bytes.Count(b, []byte{'\n'})+1)
		}
	})
}

func FuzzNMEA(f *testing.F) {
	body := signed("GPZDA,235959.00,31,12,2023,00,00") + signed("GPGGA,235959.50,4807.03800,N,01131.00000,E,4,08,0.9,545.4,M,46.9,M,,") + signed("GPHDT,12.5,T") +
		signed("GPRMC,000000.00,A,4807.038,S,01131.000,W,022.4,084.4,010124,003.1,W,A") + signed("GPVTG,054.7,T,034.4,M,005.5,N,010.2,K")
	f.Add([]byte(body))
	f.Add([]byte(strings.ReplaceAll(body, "\r\n", "")))
	f.Add([]byte(body[:len(body)-9]))
	f.Add([]byte("$GPGGA,120000,4807.,N,01131.,E,,,,,,,,,\n$GPGGA,,,,,,,,,,,,,,*\n$$$GPHDT,*4"))
	f.Fuzz(func(t *testing.T, b []byte) {
		tracks, findings, err := NMEATracks(bytes.NewReader(b), "fuzz")
		if what := sound(tracks, findings, err); what != "" {
			t.Fatal(what)
		}
		if err == nil && tracks[0].Fixes() > bytes.Count(b, []byte("GGA,"))+bytes.Count(b, []byte("RMC,")) {
			t.Fatalf("%d fixes", tracks[0].Fixes())
		}
	})
}

func FuzzGPX(f *testing.F) {
	f.Add([]byte(gpx11))
	f.Add([]byte(gpx11[:300]))
	f.Add([]byte(`<gpx><trk><trkseg><trkpt lat="1" lon="2"><trkpt lat="1e1" lon="2"><time>5</time></trkpt></trkpt></trkseg></trk></gpx>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		if what := sound(gpxTracks(bytes.NewReader(b), "fuzz")); what != "" {
			t.Fatal(what)
		}
	})
}

func FuzzKML(f *testing.F) {
	f.Add([]byte(kmlText1))
	f.Add([]byte(kmlText1[:1800]))
	f.Add([]byte(`<kml><Placemark><Polygon><outerBoundaryIs><coordinates>1,2 3,4</coordinates><Placemark><Track><coord/><when/></Track><Point><coordinates>1,1 , 2</coordinates>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		if what := sound(kmlTracks(bytes.NewReader(b), "fuzz")); what != "" {
			t.Fatal(what)
		}
		fields, findings, err := KMLFields(bytes.NewReader(b), "fuzz", Options{})
		if err != nil && (fields != nil || findings != nil) || err == nil && len(fields) == 0 {
			t.Fatal("fields and error do not fit", err)
		}
		for _, x := range fields {
			for _, p := range x.Boundary {
				for _, r := range p {
					if len(r) < 4 || r[0] != r[len(r)-1] {
						t.Fatal("a ring that is not closed")
					}
				}
			}
		}
	})
}

// Whatever is cut off a file, the fixes that are given are those of the whole
// file, in order, and the loss is said unless the cut is between records.
func TestTextsCutAnywhere(t *testing.T) {
	csv := "lon,lat,time,heading\n1.25,2.5,1717176615,10\n1.5,2.75,1717176616,20\n1.75,2.875,1717176617,30\n"
	nmea := signed("GPZDA,120000,31,05,2024,,") + signed("GPGGA,120000,4807.03800,N,01131.00000,E,4,8,0.9,,,,,,") + signed("GPGGA,120001,4807.03900,N,01131.00000,E,4,8,0.9,,,,,,") + signed("GPGGA,120002,4807.04000,N,01131.00000,E,4,8,0.9,,,,,,")
	for _, c := range []struct {
		name, text string
		read       func(s string) ([]geo.Track, []geo.Finding, error)
		quiet      func(s string) bool // a cut here need not be said
	}{
		{"csv", csv, func(s string) ([]geo.Track, []geo.Finding, error) {
			return CSVTracks(strings.NewReader(s), "x", TrackOptions{})
		}, func(s string) bool {
			return s[len(s)-1] == '\n' || strings.Count(s[strings.LastIndexByte(s, '\n')+1:], ",") == 3
		}},
		{"nmea", nmea, func(s string) ([]geo.Track, []geo.Finding, error) { return NMEATracks(strings.NewReader(s), "x") },
			func(s string) bool { return s[len(s)-1] == '\n' || s[len(s)-1] == '\r' || s[max(0, len(s)-3)] == '*' }},
		{"gpx", gpx11, func(s string) ([]geo.Track, []geo.Finding, error) { return gpxTracks(strings.NewReader(s), "x") }, func(string) bool { return false }},
		{"kml", kmlText1, func(s string) ([]geo.Track, []geo.Finding, error) { return kmlTracks(strings.NewReader(s), "x") }, func(string) bool { return false }},
	} {
		all := places(c.read(c.text))
		for n := 1; n < len(c.text); n++ {
			s := c.text[:n]
			tracks, findings, err := c.read(s)
			if err != nil {
				continue
			}
			got := places(tracks, nil, nil)
			if len(got) > len(all) {
				t.Fatalf("%s cut at %d: %d fixes of %d", c.name, n, len(got), len(all))
			}
			for i := range got {
				if got[i] != all[i] {
					t.Fatalf("%s cut at %d: fix %d at %v, want %v", c.name, n, i+1, got[i], all[i])
				}
			}
			said := false
			for _, f := range findings {
				said = said || f.Lost
			}
			if !said && !c.quiet(s) {
				t.Errorf("%s cut at %d (%q): nothing is said", c.name, n, s[max(0, n-20):])
			}
		}
	}
}

func places(tracks []geo.Track, _ []geo.Finding, _ error) (out [][2]float64) {
	for _, k := range tracks {
		flat := k.Line.FlatCoords()
		for i := 0; i < len(flat); i += 3 {
			out = append(out, [2]float64{flat[i], flat[i+1]})
		}
	}
	return out
}
