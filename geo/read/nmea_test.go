package read

import (
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"balk/geo"
)

// signed is a sentence with its checksum.
func signed(body string) string { return fmt.Sprintf("$%s*%02X\r\n", body, xorOf([]byte(body))) }

func nmeaOf(t *testing.T, text string) (geo.Track, string) {
	t.Helper()
	tracks, findings, err := NMEATracks(strings.NewReader(text), "log.nmea")
	if err != nil {
		t.Fatal(err)
	}
	if len(tracks) != 1 {
		t.Fatalf("%d tracks", len(tracks))
	}
	return tracks[0], fmt.Sprint(findings)
}

// The 12 published sentences with their values: 53°21.6802′ N is 53.361337°.
func TestPublishedSentences(t *testing.T) {
	tracks, findings, err := tracksOf(filepath.Join("..", "..", "testdata", "check", "nmea", "sentences.txt"))
	if err != nil {
		t.Fatal(err)
	}
	k := tracks[0]
	want := []struct {
		lon, lat, seconds, hdop float64
		quality                 geo.Quality
		knots, course           float64
	}{
		{-6.5056200, 53.3613367, 1306488470, 1.03, geo.QualitySingle, -1, 0}, // 2011-05-27 09:27:50, date from the first RMC after it, which is after midnight
		{-6.5056183, 53.3613367, 1306488471, 1.03, geo.QualitySingle, -1, 0},
		{11.5166667, 48.1173000, 1306499719, 0.9, geo.QualitySingle, -1, 0},              // 12:35:19
		{-122.0378263, 37.3910980, 1306517294, 1.2, geo.QualityDifferential, -1, 0},      // 17:28:14
		{-123.1853333, 49.2741667, 1306536884, math.NaN(), geo.QualityUnknown, -1, 0},    // GLL 22:54:44
		{-6.5056200, 53.3613367, 1306574870, math.NaN(), geo.QualitySingle, 0.02, 31.66}, // RMC 280511 from here
		{-6.5056183, 53.3613367, 1306574871, math.NaN(), geo.QualitySingle, 0.06, 31.66},
		{11.5166667, 48.1173000, 764426119, math.NaN(), geo.QualityUnknown, 22.4, 84.4},   // 1994-03-23 12:35:19
		{-0.7040000, 51.5636667, 771545116, math.NaN(), geo.QualityUnknown, 5.5076, 54.7}, // 1994-06-13 22:05:16; VTG 010.2 km/h, 054.7° follows
	}
	if k.Fixes() != len(want) {
		t.Fatalf("%d fixes, want %d: %v", k.Fixes(), len(want), findings)
	}
	for i, w := range want {
		f := k.Line.FlatCoords()[3*i:]
		if math.Abs(f[0]-w.lon) > 5e-8 || math.Abs(f[1]-w.lat) > 5e-8 || math.Abs(f[2]-w.seconds) > 1e-6 {
			t.Errorf("fix %d: %.7f %.7f %.3f, want %.7f %.7f %.3f", i+1, f[0], f[1], f[2], w.lon, w.lat, w.seconds)
		}
		if k.Quality[i] != w.quality || !close9(k.HDOP[i], w.hdop) {
			t.Errorf("fix %d: quality %d, HDOP %g, want %d and %g", i+1, k.Quality[i], k.HDOP[i], w.quality, w.hdop)
		}
		if w.knots >= 0 && (math.Abs(k.Speed[i]*3600/1852-w.knots) > 1e-4 || float64(k.Heading[i]) != w.course) {
			t.Errorf("fix %d: %g kn, %g°, want %g and %g", i+1, k.Speed[i]*3600/1852, k.Heading[i], w.knots, w.course)
		}
		if w.knots < 0 && (!math.IsNaN(k.Speed[i]) || !math.IsNaN(float64(k.Heading[i]))) {
			t.Errorf("fix %d: speed %g, heading %g, want none", i+1, k.Speed[i], k.Heading[i])
		}
	}
	for _, f := range findings {
		t.Error("finding", f)
	}
}

