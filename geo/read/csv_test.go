package read

import (
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"balk/geo"
	"balk/testdata/check"
)

func csvOf(t *testing.T, text string) ([]geo.Track, string) {
	t.Helper()
	tracks, findings, err := CSVTracks(strings.NewReader(text), "log.csv", TrackOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return tracks, fmt.Sprint(findings)
}

// close9 says whether two numbers agree to 1e-9, NaN with NaN.
func close9(a, b float64) bool { return math.Abs(a-b) < 1e-9 || math.IsNaN(a) && math.IsNaN(b) }

// mayDay is 2024-05-31 17:30:15 UTC: date -u -d '2024-05-31 17:30:15' +%s.
const mayDay = 1717176615

func TestTablesInTheirWays(t *testing.T) {
	for _, c := range []struct {
		name, text string
		seconds    float64
		speed      float64 // m/s
		width      float64 // m
		finding    string
	}{
		{"comma, ISO, km/h, feet", "lon,lat,time,speed_kmh,swath_ft\n11.5,48.1,2024-05-31T17:30:15Z,7.2,10\n", mayDay, 2, 3.048, ""},
		{"semicolon, decimal comma, day first", "Longitude;Latitude;Time UTC;Speed (km/h);Width [mm]\r\n11,5;48,1;31.05.2024 17:30:15;7,2;3048\r\n", mayDay, 2, 3.048, ""},
		{"tab, epoch seconds, m/s, inches", "LAT\tLON\tTIMESTAMP\tSpeed (m/s)\tswath_in\n48.1\t11.5\t1717176615\t2\t120\n", mayDay, 2, 3.048, ""},
		{"byte order mark, milliseconds, mph", "\ufefflatitude,longitude,gps_time,speed_mph,width_m\n48.1,11.5,1717176615000,4.4738725841,3.048\n", mayDay, 2, 3.048, ""},
		{"quoted fields and a decimal comma in them", "\"lon\",\"lat\",\"note\",\"time\",\"speed_ms\",\"width_m\"\n\"11,5\",\"48,1\",\"a \"\"wet\"\", low\nplace\",2024-05-31 17:30:15Z,2,\"3,048\"\n", mayDay, 2, 3.048, ""},
		{"serial date of a spreadsheet", "lon;lat;time;speed_kmh;width_m\n11.5;48.1;45443.7293402778;7.2;3.048\n", mayDay, 2, 3.048, "serial dates"},
		{"date and time of day apart", "lon,lat,date,time,speed_kmh,width_m\n11.5,48.1,31/05/2024,17:30:15,7.2,3.048\n", mayDay, 2, 3.048, "without zone"},
		{"serial date and part of a day", "lon,lat,date,time,speed_kmh,width_m\n11.5,48.1,45443,0.729340278,7.2,3.048\n", mayDay, 2, 3.048, "without zone"},
		{"a date with midnight, and a time of day", "lon,lat,date,time,speed_kmh,width_m\n11.5,48.1,2024-05-31 00:00:00,17:30:15,7.2,3.048\n", mayDay, 2, 3.048, "without zone"},
		{"a date, and a time that has it too", "lon,lat,time,date,speed_kmh,width_m\n11.5,48.1,1717176615,2024-05-31,7.2,3.048\n", mayDay, 2, 3.048, ""},
		{"time without zone", "lon,lat,time,speed_kmh,width_m\n11.5,48.1,2024-05-31 17:30:15,7.2,3.048\n", mayDay, 2, 3.048, "without zone"},
		{"half past five in the afternoon", "lon,lat,time utc,speed_kmh,width_m\n11.5,48.1,31/5/2024 5:30:15 PM,7.2,3.048\n", mayDay, 2, 3.048, ""},
		{"month first, because there is no month 31", "lon,lat,time utc,speed_kmh,width_m\n11.5,48.1,05/31/2024 17:30:15,7.2,3.048\n", mayDay, 2, 3.048, "month first"},
		{"a delimiter said before", "sep=;\r\nlon;lat;time;speed_kmh;width_m\r\n11.5;48.1;2024-05-31T19:30:15+02:00;7.2;3.048\r\n", mayDay, 2, 3.048, ""},
		{"knots", "lon,lat,time,speed_kn,width_cm\n11.5,48.1,20240531T17:30:15Z,3.8876889849,304.8\n", mayDay, 2, 3.048, ""},
		{"an empty field too many", "lon,lat,time,speed_kmh,width_m\n11.5,48.1,1717176615,7.2,3.048,\n", mayDay, 2, 3.048, ""},
		{"values not logged", "lon,lat,time,speed_kmh,width_m\n11.5,48.1,,NA,-\n", math.NaN(), math.NaN(), math.NaN(), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			tracks, findings := csvOf(t, c.text)
			if len(tracks) != 1 || tracks[0].Fixes() != 1 {
				t.Fatalf("%d tracks: %s", len(tracks), findings)
			}
			k := tracks[0]
			flat := k.Line.FlatCoords()
			if flat[0] != 11.5 || flat[1] != 48.1 || !(math.Abs(flat[2]-c.seconds) < 1e-3 || math.IsNaN(flat[2]) && math.IsNaN(c.seconds)) {
				t.Errorf("fix %v, want 11.5 48.1 %f", flat, c.seconds)
			}
			if math.IsNaN(c.speed) {
				if k.Speed != nil || k.Width != nil {
					t.Errorf("speed %v, width %v, want none", k.Speed, k.Width)
				}
			} else if math.Abs(k.Speed[0]-c.speed) > 1e-8 || !close9(k.Width[0], c.width) {
				t.Errorf("speed %v, width %v, want %g and %g", k.Speed, k.Width, c.speed, c.width)
			}
			if c.finding == "" && findings != "[]" || !strings.Contains(findings, c.finding) {
				t.Errorf("findings %s, want %q", findings, c.finding)
			}
		})
	}
}

