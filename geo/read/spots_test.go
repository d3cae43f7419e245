package read

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"

	"github.com/paulmach/orb"
)

// fullSpot is a check in which everything is filled in; invented.
var fullSpot = geo.SpotCheck{ID: "7", At: &orb.Point{11.571231, 48.136204}, Accuracy: 3.5, Time: time.Date(2026, 4, 15, 9, 30, 0, 0, time.UTC), Why: geo.SpotDrawn, Operation: "first cut",
	Pass: 12, Section: 2, Strip: 4, From: 2, Length: 2, Width: 0.3, Cut: geo.NotSo, Ribs: []geo.SpotValue{{At: 2.4, Value: 0.05}, {At: 3.1, Value: 0.02}},
	Depths: []geo.SpotValue{{At: 2.2, Value: 0.041}, {At: 3.8, Value: 0.035}}, Smeared: geo.IsSo, Burial: []geo.SpotNamed{{What: "seeds", Depth: 0.02}, {What: "long stubble", Depth: 0.05}},
	Seed: []geo.SpotNamed{{What: "coarse", Depth: 0.03}}, Plants: []geo.SpotPlants{{Kind: "creeping thistle", Amount: 12, Stage: 14}, {Kind: "couch", Amount: 3.5, Stage: -1}}, Looked: true, Visit: 2,
	Join: &geo.SpotJoin{Left: true, Lap: -0.035, Same: true, Other: 13}, Note: "wet; stones, \"big\" ones", Photo: "p7.jpg"}

func spotsIn(text string) ([]geo.SpotCheck, []geo.Finding, error) {
	return spotsOf(strings.NewReader(text), "spots", sniffSpots([]byte(text)), SpotOptions{})
}

func sniffSpots(text []byte) format {
	if f := sniff(text); f == geojsonFormat || f == gpxFormat {
		return f
	}
	return csvFormat
}

// near says whether two checks are the same but for the last digits of their numbers.
func nearSpots(a, b []geo.SpotCheck) bool {
	words := func(list []geo.SpotCheck) string {
		var w strings.Builder
		for _, c := range list {
			c.File, c.Record = "", 0
			at := c.At
			c.At = nil
			join := c.Join
			c.Join = nil
			for _, l := range [][]geo.SpotValue{c.Ribs, c.Depths} {
				for k := range l {
					l[k].Value, l[k].At = math.Round(l[k].Value*1e9)/1e9, math.Round(l[k].At*1e9)/1e9
				}
			}
			for _, l := range [][]geo.SpotNamed{c.Burial, c.Seed} {
				for k := range l {
					l[k].Depth = math.Round(l[k].Depth*1e9) / 1e9
				}
			}
			c.Width = math.Round(c.Width*1e9) / 1e9
			if at != nil {
				fmt.Fprintf(&w, "%.12f %.12f ", at[0], at[1])
			}
			if join != nil {
				fmt.Fprintf(&w, "%v %.9f %v %d ", join.Left, join.Lap, join.Same, join.Other)
			}
			fmt.Fprintf(&w, "%+v\n", c)
		}
		return w.String()
	}
	return words(a) == words(b)
}

// What is written is read back, in English and in German.
func TestSpotsComeBack(t *testing.T) {
	bare := geo.SpotCheck{ID: "8", Cut: geo.IsSo}
	looked := geo.SpotCheck{ID: "9", Looked: true, Visit: 2, Untreated: true}
	for _, german := range []bool{false, true} {
		var b bytes.Buffer
		list := []geo.SpotCheck{fullSpot, bare, {ID: "10", Why: geo.SpotGap}, looked}
		if err := WriteSpots(&b, list, german); err != nil {
			t.Fatal(err)
		}
		got, findings, err := spotsIn(b.String())
		if err != nil || !nearSpots(got, []geo.SpotCheck{fullSpot, bare, looked}) {
			t.Errorf("german %v: %v\n got %+v\n of\n%s", german, err, got, b.String())
		}
		if len(findings) != 1 || findings[0].Lost || !strings.Contains(findings[0].What, "nothing is filled in at 1 of 4 places") {
			t.Errorf("german %v: %v", german, findings)
		}
	}
}

