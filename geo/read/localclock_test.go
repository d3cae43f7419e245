package read

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"balk/geo"
)

// Clocks of Europe/Berlin are put back on 2026-10-25 at 3:00 (01:00 UTC) and forward on
// 2026-03-29 at 2:00 (01:00 UTC): directive 2000/84/EC, last Sundays of October and March at 1:00 UTC.
func TestLocalTimesOfALog(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		times []string
		utc   []string
		say   string
	}{
		{"in summer", []string{"2026-04-14 15:40:00"}, []string{"13:40:00"}, "taken as local time in Europe/Berlin"},
		{"in winter", []string{"2026-12-14 15:40:00"}, []string{"14:40:00"}, ""},
		{"with a zone beside it", []string{"2026-04-14T15:40:00Z", "2026-04-14T15:40:10+02:00"}, []string{"15:40:00", "13:40:10"}, ""},
		{"over the hour that comes twice", []string{"2026-10-25 01:59:50", "2026-10-25 02:29:00", "2026-10-25 02:58:00", "2026-10-25 02:00:00", "2026-10-25 02:30:00", "2026-10-25 03:00:00"},
			[]string{"23:59:50", "00:29:00", "00:58:00", "01:00:00", "01:30:00", "02:00:00"}, ""},
		{"a fix a second out of turn there", []string{"2026-10-25 01:59:59", "2026-10-25 02:00:01", "2026-10-25 02:00:00"}, []string{"23:59:59", "00:00:01", "00:00:00"}, ""},
		{"begun within it", []string{"2026-10-25 02:10:00", "2026-10-25 02:11:00"}, []string{"00:10:00", "00:11:00"}, "the log does not tell in which"},
		{"begun within it, and put back", []string{"2026-10-25 02:52:00", "2026-10-25 02:59:59", "2026-10-25 02:00:00", "2026-10-25 02:30:00", "2026-10-25 03:00:00"}, []string{"00:52:00", "00:59:59", "01:00:00", "01:30:00", "02:00:00"}, ""},
		{"begun within it in two years, and put back in the second", []string{"2025-10-26 02:10:00", "2025-10-26 12:00:00", "2026-10-25 02:52:00", "2026-10-25 02:00:00"}, []string{"00:10:00", "11:00:00", "00:52:00", "01:00:00"}, "the log does not tell in which"},
		{"begun within it, and a year later driven through it", []string{"2025-10-26 02:10:00", "2025-10-28 12:00:00", "2026-10-25 01:59:00", "2026-10-25 02:20:00", "2026-10-25 02:00:00"}, []string{"00:10:00", "11:00:00", "23:59:00", "00:20:00", "01:00:00"}, "the log does not tell in which"},
		{"begun long before it", []string{"2026-10-25 00:10:00", "2026-10-25 02:11:00"}, []string{"22:10:00", "00:11:00"}, "the log does not tell in which"},
		{"in the hour left out", []string{"2026-03-29 01:59:59", "2026-03-29 02:30:00", "2026-03-29 03:00:00"}, []string{"00:59:59", "01:30:00", "01:00:00"}, "leave out"},
	} {
		var table, points strings.Builder
		table.WriteString("lon,lat,time\n")
		for i, at := range c.times {
			fmt.Fprintf(&table, "11.%03d,48.1,%s\n", i, at)
			fmt.Fprintf(&points, `,{"type":"Feature","properties":{"time":%q},"geometry":{"type":"Point","coordinates":[11.%03d,48.1]}}`, at, i)
		}
		o := TrackOptions{Zone: berlin}
		tracks, inTable, err := CSVTracks(strings.NewReader(table.String()), "t.csv", o)
		if err != nil {
			t.Fatal(c.name, err)
		}
		more, inPoints, err := GeoJSONTracks(strings.NewReader(`{"type":"FeatureCollection","features":[`+points.String()[1:]+`]}`), "t.geojson", o)
		if err != nil {
			t.Fatal(c.name, err)
		}
		tracks = append(tracks, more...)
		for _, track := range tracks {
			flat := track.Line.FlatCoords()
			for i, want := range c.utc {
				if clock := time.Unix(int64(flat[3*i+2]), 0).UTC().Format("15:04:05"); clock != want {
					t.Errorf("%s, %s: %s is %s UTC, want %s", c.name, track.Source, c.times[i], clock, want)
				}
			}
		}
		for _, found := range [][]geo.Finding{inTable, inPoints} {
			if text := fmt.Sprint(found); !strings.Contains(text, c.say) || c.say == "" && strings.Contains(text, "does not tell") || strings.Contains(text, "first (2 times") {
				t.Errorf("%s: said %s, want %q", c.name, text, c.say)
			}
		}
	}
}

// Without a zone times stand as they are, and it is said how to name one.
func TestTimesWithoutZone(t *testing.T) {
	tracks, found, err := CSVTracks(strings.NewReader("lon,lat,date,time\n11,48,14.04.2026,15:40\n11.001,48,14.04.2026,15:41\n"), "t.csv", TrackOptions{})
	if err != nil || !strings.Contains(fmt.Sprint(found), "taken as UTC (--log-zone names its zone) (2 times") {
		t.Fatalf("%v, %v", found, err)
	}
	if at := time.Unix(int64(tracks[0].Line.FlatCoords()[2]), 0).UTC(); at.Format(time.RFC3339) != "2026-04-14T15:40:00Z" {
		t.Error(at)
	}
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	// The second line shows that the month comes first: the days before are turned, with the zone of
	// the day they become (5 June, not 6 May: both summer; 1 November, not 11 January: winter both; 3 July, not 7 March).
	// With more than one line before it, those too, and their places stay.
	tracks, _, err = CSVTracks(strings.NewReader("lon,lat,time\n11,48,07/03/2026 12:00\n11.001,48,07/04/2026 12:00\n11.002,48,07/05/2026 12:00\n11.003,48,07/31/2026 12:00\n"), "t.csv", TrackOptions{Zone: berlin})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"2026-07-03T10:00:00Z", "2026-07-04T10:00:00Z", "2026-07-05T10:00:00Z", "2026-07-31T10:00:00Z"} {
		fix := tracks[0].Line.FlatCoords()[3*i:]
		if at := time.Unix(int64(fix[2]), 0).UTC().Format(time.RFC3339); at != want || math.Abs(fix[0]-11-0.001*float64(i)) > 1e-12 || fix[1] != 48 {
			t.Errorf("fix %d at %s, %v, want %s", i+1, at, fix[:2], want)
		}
	}
}
