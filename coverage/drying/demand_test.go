package drying

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"balk/geo"
	"balk/testdata/check"
)

// paper is a worked example of FAO-56, chapter 4: the figures as printed, and as recomputed elsewhere without rounding
// between the steps (NaN: none).
type paper map[string]struct{ printed, computed float64 }

func example(t *testing.T, name string) paper {
	t.Helper()
	r := csv.NewReader(strings.NewReader(check.Text(t, "season/fao56.csv")))
	r.Comment, r.FieldsPerRecord = '#', -1
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	p := paper{}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	for _, l := range lines {
		if l[0] == name {
			p[l[1]] = struct{ printed, computed float64 }{number(l[3]), number(l[4])}
		}
	}
	if len(p) < 5 {
		t.Fatalf("example %s has %d figures", name, len(p))
	}
	return p
}

// holds compares with a figure of the paper: to half a step of its last digit here, which is given, and to 1e-5 with the
// one computed elsewhere.
func (p paper) holds(t *testing.T, quantity string, got, digit float64) {
	t.Helper()
	want, ok := p[quantity]
	if !ok {
		t.Fatalf("the example has no %s", quantity)
	}
	if !(math.Abs(got-want.printed) <= digit/2+1e-9) && !(math.Abs(want.computed-want.printed) > digit/2) {
		t.Errorf("%s = %.6f, printed %g", quantity, got, want.printed)
	}
	if !math.IsNaN(want.computed) && !(math.Abs(got-want.computed) <= 1e-5*math.Max(1, math.Abs(want.computed))) {
		t.Errorf("%s = %.7f, computed elsewhere %g", quantity, got, want.computed)
	}
}

// FAO-56, example 18: Uccle, 6 July.
func TestADayOfThePaper(t *testing.T) {
	p := example(t, "18")
	in := func(q string) float64 { return p[q].printed }
	s := Station{Lon: 4.35, Lat: in("latitude"), Altitude: in("altitude"), WindHeight: 10}
	start := time.Date(2015, 7, 6, 0, 0, 0, 0, time.UTC).Unix()
	r := geo.NoWeather(start, start+secondsOfDay)
	r.Least, r.Most, r.HumidityLeast, r.HumidityMost = in("Tmin"), in("Tmax"), in("RHmin"), in("RHmax")
	r.Wind, r.Sunshine = p["wind at 10 m"].computed, in("sunshine") // 10 km/h

	mean := (r.Least + r.Most) / 2
	ea, _ := vapour(r, r.Least, r.Most)
	day, _ := solarDay(start+secondsOfDay/2, s.Lon)
	above, light := sunOf(day, s.Lat).day()
	rs, _ := radiation(r, above, light, span{r.Least, r.Most})
	p.holds(t, "day of year", float64(day), 1)
	p.holds(t, "wind at 2 m", windAt2(r.Wind, 10), 1e-3)
	p.holds(t, "slope of vapour pressure curve", slope(mean), 1e-3)
	p.holds(t, "psychrometric constant", psychrometric(s.Altitude), 1e-4)
	p.holds(t, "es", (saturation(r.Least)+saturation(r.Most))/2, 1e-3)
	p.holds(t, "ea", ea, 1e-3)
	p.holds(t, "Ra", above, 1e-2)
	p.holds(t, "daylight hours", light, 0.1)
	p.holds(t, "Rs", rs, 1e-2)
	p.holds(t, "Rn", net(rs, ea, rs/s.clearSky(above), stefan*(kelvin4(r.Least)+kelvin4(r.Most))/2), 1e-2)
	mm, taken, err := demand(s, []geo.Weather{r})
	if err != nil || taken != 0 {
		t.Fatalf("taken %b, %v", taken, err)
	}
	p.holds(t, "ET0", mm[0], 1e-2)
}

// FAO-56, example 17: Bangkok, a month, of which only what it shares with days is here; G is given.
func TestAMonthOfThePaper(t *testing.T) {
	p := example(t, "17")
	in := func(q string) float64 { return p[q].printed }
	s := Station{Lat: in("latitude"), Altitude: in("altitude")}
	least, most := in("Tmin"), in("Tmax")
	above, light := sunOf(int(in("day of year")), s.Lat).day()
	rs := (0.25 + 0.5*in("sunshine")/light) * above
	rn := net(rs, in("ea"), rs/s.clearSky(above), stefan*(kelvin4(least)+kelvin4(most))/2)
	p.holds(t, "Rn", rn, 1e-2)
	p.holds(t, "ET0", combine(in("Tmonth"), (saturation(least)+saturation(most))/2, in("ea"), rn-in("G"), in("wind at 2 m"), s.Altitude, 900), 1e-2)
}