func TestTableColumns(t *testing.T) {
	tracks, findings := csvOf(t, "lon,lat,work_state,heading,quality,hdop,pass\n1,2,1,90,4,0.8,a\n1,3,0,-10,RTK float,,a\n1,4,,,7,1,b\n")
	k := tracks[0]
	if findings != "[]" || !reflect.DeepEqual(k.State, []geo.WorkState{geo.Working, geo.Lifted, geo.StateUnknown}) ||
		!reflect.DeepEqual(k.Quality, []geo.Quality{geo.QualityFixed, geo.QualityFloat, geo.QualityEstimated}) ||
		k.Heading[0] != 90 || k.Heading[1] != -10 || !math.IsNaN(float64(k.Heading[2])) ||
		k.HDOP[0] != 0.8 || !math.IsNaN(k.HDOP[1]) || k.HDOP[2] != 1 {
		t.Errorf("%+v, %s", k, findings)
	}
	if ends := k.Line.Ends(); !reflect.DeepEqual(ends, []int{6, 9}) {
		t.Errorf("parts end at %v, want 6 and 9: a changed pass begins one", ends)
	}
	tracks, _ = csvOf(t, "lon,lat,section\n1,2,A\n3,4,B\n1,2.1,A\n3,4.1,B\n")
	if len(tracks) != 2 || tracks[0].Name != "section A" || !reflect.DeepEqual(tracks[1].Line.FlatCoords()[:2], []float64{3, 4}) || tracks[1].Fixes() != 2 {
		t.Errorf("sections: %+v", tracks)
	}
}

