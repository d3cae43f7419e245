package read

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strconv"
	"testing"
	"time"

	"balk/geo"
)

// tableText is an invented log of n fixes back and forth over a field.
func tableText(n int) []byte {
	var b bytes.Buffer
	b.WriteString("time,lon,lat,heading,speed_kmh,work_state,width_m,quality,hdop\n")
	at := time.Date(2024, 5, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		fmt.Fprintf(&b, "%s,%.8f,%.8f,%.1f,%.2f,%d,6,4,0.7\n", at.Add(time.Duration(i)*200*time.Millisecond).Format("2006-01-02T15:04:05.0Z"),
			11.57+1.0000037e-5*float64(i%400), 48.13+6.0000011e-5*float64(i/400), float64(i%3600)/10, 7+float64(i%10)/10, i/400%2)
	}
	return b.Bytes()
}

// sentenceText is the same as GGA, RMC and VTG, 5 per second.
func sentenceText(n int) []byte {
	var b bytes.Buffer
	at := time.Date(2024, 5, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		t := at.Add(time.Duration(i) * 200 * time.Millisecond)
		clock := t.Format("150405.00")
		place := fmt.Sprintf("48%011.8f,N,011%011.8f,E", 7.8+0.00360001*float64(i/400), 34.2+0.00060001*float64(i%400))
		b.WriteString(signed(fmt.Sprintf("GNGGA,%s,%s,4,18,0.7,545.41,M,46.9,M,1.0,0123", clock, place)))
		b.WriteString(signed(fmt.Sprintf("GNRMC,%s,A,%s,%.2f,%.1f,%s,,,R", clock, place, 4+float64(i%10)/10, float64(i%3600)/10, t.Format("020106"))))
		b.WriteString(signed(fmt.Sprintf("GNVTG,%.1f,T,,M,%.2f,N,%.2f,K,D", float64(i%3600)/10, 4+float64(i%10)/10, 7.4+float64(i%10)/10)))
	}
	return b.Bytes()
}

func BenchmarkTextTracks(b *testing.B) {
	for _, c := range []struct {
		name string
		make func(n int) []byte
		read func(b []byte) ([]geo.Track, []geo.Finding, error)
	}{
		{"csv", tableText, func(b []byte) ([]geo.Track, []geo.Finding, error) {
			return CSVTracks(bytes.NewReader(b), "bench", TrackOptions{})
		}},
		{"csv-encoding-csv", tableText, plainCSV}, // the naive twin: places only
		{"nmea", sentenceText, func(b []byte) ([]geo.Track, []geo.Finding, error) { return NMEATracks(bytes.NewReader(b), "bench") }},
		{"gpx", gpxText, func(b []byte) ([]geo.Track, []geo.Finding, error) { return gpxTracks(bytes.NewReader(b), "bench") }},
		{"kml", kmlText, func(b []byte) ([]geo.Track, []geo.Finding, error) { return kmlTracks(bytes.NewReader(b), "bench") }},
	} {
		for _, n := range []int{1_000, 100_000, 1_000_000} {
			if n > 100_000 && (c.name == "gpx" || c.name == "kml") {
				continue
			}
			b.Run(fmt.Sprintf("%s/fixes=%d", c.name, n), func(b *testing.B) {
				text := c.make(n)
				b.SetBytes(int64(len(text)))
				b.ReportAllocs()
				for b.Loop() {
					tracks, findings, err := c.read(text)
					if err != nil || len(tracks) != 1 || tracks[0].Fixes() != n || len(findings) != 0 {
						b.Fatal(len(tracks), findings, err)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
			})
		}
	}
}

// plainCSV reads the places of a table with the standard library.
func plainCSV(b []byte) ([]geo.Track, []geo.Finding, error) {
	r := csv.NewReader(bytes.NewReader(b))
	r.ReuseRecord = true
	if _, err := r.Read(); err != nil {
		return nil, nil, err
	}
	g := &growing{}
	for {
		f, err := r.Read()
		if err == io.EOF {
			t, err := g.track(&tally{}, nil)
			return []geo.Track{t}, nil, err
		}
		if err != nil {
			return nil, nil, err
		}
		var v values
		at, err0 := time.Parse(time.RFC3339, f[0])
		x, err1 := strconv.ParseFloat(f[1], 64)
		y, err2 := strconv.ParseFloat(f[2], 64)
		if err := errors.Join(err0, err1, err2); err != nil {
			return nil, nil, err
		}
		v.set(timeColumn, float64(at.UnixNano())/1e9)
		g.add(x, y, &v)
	}
}

// gpxText is the same as GPX.
func gpxText(n int) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>invented</name><trkseg>` + "\n")
	at := time.Date(2024, 5, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		fmt.Fprintf(&b, `<trkpt lat="%.8f" lon="%.8f"><time>%s</time></trkpt>`+"\n", 48.13+6.0000011e-5*float64(i/400), 11.57+1.0000037e-5*float64(i%400), at.Add(time.Duration(i)*time.Second).Format(time.RFC3339))
	}
	b.WriteString("</trkseg></trk></gpx>")
	return b.Bytes()
}

// kmlText is the same as a LineString of KML.
func kmlText(n int) []byte {
	var b bytes.Buffer
	b.WriteString(`<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><LineString><coordinates>` + "\n")
	for i := range n {
		fmt.Fprintf(&b, "%.8f,%.8f,0\n", 11.57+1.0000037e-5*float64(i%400), 48.13+6.0000011e-5*float64(i/400))
	}
	b.WriteString("</coordinates></LineString></Placemark></kml>")
	return b.Bytes()
}

// What is kept of a table and of a log stays within 100 bytes per fix, and so
// does all that is allocated on the way, a fixed buffer apart.
func TestTextTracksKeepLittle(t *testing.T) {
	const n = 200_000
	for _, c := range []struct {
		name string
		text []byte
		read func(text []byte) ([]geo.Track, []geo.Finding, error)
	}{
		{"csv", tableText(n), func(b []byte) ([]geo.Track, []geo.Finding, error) {
			return CSVTracks(bytes.NewReader(b), "", TrackOptions{})
		}},
		{"nmea", sentenceText(n), func(b []byte) ([]geo.Track, []geo.Finding, error) { return NMEATracks(bytes.NewReader(b), "") }},
	} {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		tracks, _, err := c.read(c.text)
		if err != nil || tracks[0].Fixes() != n {
			t.Fatal(c.name, err)
		}
		runtime.GC()
		runtime.ReadMemStats(&after)
		kept := float64(after.HeapAlloc) - float64(before.HeapAlloc)
		if kept > 100*n || kept < 24*n {
			t.Errorf("%s: %.0f bytes per fix kept, want 24 to 100", c.name, kept/n)
		}
		if all := float64(after.TotalAlloc - before.TotalAlloc); all > 100*n+4*maxLine {
			t.Errorf("%s: %.0f bytes per fix allocated, want 100 at most", c.name, all/n)
		}
		t.Logf("%s: %.0f bytes per fix kept", c.name, kept/n)
		runtime.KeepAlive(tracks)
		runtime.KeepAlive(c.text)
	}
}