// FAO-56, example 19: N'Diaye, an hour by night and one by day, whose radiation is given.
func TestHoursOfThePaper(t *testing.T) {
	for _, name := range []string{"19a", "19b"} {
		p := example(t, name)
		in := func(q string) float64 { return p[q].printed }
		temp := in("T")
		got := combine(temp, saturation(temp), saturation(temp)*in("RH")/100, in("Rn")-in("G"), in("wind at 2 m"), 8, 37)
		p.holds(t, "ET0", got, 1e-2)
	}
}

// The radiation above the air over hours adds up to that of the day, at any place and on any day; and it is the sine of
// the sun's height, summed in small steps.
func TestHoursAddUpToTheDay(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 200 {
		lat, lon := 140*rng.Float64()-70, 360*rng.Float64()-180
		// A day of the place's true solar time, from midnight on.
		start := int64(1.7e9+3e7*rng.Float64()) / secondsOfDay * secondsOfDay
		start -= int64(lon / 15 * 3600)
		day, _ := solarDay(start+secondsOfDay/2, lon)
		s := sunOf(day, lat)
		sum, fine := 0.0, 0.0
		for h := range int64(24) {
			sum += between(start+h*3600, start+(h+1)*3600, lon, lat)
		}
		const steps = 20000
		for k := range steps {
			a := (float64(k)+0.5)/steps*2*math.Pi - math.Pi
			fine += max(0, math.Sin(s.lat)*math.Sin(s.decline)+math.Cos(s.lat)*math.Cos(s.decline)*math.Cos(a))
		}
		fine *= secondsOfDay / 60 * solar * s.near / steps
		want, _ := s.day()
		if math.Abs(fine-want) > 1e-3 {
			t.Fatalf("seed %d: at %.2f on day %d %.4f MJ/m², in small steps %.4f", seed, lat, day, want, fine)
		}
		// The hours' day begins at mean midnight; where it is light then, some minutes are another day's.
		if math.Abs(sum-want) > 0.02*want+1e-9 {
			t.Fatalf("seed %d: at %.2f, %.2f on day %d: hours %.4f MJ/m², the day %.4f", seed, lat, lon, day, sum, want)
		}
	}
}

// A day read by the hour asks as much as the day read as one, within what FAO-56's own two equations differ.
func TestADayByHours(t *testing.T) {
	s := Station{Lon: 11.6, Lat: 48.1, Altitude: 520}
	start := time.Date(2026, 6, 9, 23, 13, 0, 0, time.UTC).Unix() // midnight there by the sun
	var hours []geo.Weather
	day := geo.NoWeather(start, start+secondsOfDay)
	day.Least, day.Most, day.HumidityLeast, day.HumidityMost, day.Wind, day.Radiation = 11, 25, 45, 95, 2.1, 0
	for h := range int64(24) {
		r := geo.NoWeather(start+h*3600, start+(h+1)*3600)
		swing := -math.Cos((float64(h) + 0.5 - 3) / 24 * 2 * math.Pi)
		r.Temperature, r.Humidity, r.Wind = 18+7*swing, 70-25*swing, 2.1
		r.Radiation = 0.55 * between(r.Start, r.End, s.Lon, s.Lat)
		day.Radiation += r.Radiation
		hours = append(hours, r)
	}
	byHour, _, err := demand(s, hours)
	if err != nil {
		t.Fatal(err)
	}
	whole, _, err := demand(s, []geo.Weather{day})
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, v := range byHour {
		sum += v
	}
	if sum < 0.85*whole[0] || sum > 1.15*whole[0] || whole[0] < 2 || whole[0] > 6 {
		t.Errorf("by hours %.2f mm, as a day %.2f mm", sum, whole[0])
	}
}

