package read

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"balk/geo"
	"balk/testdata/check"
)

// drawnPoints is a collection of invented points, some of which are out of the ordinary.
func drawnPoints(rng *rand.Rand, n int) string {
	between := []string{",", ",\n", " ,\r\n\t"}[rng.IntN(3)]
	first := []string{`"type":"Feature"`, `"type": "Feature"`, `"id":1,"type":"Feature"`}[rng.IntN(3)]
	columns := []string{}
	for _, c := range []string{`"working":%t`, `"speed":2.%d`, `"heading":1%d.5`, `"hdop":0.%d`, `"pass":%d`, `"track_id":"a%d"`, `"nr":%d`, `"state":"s%d"`, `"work":%d`, `"speed_kmh":%d`, `"ele":40%d`, `"note":"n \\\"%d"`, `"id":%d`, `"quality":%d`, `"driver":"d%d"`, `"farm":"f%d"`} {
		if rng.IntN(2) == 0 {
			columns = append(columns, c)
		}
	}
	height := []string{"", ",40%d.5", ", 4%d"}[rng.IntN(3)]
	odd := []string{
		`{"type":"Feature","geometry":null,"properties":{}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5]},"properties":{}}`,
		`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[11.5,48.1],[11.6,48.1]]},"properties":{"width":6}}`,
		`{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[11.5,48.1]},{"type":"Point","coordinates":[11.5,48.2]}]},"properties":{}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{"time":"2026-04-14T08:00:00","note":"},{\"type\":\"Feature\""}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{"date":"14.04.2026","working":"perhaps"}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{"note":"},{","x":[{"type":"Feature"},{"type":"Feature"}],"width":7}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{"balk":"missed"}}`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{}}]}`,
		`7`, `{"type":"Feature","crs":null}`, `{"broken"}`, `{`,
	}
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	at := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	for i := range n {
		if i > 0 {
			b.WriteString(between)
		}
		if rng.IntN(n) == 0 {
			b.WriteString(odd[rng.IntN(len(odd))])
			continue
		}
		fmt.Fprintf(&b, `{%s,"geometry":{"type":"Point","coordinates":[%.7f,%.7f%s]},"properties":{"time":%q`, first, 11.57+1e-5*float64(i), 48.13, strings.ReplaceAll(height, "%d", fmt.Sprint(i%5)), at.Add(time.Duration(i)*time.Second).Format(time.RFC3339))
		for _, c := range columns {
			if rng.IntN(2*n) == 0 {
				continue
			}
			var v any = i % 7
			if rng.IntN(n) == 0 { // a value unlike the others
				b.WriteString("," + c[:strings.Index(c, ":")+1] + []string{"null", `""`, "-1e3", `"x\u0041"`, "[1]", " true", strings.Repeat("7", 70), `"` + strings.Repeat("s", 700) + `"`, strings.Repeat(" ", 700) + "1", `"2026-04-14T08:00:00"`}[rng.IntN(10)])
				continue
			}
			switch {
			case strings.Contains(c, "%t"):
				v = i%7 < 5
			case strings.Contains(c, "pass"):
				v = i / 9 % 4
			case strings.Contains(c, "farm"):
				v = i / 99
			}
			fmt.Fprintf(&b, ","+c, v)
		}
		b.WriteString("}}")
	}
	b.WriteString("]}")
	return b.String()[:b.Len()-min(b.Len(), max(0, rng.IntN(40)-35))]
}

// told is all that a reader says.
func told(tracks []geo.Track, findings []geo.Finding, err error) string {
	var b strings.Builder
	for _, t := range tracks {
		fmt.Fprintf(&b, "%v %v\n", t.Line.Ends(), t.Line.FlatCoords())
		t.Line = nil
		fmt.Fprintf(&b, "%+v\n", t)
	}
	for _, f := range findings {
		fmt.Fprintln(&b, f)
	}
	return fmt.Sprint(b.String(), err)
}

// The same comes out whatever the number of workers and the size of their pieces, and whether features are read key by key or fit a mould: tracks, findings with their records, and errors with their bytes.
func TestWorkersReadTheSame(t *testing.T) {
	seed := check.Seed(t)
	ahead0 := 0
	for k := range uint64(600) {
		rng := rand.New(rand.NewPCG(seed, k))
		text := drawnPoints(rng, 2+rng.IntN(120))
		o := TrackOptions{}
		switch rng.IntN(6) {
		case 0:
			o.Columns = map[string]string{orderName: "nr"}
		case 1:
			o.Columns = map[string]string{stateName: "track_id"}
		case 2:
			o.Zone = time.FixedZone("", 3600)
		case 3:
			o.Columns = map[string]string{sectionName: "track_id"}
		}
		want := told(tracksAhead(strings.NewReader(text), "f", o, ahead{byKeys: true}))
		for _, a := range []ahead{{}, {workers: 2, size: 700, from: 1, wait: 1, byKeys: true}, {workers: 2, size: 400, wait: 1}, {workers: 7, size: 900, from: 300, wait: 100}, {workers: 3, size: 1 << 20, from: 1, wait: 1}} {
			var r io.Reader = strings.NewReader(text)
			if rng.IntN(4) == 0 {
				r = iotest.OneByteReader(r)
			}
			if got := told(tracksAhead(r, "f", o, a)); got != want {
				t.Fatalf("seed %d, case %d, %+v:\n%s\ngives\n%s\none by one\n%s", seed, k, a, text, got, want)
			}
		}
		if strings.Contains(want, "unreadable") {
			ahead0++
		}
	}
	if ahead0 == 0 {
		t.Error("no text that breaks off was drawn")
	}
}

// Pieces are used: of points in order nothing is read one by one but the beginning and the end.
func TestPiecesAreUsed(t *testing.T) {
	text := pointText(5000)
	s := TrackOptions{}.scan(bytes.NewReader(text), "f", "")
	s.ahead = ahead{workers: 2, size: 1 << 14, from: 1 << 12, wait: 1 << 12}
	s.object(true, 0)
	if s.err != nil || s.points.fixes() != 5000 || s.ahead.from < int64(len(text)-1<<14) {
		t.Errorf("%d fixes, %v; pieces were read up to byte %d of %d", s.points.fixes(), s.err, s.ahead.from, len(text))
	}
}

// A disk that fails is said with the byte where it does.
func TestWorkersAndABrokenDisk(t *testing.T) {
	text := pointText(2000)
	failed := errors.New("the disk")
	read := func(a ahead) string {
		return told(tracksAhead(io.MultiReader(bytes.NewReader(text[:100_000]), iotest.ErrReader(failed)), "f", TrackOptions{}, a))
	}
	one := read(ahead{})
	if got := read(ahead{workers: 2, size: 5000, from: 1, wait: 1}); got != one || !strings.Contains(one, "byte 100000: the disk") {
		t.Errorf("%.300s ... one by one\n%.300s", got[max(0, len(got)-300):], one[max(0, len(one)-300):])
	}
}