func TestNMEALogs(t *testing.T) {
	gga := func(clock, lat string, quality int) string {
		return signed(fmt.Sprintf("GNGGA,%s,%s,N,01131.00000,E,%d,12,0.7,545.4,M,46.9,M,,", clock, lat, quality))
	}
	day := signed("GNZDA,235958.00,31,12,2023,00,00")
	const newYear = 1704067200 // 2024-01-01: date -u -d 2024-01-01 +%s
	for _, c := range []struct {
		name, text string
		seconds    []float64
		finding    string
	}{
		{"over midnight, date first", day + gga("235959.50", "4807.00000", 4) + gga("000000.50", "4807.00100", 4), []float64{newYear - .5, newYear + .5}, ""},
		{"over midnight, date last", gga("235958.00", "4807.00000", 4) + gga("000001.00", "4807.00100", 4) + signed("GNZDA,000001.00,01,01,2024,00,00"), []float64{newYear - 2, newYear + 1}, ""},
		{"one late sentence over midnight", day + gga("235959.50", "4807.00000", 4) + gga("000000.50", "4807.00000", 4) + gga("235959.75", "4807.00000", 4) + gga("000001.50", "4807.00000", 4), []float64{newYear - .5, newYear + .5, newYear - .25, newYear + 1.5}, ""},
		{"no date", gga("000010.00", "4807.00000", 4), []float64{10}, "no date in it"},
		{"a date between the fixes of a day", gga("120000.00", "4807.00000", 4) + signed("GNRMC,120001.00,A,4807.00000,N,01131.00000,E,1.0,2.0,010124,,,R"), []float64{newYear + 43200, newYear + 43201}, ""},
		{"an empty RMC of a cold receiver", signed("GNRMC,,V,,,,,,,,,,N") + day + gga("235959.00", "4807.00000", 4), []float64{newYear - 1}, "a time without position"},
		{"rubbish between", "\x01\x02\xff rubbish\n" + day + gga("235959.00", "4807.00000", 4)[:20] + gga("235959.00", "4807.00000", 4) + "boot 3.1\r\n", []float64{newYear - 1}, "a line without a sentence is passed over (2 times, here first)"},
		{"a prefix before the sentence", "12:00 " + day + "12:01 " + gga("235959.00", "4807.00000", 4), []float64{newYear - 1}, ""},
		{"wrong checksums", day + strings.Replace(gga("235959.00", "4807.00000", 4), "4807", "4808", 1) + strings.Replace(gga("235959.20", "4807.00000", 4), "4807", "4809", 1) + gga("235959.40", "4807.00000", 4), []float64{newYear - .6}, "record 2: a wrong checksum: sentence left out (2 times, here first)"},
		{"no checksums at all", "$GPZDA,235958,31,12,2023,,\n$GPGGA,235959,4807.00000,N,01131.00000,E,1,8,1,,,,,,\n", []float64{newYear - 1}, "without checksum is taken as it is (2 times"},
		{"a sentence without checksum in a log that has them", day + gga("235959.00", "4807.00000", 4) + "$GPGGA,235959.50,4807.0\r\n" + gga("235959.60", "4807.00000", 4), []float64{newYear - 1, newYear - .4}, "record 3: a sentence without checksum in a log that has them"},
		{"broken off", day + gga("235959.00", "4807.00000", 4) + gga("235959.50", "4807.00000", 4)[:40], []float64{newYear - 1}, "record 3: the file breaks off in this sentence"},
		{"minutes that are none", day + gga("235959.00", "4807.00000", 4) + gga("235959.50", "4861.00000", 4), []float64{newYear - 1}, "a position that is not understood"},
	} {
		t.Run(c.name, func(t *testing.T) {
			k, findings := nmeaOf(t, c.text)
			var got []float64
			for i := 2; i < len(k.Line.FlatCoords()); i += 3 {
				got = append(got, k.Line.FlatCoords()[i])
			}
			if len(got) != len(c.seconds) {
				t.Fatalf("times %v, want %v; %s", got, c.seconds, findings)
			}
			for i := range got {
				if math.Abs(got[i]-c.seconds[i]) > 1e-6 {
					t.Errorf("times %f, want %f", got, c.seconds)
				}
			}
			if c.finding == "" && findings != "[]" || !strings.Contains(findings, c.finding) {
				t.Errorf("findings %s, want %q", findings, c.finding)
			}
		})
	}
}