func TestSpotsInTheirWays(t *testing.T) {
	at := func(lon, lat float64) *orb.Point { return &orb.Point{lon, lat} }
	for name, c := range map[string]struct {
		text string
		want geo.SpotCheck
	}{
		"table, depths without places": {"id,lon,lat,depth_cm,ribs_cm\n3,11.5,48.1,4 4.5 3.5,0\n", geo.SpotCheck{ID: "3", At: at(11.5, 48.1), Cut: geo.IsSo, Depths: []geo.SpotValue{{At: -1, Value: 0.04}, {At: -1, Value: 0.045}, {At: -1, Value: 0.035}}}},
		"German, decimal commas":       {"Nummer;Lon;Lat;Tiefe (mm);Rippen (cm)\r\n3;11,5;48,1;40,5;1,20:5\r\n", geo.SpotCheck{ID: "3", At: at(11.5, 48.1), Depths: []geo.SpotValue{{At: -1, Value: 0.0405}}, Ribs: []geo.SpotValue{{At: 1.2, Value: 0.05}}}},
		"a gap is a lap below 0":       {"id,join_hand,gap_cm\n1,R,4\n", geo.SpotCheck{ID: "1", Join: &geo.SpotJoin{Lap: -0.04}}},
		"a note over two lines":        {"id,note\n1,\"one\ntwo\"\n", geo.SpotCheck{ID: "1", Note: "one\ntwo"}},
		"GeoJSON": {`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1,400]},"properties":{"id":4,"cut":true,"depth_cm":[4,5],"plants_m2":"dock:2@11","time":"2026-04-15T09:00:00Z"}}]}`,
			geo.SpotCheck{ID: "4", At: at(11.5, 48.1), Cut: geo.IsSo, Depths: []geo.SpotValue{{At: -1, Value: 0.04}, {At: -1, Value: 0.05}}, Plants: []geo.SpotPlants{{Kind: "dock", Amount: 2, Stage: 11}}, Looked: true, Time: time.Date(2026, 4, 15, 9, 0, 0, 0, time.UTC)}},
		"GPX with values": {`<gpx><wpt lat="48.1" lon="11.5"><name>5</name><time>2026-04-15T09:00:00Z</time><desc>cut=no; depth_cm=3 4
note=hard</desc></wpt></gpx>`, geo.SpotCheck{ID: "5", At: at(11.5, 48.1), Cut: geo.NotSo, Depths: []geo.SpotValue{{At: -1, Value: 0.03}, {At: -1, Value: 0.04}}, Note: "hard", Time: time.Date(2026, 4, 15, 9, 0, 0, 0, time.UTC)}},
		"GPX as it was given out, with what was seen": {`<gpx><wpt lat="48.1" lon="11.5"><name>5 · pass 16, section 3</name><desc>number: 1; chosen: drawn; pass: 16; section from the left: 3; from the bar&#39;s left end: 3.00 m; cut=yes</desc></wpt></gpx>`,
			geo.SpotCheck{ID: "5", At: at(11.5, 48.1), Why: geo.SpotDrawn, Pass: 16, Section: 3, Cut: geo.IsSo}},
		"GPX with words": {`<gpx><wpt lat="48.1" lon="11.5"><name>5</name><cmt>rib at the third sweep; wet</cmt></wpt></gpx>`, geo.SpotCheck{ID: "5", At: at(11.5, 48.1), Note: "rib at the third sweep; wet"}},
	} {
		got, findings, err := spotsIn(c.text)
		if err != nil || len(findings) > 0 || !nearSpots(got, []geo.SpotCheck{c.want}) {
			t.Errorf("%s: %v, %v\n got %+v\nwant %+v", name, err, findings, got, c.want)
		}
	}
}