func TestTableOddities(t *testing.T) {
	for _, c := range []struct {
		name, text string
		fixes      int
		finding    string // "": none
		record     int
	}{
		{"a speed without unit", "lon,lat,speed\n1,2,3\n", 1, `column "speed" says no unit`, 1},
		{"a swath without unit", "lon,lat,swath\n1,2,360\n", 1, `column "swath" says no unit`, 1},
		{"a line without a place", "lon,lat\n1,2\n,\n1,3\n", 2, "without longitude and latitude", 3},
		{"no number", "lon,lat\n1,2\n1,north\n", 1, `latitude "north" is no number`, 3},
		{"a bad width", "lon,lat,width_m\n1,2,3\n1,2,900\n1,2,x\n", 3, `width "900" is not understood or out of range (2 times`, 3},
		{"fields too many", "lon,lat\n1,2\n11,5,48,1\n", 1, "more fields than the 2 columns", 3},
		{"broken off", "lon,lat,time\n1,2,5\n1,3", 1, "breaks off in this line, with 2 of 3 fields", 3},
		{"broken off in the place", "time,lon,lat\n5,1.5,2.25\n6,1.5,2.2", 1, "with 1 of 2 decimals of the latitude", 3},
		{"no line feed at the end", "time,lon,lat\n5,1.5,2.25\n6,1.5,2.27", 2, "", 0},
		{"broken off in quotes", "lon,lat,time\n1,2,5\n1,2,\"202", 1, "breaks off in this line", 3},
		{"a quote that does not end", "lon,lat,note\n1,2,\"5\n1,3,a\n1,4,b\n", 2, "quoted field that does not end", 2},
		{"outside", "lon,lat\n1,2\n1,3\n1,4\n1000,1\n", 3, "1 of 4 fixes left out", 0},
		{"two columns for one thing", "lon,lat,longitude\n1,2,3\n", 1, `"longitude" is not used`, 1},
		{"day and month turned", "lon,lat,time utc\n1,2,05/06/2024 10:00\n1,2,05/13/2024 10:00\n", 2, "month first", 0},
		{"a date alone", "lon,lat,date\n1,2,2024-05-31\n", 1, "a date without a time of day", 2},
		{"names not known", "Dato,Klokke,lon,lat,Plog\n1.9.2025,06:00:00,1,2,ja\n", 1, `not understood are "Dato", "Klokke", "Plog"`, 1},
		{"names in German, cut short", "Datum;Uhrzeit;Geogr. Länge;Geogr. Breite;Arbeit\n1.9.2025;06:00:00;1,5;2,5;ja\n", 1, "a time without zone", 2},
		{"names in German", "Datum;Uhrzeit;Längengrad;Breitengrad;Arbeit\n1.9.2025;06:00:00;1,5;2,5;ja\n", 1, "a time without zone", 2},
		{"names not known beside a time", "time,lon,lat,rate\n2024-05-31T10:00:00Z,1,2,3\n", 1, "", 0},
		{"empty lines", "\n\nlon,lat\n\n1,2\n\n", 1, "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			tracks, findings, err := CSVTracks(strings.NewReader(c.text), "log.csv", TrackOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if len(tracks) != 1 || tracks[0].Fixes() != c.fixes {
				t.Errorf("%d tracks, %d fixes, want %d", len(tracks), tracks[0].Fixes(), c.fixes)
			}
			if c.finding == "" {
				if len(findings) > 0 {
					t.Error(findings)
				}
				return
			}
			for _, f := range findings {
				if strings.Contains(f.What, c.finding) && (c.record == 0 || f.Record == c.record) {
					return
				}
			}
			t.Errorf("%v, want %q in record %d", findings, c.finding, c.record)
		})
	}
	tracks, _ := csvOf(t, "lon,lat,time utc\n1,2,05/06/2024 10:00\n1,2,05/13/2024 10:00\n")
	if f := tracks[0].Line.FlatCoords(); f[5]-f[2] != 7*86400 {
		t.Errorf("6 and 13 May are %g s apart, want 604800", f[5]-f[2])
	}
}