// What is left out of a log is lost, what is taken all the same is not.
func TestSentencesLost(t *testing.T) {
	day, fix := signed("GNZDA,235958.00,31,12,2023,00,00"), "GNGGA,235959.00,4807.00000,N,01131.00000,E,4,12,0.7,545.4,M,46.9,M,,"
	for what, c := range map[string]struct {
		text string
		lost bool
	}{
		"a wrong checksum: sentence left out":                          {day + signed(fix) + "$" + fix + "*00\r\n", true},
		"the file breaks off in this sentence: left out":               {day + signed(fix) + signed(fix)[:40], true},
		"a sentence without checksum in a log that has them: left out": {day + signed(fix) + "$" + fix + "\r\n", true},
		"a sentence without checksum is taken as it is":                {"$GPZDA,235958,31,12,2023,,\r\n$" + fix + "\r\n", false},
		"what follows a $ is no sentence and passed over":              {day + signed(fix) + "$+\r\n", false},
	} {
		_, findings, err := NMEATracks(strings.NewReader(c.text), "log.nmea")
		if f := found(findings, what); err != nil || f == nil || f.Lost != c.lost {
			t.Errorf("%q: %v, %v, want it, and lost %v", what, findings, err, c.lost)
		}
	}
}

func TestNMEAColumns(t *testing.T) {
	fix := func(clock string, quality int) string {
		return signed(fmt.Sprintf("GPGGA,%s,4807.0380001,N,01131.0000002,E,%d,12,0.7,545.4,M,46.9,M,,", clock, quality))
	}
	rmc := func(clock string) string {
		return signed("GPRMC," + clock + ",A,4807.0380,N,01131.0000,E,2.0,90.0,010124,,,A")
	}
	turn := func(heading string) string { return signed("GPHDT," + heading + ",T") }
	const vtg = "GPVTG,91.0,T,,M,3.9,N,7.2,K,D"
	k, findings := nmeaOf(t, turn("10.0")+rmc("120000.0")+fix("120000.0", 4)+turn("11.0")+fix("120000.1", 5)+rmc("120000.1")+signed("GPGST,120000.1,0.1,0.1,0.1,0,0.01,0.01,0.02"))
	if findings != "[]" || !reflect.DeepEqual(k.Quality, []geo.Quality{geo.QualityFixed, geo.QualityFloat}) || !reflect.DeepEqual(k.Heading, []geo.Bearing{10, 11}) {
		t.Errorf("heading before its fix: %v %v %s", k.Quality, k.Heading, findings)
	}
	if f := k.Line.FlatCoords(); math.Abs(f[1]-(48+7.0380001/60)) > 1e-12 {
		t.Errorf("latitude %.10f: the position of GGA goes before that of RMC", f[1])
	}
	k, findings = nmeaOf(t, fix("120000.0", 2)+rmc("120000.0")+signed(vtg)+turn("12.0")+fix("120000.1", 1)+rmc("120000.1"))
	if findings != "[]" || fmt.Sprint(k.Heading) != "[12 NaN]" || k.Course || !close9(k.Speed[0], 2) || !close9(k.Speed[1], 2*1852/3600.) {
		t.Errorf("heading after its fix: %v %v %s", k.Heading, k.Speed, findings)
	}
}