func TestWhatWasNotRead(t *testing.T) {
	start := time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC).Unix()
	s := Station{Lon: 10, Lat: 50, Altitude: 200}
	full := geo.NoWeather(start, start+secondsOfDay)
	full.Least, full.Most, full.HumidityLeast, full.HumidityMost, full.Wind, full.Radiation, full.Rain = 6, 19, 40, 95, 2, 20, 0
	for name, c := range map[string]struct {
		change func(*geo.Weather)
		taken  Taken
	}{
		"all read":                         {func(*geo.Weather) {}, 0},
		"no wind: 2 m/s":                   {func(r *geo.Weather) { r.Wind = math.NaN() }, TakenWind},
		"no humidity: that of the minimum": {func(r *geo.Weather) { r.HumidityLeast, r.HumidityMost = math.NaN(), math.NaN() }, TakenHumidity},
		"no radiation: by the temperature": {func(r *geo.Weather) { r.Radiation = math.NaN() }, TakenRadiation},
		"sunshine instead of radiation":    {func(r *geo.Weather) { r.Radiation, r.Sunshine = math.NaN(), 10 }, 0},
	} {
		r := full
		c.change(&r)
		want, _, _ := demand(s, []geo.Weather{full})
		got, taken, err := demand(s, []geo.Weather{r})
		if err != nil || taken != c.taken {
			t.Errorf("%s: taken %b, want %b, %v", name, taken, c.taken, err)
			continue
		}
		// FAO-56, chapter 4, estimates of missing data: some tenths of the demand.
		if math.Abs(got[0]-want[0]) > 0.25*want[0] {
			t.Errorf("%s: %.2f mm, with all read %.2f mm", name, got[0], want[0])
		}
	}
	r := full
	r.Least, r.Most = math.NaN(), math.NaN()
	if _, _, err := demand(s, []geo.Weather{r}); !errors.Is(err, ErrNoTemperature) {
		t.Errorf("without temperature: %v", err)
	}
	two, _, err := demand(s, []geo.Weather{full, func() geo.Weather { r := r; r.Start, r.End = full.End, full.End+secondsOfDay; return r }()})
	if err != nil || !math.IsNaN(two[1]) || math.IsNaN(two[0]) {
		t.Errorf("one of two days without temperature: %v, %v", two, err)
	}
}

func TestReadingsThatCannotBe(t *testing.T) {
	day := func(change func(*geo.Weather)) geo.Weather {
		r := geo.NoWeather(0, secondsOfDay)
		r.Least, r.Most = 5, 15
		change(&r)
		return r
	}
	for name, c := range map[string]struct {
		readings []geo.Weather
		station  Station
		says     string
	}{
		"degrees Fahrenheit":       {[]geo.Weather{day(func(r *geo.Weather) { r.Most = 68 })}, Station{}, "greatest temperature 68"},
		"humidity above all":       {[]geo.Weather{day(func(r *geo.Weather) { r.Humidity = 101 })}, Station{}, "humidity 101"},
		"more sun than there is":   {[]geo.Weather{day(func(r *geo.Weather) { r.Radiation = 1200 })}, Station{}, "radiation 1200"},
		"least above the greatest": {[]geo.Weather{day(func(r *geo.Weather) { r.Least = 16 })}, Station{}, "least temperature 16"},
		"rain below nothing":       {[]geo.Weather{day(func(r *geo.Weather) { r.Rain = -0.1 })}, Station{}, "rain -0.1"},
		"25 hours of sun in a day": {[]geo.Weather{day(func(r *geo.Weather) { r.Sunshine = 25 })}, Station{}, "sunshine 25"},
		"a week":                   {[]geo.Weather{day(func(r *geo.Weather) { r.End *= 7 })}, Station{}, "168.0 h"},
		"ends before it begins":    {[]geo.Weather{day(func(r *geo.Weather) { r.End = -1 })}, Station{}, "ends"},
		"one in another":           {[]geo.Weather{day(func(*geo.Weather) {}), day(func(*geo.Weather) {})}, Station{}, "reading 2 begins before"},
		"wind at no height":        {nil, Station{WindHeight: 0.1}, "height of the wind"},
		"a station on the moon":    {nil, Station{Lat: 95}, "not on earth"},
	} {
		if _, _, err := demand(c.station, c.readings); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q in it", name, err, c.says)
		}
	}
}