func TestColumnsByHand(t *testing.T) {
	for _, c := range []struct {
		name, text string
		columns    map[string]string
		fault      string
	}{
		{"by name", "X,Y,v\n11.5,48.1,7.2\n", map[string]string{"lon": "X", "lat": "y", "speed_kmh": "v"}, ""},
		{"by number", "X,Y,v\n11.5,48.1,7.2\n", map[string]string{"lon": "1", "lat": "2", "speed_kmh": "3"}, ""},
		{"by number, without a line of names", "11.5,48.1,7.2\n", map[string]string{"lon": "1", "lat": "2", "speed_kmh": "3"}, ""},
		{"against the names", "lat,lon,speed\n11.5,48.1,7.2\n", map[string]string{"lon": "lat", "lat": "lon", "speed_kmh": "speed"}, ""},
		{"a column that is not there", "X,Y\n1,2\n", map[string]string{"lon": "X", "lat": "Z"}, `no column "Z" for lat: there are "X", "Y"`},
		{"a meaning that is none", "X,Y\n1,2\n", map[string]string{"lon": "X", "colour": "Y"}, `"colour" is not known`},
		{"no latitude", "lon,Y\n1,2\n", nil, "no column for the latitude"},
		{"no latitude, hint", "lon,Y\n1,2\n", nil, "say which column it is"},
		{"on a map without its system", "Datum;Rechtswert;Hochwert\n14.04.2026;691336,0;5334627,0\n", nil, "as in --crs 25832"},
		{"nothing in it", "lon,lat\n", nil, "no track in it"},
		{"nowhere", "lon,lat\n1,200\n", nil, "1 of 1 fixes are outside"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tracks, _, err := CSVTracks(strings.NewReader(c.text), "log.csv", TrackOptions{Columns: c.columns})
			if c.fault != "" {
				if err == nil || !strings.Contains(err.Error(), c.fault) || tracks != nil {
					t.Fatalf("%v, want %q", err, c.fault)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if f := tracks[0].Line.FlatCoords(); f[0] != 11.5 || f[1] != 48.1 || !close9(tracks[0].Speed[0], 2) {
				t.Errorf("%v %v, want 11.5 48.1 and 2 m/s", f, tracks[0].Speed)
			}
		})
	}
}

func TestOpenTables(t *testing.T) {
	dir := check.Shared(t, "open")
	find := func(name string) ([]geo.Track, string) {
		tracks, findings, err := tracksOf(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return tracks, fmt.Sprint(findings)
	}
	tracks, findings := find("seeding_ca_2019_1hz.csv")
	n := 0
	for _, k := range tracks {
		n += k.Fixes()
	}
	if findings != "[]" || len(tracks) != 4 || n != 23047 {
		t.Errorf("seeding: %d tracks, %d fixes, %s", len(tracks), n, findings)
	}
	if k := tracks[0]; !close9(k.Width[0], 31.5*0.3048) || k.Heading[0] != 230.533 || k.Line.FlatCoords()[2] != 1557029944.2 { // date -u -d 2019-05-05T04:19:04.2Z
		t.Errorf("seeding begins with %g m, %g°, %f s", k.Width[0], k.Heading[0], k.Line.FlatCoords()[2])
	}
	tracks, findings = find("combine_us_corn_3s.csv")
	if k := tracks[0]; k.Fixes() != 4949 || k.Width != nil || k.Line.FlatCoords()[2] != 1004549898 || !strings.Contains(findings, `"Swath" says no unit`) {
		t.Errorf("combine: %d fixes, width %v, %s", k.Fixes(), k.Width, findings)
	}
	tracks, _, err := Tracks(filepath.Join(dir, "combine_us_corn_3s.csv"), TrackOptions{Columns: map[string]string{"width_in": "Swath"}})
	if err != nil || !close9(tracks[0].Width[0], 9.144) {
		t.Errorf("combine with its unit: %v, want 9.144 m", err)
	}
	for name, want := range map[string]int{"TLG00004": 2496, "TLG00009": 4497, "TLG00021": 2416} {
		tracks, findings = find(filepath.Join("isobus", name+".csv"))
		if k := tracks[0]; k.Fixes() != want || k.Width[0] != 9 || len(k.State) != want || findings != "[]" {
			t.Errorf("%s: %d fixes, width %v, %s", name, k.Fixes(), k.Width[0], findings)
		}
	}
}

// Times of day as people write them: midnight is 12 AM, noon 12 PM.
func TestTimesOfDay(t *testing.T) {
	for _, c := range []struct {
		text    string
		seconds float64 // -1: refused
	}{
		{"12:00 AM", 0}, {"12:30:15 am", 1815}, {"1:00 AM", 3600}, {"11:59:59 AM", 43199},
		{"12:00 PM", 43200}, {"12:30 pm", 45000}, {"1:00 PM", 46800}, {"11:59:59 PM", 86399},
		{"00:00", 0}, {"9:05", 32700}, {"09:05:07.5", 32707.5}, {"23:59:59", 86399},
		{"0:30 AM", -1}, {"13:00 PM", -1}, {"5:30 xm", -1}, {"5:30:00Z PM", -1},
	} {
		got, _, ok := clockText([]byte(c.text))
		if ok != (c.seconds >= 0) || ok && got != c.seconds {
			t.Errorf("%q: %g s, understood %v; want %g", c.text, got, ok, c.seconds)
		}
	}
}
