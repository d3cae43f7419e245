package read

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/geo"
)

func weatherFile(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "station.csv")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestWeather(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(s string) int64 {
		v, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return v.Unix()
	}
	no := math.NaN()
	for name, c := range map[string]struct {
		text  string
		o     WeatherOptions
		want  []geo.Weather
		finds string
	}{
		"hours, each stamped at its end": {
			"time,temp_C,humidity_%,wind_m_s,radiation_W/m2,rain_mm\n2026-05-04T10:00:00Z,12.5,80,2,500,0\n2026-05-04T11:00:00Z,13,75,3,1000,0.4\n", WeatherOptions{},
			[]geo.Weather{air(at("2026-05-04T09:00:00Z"), at("2026-05-04T10:00:00Z"), 12.5, no, no, 80, no, no, 2, 1.8, no, 0), air(at("2026-05-04T10:00:00Z"), at("2026-05-04T11:00:00Z"), 13, no, no, 75, no, no, 3, 3.6, no, 0.4)}, "",
		},
		"hours, each stamped at its begin": {
			"time,temp_C\n2026-05-04T10:00:00Z,12\n2026-05-04T11:00:00Z,13\n", WeatherOptions{Begin: true},
			[]geo.Weather{air(at("2026-05-04T10:00:00Z"), at("2026-05-04T11:00:00Z"), 12, no, no, no, no, no, no, no, no, no), air(at("2026-05-04T11:00:00Z"), at("2026-05-04T12:00:00Z"), 13, no, no, no, no, no, no, no, no, no)}, "no column for the rain",
		},
		"days of a place, one of them with a clock put forward, in German": {
			"Datum;Tmin;Tmax;Windgeschwindigkeit (km/h);Globalstrahlung (J/cm²);Niederschlag (mm)\n28.03.2026;2,5;11;7,2;1500;0\n29.03.2026;3;12;3,6;1600;2,4\n", WeatherOptions{Zone: berlin},
			[]geo.Weather{air(at("2026-03-27T23:00:00Z"), at("2026-03-28T23:00:00Z"), no, 2.5, 11, no, no, no, 2, 15, no, 0), air(at("2026-03-28T23:00:00Z"), at("2026-03-29T22:00:00Z"), no, 3, 12, no, no, no, 1, 16, no, 2.4)}, "",
		},
		"date and time of day in two columns, out of order, one twice": {
			"date,time,temp_F,rain_in\n2026-05-04,11:00,68,0.1\n2026-05-04,10:00,50,0\n2026-05-04,10:00,51,0\n", WeatherOptions{},
			[]geo.Weather{air(at("2026-05-04T09:00:00Z"), at("2026-05-04T10:00:00Z"), 10, no, no, no, no, no, no, no, no, 0), air(at("2026-05-04T10:00:00Z"), at("2026-05-04T11:00:00Z"), 20, no, no, no, no, no, no, no, no, 2.54)}, "read before",
		},
		"months first, as only the second line says": {
			"date,tmin,tmax,rain\n05/04/2026,5,15,0\n05/14/2026,6,16,1\n", WeatherOptions{},
			[]geo.Weather{air(at("2026-05-04T00:00:00Z"), at("2026-05-05T00:00:00Z"), no, 5, 15, no, no, no, no, no, no, 0), air(at("2026-05-14T00:00:00Z"), at("2026-05-15T00:00:00Z"), no, 6, 16, no, no, no, no, no, no, 1)}, "month first",
		},
		"what cannot be is left out": {
			"time,temp_C,humidity,rain_mm\n2026-05-04T10:00:00Z,120,80,0\n2026-05-04T11:00:00Z,13,105,-1\n2026-05-04T12:00:00Z,x,,\n", WeatherOptions{},
			[]geo.Weather{air(at("2026-05-04T09:00:00Z"), at("2026-05-04T10:00:00Z"), no, no, no, 80, no, no, no, no, no, 0), air(at("2026-05-04T10:00:00Z"), at("2026-05-04T11:00:00Z"), 13, no, no, no, no, no, no, no, no, no), air(at("2026-05-04T11:00:00Z"), at("2026-05-04T12:00:00Z"), no, no, no, no, no, no, no, no, no, no)}, "temperature 120",
		},
		"wind without a unit": {
			"date,temp,wind,rain\n2026-05-04,13,4,0\n", WeatherOptions{},
			[]geo.Weather{air(at("2026-05-04T00:00:00Z"), at("2026-05-05T00:00:00Z"), 13, no, no, no, no, no, no, no, no, 0)}, "its unit is not known",
		},
	} {
		got, found, err := Weather(weatherFile(t, c.text), c.o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		same := len(got) == len(c.want)
		for i := range c.want {
			same = same && sameWeather(got[i], c.want[i])
		}
		if !same {
			t.Errorf("%s:\n got %+v\nwant %+v", name, got, c.want)
		}
		var said strings.Builder
		for _, f := range found {
			said.WriteString(f.What + "\n")
		}
		if !strings.Contains(said.String(), c.finds) {
			t.Errorf("%s: found %q, want %q in it", name, said.String(), c.finds)
		}
	}
}

// air is a reading, its values in the order of geo.Weather.
func air(start, end int64, v ...float64) geo.Weather {
	return geo.Weather{Start: start, End: end, Temperature: v[0], Least: v[1], Most: v[2], Humidity: v[3], HumidityLeast: v[4], HumidityMost: v[5], Wind: v[6], Radiation: v[7], Sunshine: v[8], Rain: v[9]}
}

func sameWeather(a, b geo.Weather) bool {
	x := []float64{a.Temperature, a.Least, a.Most, a.Humidity, a.HumidityLeast, a.HumidityMost, a.Wind, a.Radiation, a.Sunshine, a.Rain}
	y := []float64{b.Temperature, b.Least, b.Most, b.Humidity, b.HumidityLeast, b.HumidityMost, b.Wind, b.Radiation, b.Sunshine, b.Rain}
	for i := range x {
		if math.IsNaN(x[i]) != math.IsNaN(y[i]) || math.Abs(x[i]-y[i]) > 1e-9 {
			return false
		}
	}
	return a.Start == b.Start && a.End == b.End
}

func TestNoWeather(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"no time":                 {"temp_C,rain\n12,0\n", "no column for the time"},
		"no temperature":          {"date,rain\n2026-05-04,0\n", "no column for the temperature"},
		"no line but the first":   {"date,temp_C,rain\n", "no reading of the weather"},
		"times that are none":     {"time,temp_C\nyesterday,12\n", "yesterday"},
		"another kind of file":    {`{"type":"FeatureCollection","features":[]}`, "no table of text"},
		"a decimal comma between": {"date,temp_C,rain_mm\n2026-05-04,12,5,0,4\n", "more fields"},
	} {
		if _, _, err := Weather(weatherFile(t, c.text), WeatherOptions{}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q in it", name, err, c.says)
		}
	}
}

// Whatever is read has an order, and each reading its time and only values that can be.
func FuzzWeather(f *testing.F) {
	f.Add([]byte("time,temp_C,humidity_%,wind_m_s,radiation_W/m2,rain_mm\n2026-05-04T10:00:00Z,12.5,80,2,500,0\n"), false)
	f.Add([]byte("Datum;Tmin;Tmax;Regen\n28.03.2026;2,5;11;0\n29.03.2026;2,5;11;0\n"), true)
	f.Add([]byte("date,time,temp_F\n05/14/2026,9:30 PM,50\n45000.5,0.25,1e9\n"), false)
	f.Fuzz(func(t *testing.T, text []byte, begin bool) {
		name := filepath.Join(t.TempDir(), "w.csv")
		if err := os.WriteFile(name, text, 0o644); err != nil {
			t.Fatal(err)
		}
		got, _, err := Weather(name, WeatherOptions{Begin: begin})
		if err != nil && got != nil {
			t.Fatal("readings beside an error")
		}
		for i, w := range got {
			if err := w.Validate(); err != nil || i > 0 && w.Start < got[i-1].End {
				t.Fatalf("reading %d: %+v, %v", i+1, w, err)
			}
		}
	})
}