// A bad record is left out with one message that says what and where; the others are read.
func TestBadSpots(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"depth in words":       {"id,depth_cm\n1,deep\n2,4\n", `record 2: "depth_cm": "deep": a number is wanted`},
		"depth in metres":      {"id,depth_cm\n1,4000\n2,4\n", "record 2: depth 40 m: must be from 0 to 1 m"},
		"no such answer":       {"id,cut\n1,maybe\n2,yes\n", `record 2: "cut": "maybe": must be yes or no`},
		"a rib beyond":         {"id,from_left_m,length_m,ribs_cm\n1,0,2,3.5:5\n2,0,2,1:5\n", "record 2: a rib at 3.5 m from the bar's left end lies outside"},
		"a rib without place":  {"id,ribs_cm\n1,5\n2,1:5\n", "record 2: \"ribs_cm\": a rib without its place"},
		"cut with ribs":        {"id,cut,ribs_cm\n1,yes,1:5\n2,no,1:5\n", "record 2: cut is yes, and 1 ribs are named"},
		"lap without its hand": {"id,lap_cm\n1,5\n", "a lap or gap, and not at which hand"},
		"swapped":              {"id,lon,lat,cut\n1,48.1,111.5,yes\n2,11.5,48.1,yes\n", "record 2: 48.1, 111.5 is no place: this looks like swapped lat/lon"},
		"one coordinate":       {"id,lon,lat,cut\n1,48.1,,yes\n2,11.5,48.1,yes\n", "record 2: longitude and latitude: one of them is missing"},
		"decimal comma":        {"id,depth_cm\n1,4,5\n2,4\n", "record 2: more fields than the 2 columns"},
		"a stage beyond BBCH":  {"id,plants_m2\n1,dock:2@120\n2,dock:2@12\n", "record 2: growth stage 120 of dock: must be from 0 to 99 (BBCH)"},
		"an open quote":        {"id,note\n1,fine\n2,\"open\n", "record 3: a quoted field does not end"},
		"GeoJSON line": {`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"LineString","coordinates":[[1,2],[3,4]]},"properties":{"cut":"yes"}},{"type":"Feature","geometry":null,"properties":{"id":"1","cut":"yes"}}]}`,
			`record 1: a "LineString", no Point`},
		"GPX without a place": {`<gpx><wpt lat="a" lon="11.5"><name>5</name></wpt><wpt lat="48" lon="11.5"><name>5</name><cmt>a</cmt></wpt></gpx>`, "a wpt without lat and lon"},
	} {
		got, findings, err := spotsIn(c.text)
		said := fmt.Sprint(findings, err)
		if !strings.Contains(said, c.want) || strings.Count(said, "left out") != 1 || err == nil && len(got) != 1 {
			t.Errorf("%s: %d read, %s", name, len(got), said)
		}
		if err == nil && !slices.ContainsFunc(findings, func(f geo.Finding) bool { return f.Lost && f.File == "spots" }) {
			t.Errorf("%s: nothing is said to be lost", name)
		}
	}
	for name, text := range map[string]string{"no column known": "a,b\n1,2\n", "nothing in it": "id,cut\n1,\n", "no XML": "<gpx><wpt lat=", "no JSON": `{"type":`, "empty": "\n"} {
		if got, _, err := spotsIn(text); err == nil || !strings.Contains(err.Error(), "spots") {
			t.Errorf("%s: %v, %v", name, got, err)
		}
	}
}

// Whatever is read keeps the limits of a check, and comes back when it is written.
func FuzzSpots(f *testing.F) {
	for _, german := range []bool{false, true} {
		var b bytes.Buffer
		if err := WriteSpots(&b, []geo.SpotCheck{fullSpot}, german); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Add([]byte("id,lon,lat,depth_cm,ribs_cm,gap_cm,join_hand\n3,11.5,48.1,4 4.5 3.5,1:5 2:3,2,left\n"))
	f.Add([]byte(`{"type":"Feature","geometry":{"type":"Point","coordinates":[11.5,48.1]},"properties":{"id":4,"cut":true,"depth_cm":[4,5],"plants_m2":"dock:2@11"}}`))
	f.Add([]byte(`<gpx><wpt lat="48.1" lon="11.5"><name>5</name><time>2026-04-15T09:00:00Z</time><desc>cut=no; seed_cm=coarse:3 | fine:1</desc></wpt></gpx>`))
	f.Fuzz(func(t *testing.T, text []byte) {
		list, findings, err := spotsOf(bytes.NewReader(text), "spots", sniffSpots(text), SpotOptions{})
		if err != nil {
			if list != nil || findings != nil || err.Error() == "" {
				t.Fatalf("an error, and %d checks, %d findings: %v", len(list), len(findings), err)
			}
			return
		}
		for _, c := range list {
			if err := c.Validate(); err != nil {
				t.Fatal(err)
			}
		}
		for _, german := range []bool{false, true} {
			var b bytes.Buffer
			if err := WriteSpots(&b, list, german); err != nil {
				t.Fatal(err)
			}
			again, _, err := spotsOf(bytes.NewReader(b.Bytes()), "spots", csvFormat, SpotOptions{})
			if err != nil {
				t.Fatalf("%v of\n%s", err, b.String())
			}
			if len(again) != len(list) {
				t.Fatalf("%d of %d come back of\n%s", len(again), len(list), b.String())
			}
			for k := range list {
				a, b := list[k], again[k]
				if a.ID != b.ID || a.Cut != b.Cut || a.Why != b.Why || len(a.Ribs) != len(b.Ribs) || len(a.Plants) != len(b.Plants) || a.Note != b.Note || a.Pass != b.Pass || (a.Join == nil) != (b.Join == nil) || !reflect.DeepEqual(a.Smeared, b.Smeared) || !a.Time.Equal(b.Time) {
					t.Fatalf("german %v: %+v comes back as %+v", german, a, b)
				}
			}
		}
	})
}
