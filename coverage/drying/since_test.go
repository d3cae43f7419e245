package drying

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/testdata/check"
)

// dryWeek is a week by the hour from 0 on, warm and dry, with rain (mm) in some hours.
func dryWeek(rain map[int64]float64) []geo.Weather {
	var list []geo.Weather
	for h := range int64(7 * 24) {
		r := geo.NoWeather(h*3600, (h+1)*3600)
		r.Temperature, r.Humidity, r.Wind, r.Radiation, r.Rain = 20, 50, 2, 0.8, rain[h]
		list = append(list, r)
	}
	return list
}

func after(t *testing.T, s Station, readings []geo.Weather, cut, until int64, least Least) Since {
	t.Helper()
	l, err := NewLog(s, readings)
	if err != nil {
		t.Fatal(err)
	}
	return l.After(cut, until, least)
}

func TestFirstRain(t *testing.T) {
	const hour = 3600
	for name, c := range map[string]struct {
		rain  map[int64]float64
		dry   bool
		first int64 // hour
		rains float64
		prior float64
	}{
		"none":                               {nil, true, 0, 0, 0},
		"a shower 31 h after the cut":        {map[int64]float64{111: 4}, false, 111, 4, 0},
		"drizzle that adds up":               {map[int64]float64{100: 0.4, 101: 0.4, 102: 0.4}, false, 102, 1.2, 0},
		"drops a day apart are no rain":      {map[int64]float64{90: 0.4, 114: 0.4, 138: 0.4}, true, 0, 1.2, 0},
		"rain before the cut":                {map[int64]float64{5: 9, 70: 4}, true, 0, 0, 4}, // 75 h before is too long ago
		"rain after the time asked for":      {map[int64]float64{161: 9}, true, 0, 0, 0},
		"a shower before and one after that": {map[int64]float64{79: 2, 95: 3}, false, 95, 3, 2},
	} {
		got := after(t, Station{Lat: 48, Lon: 11}, dryWeek(c.rain), 80*hour, 160*hour, Least{})
		if got.Dry != c.dry || !c.dry && got.FirstRain != c.first*hour || math.Abs(got.Rain-c.rains) > 1e-9 || math.Abs(got.RainBefore-c.prior) > 1e-9 {
			t.Errorf("%s: dry %v, first rain after %.0f h, %g mm since, %g mm before", name, got.Dry, float64(got.FirstRain)/hour, got.Rain, got.RainBefore)
		}
		if got.Until != 160*hour || got.Holes != 0 || !got.BeforeKnown {
			t.Errorf("%s: until %d, %d s without a reading, 72 h before known %v", name, got.Until, got.Holes, got.BeforeKnown)
		}
		if c.dry != (got.DemandDry == got.Demand) || got.Demand <= 0 {
			t.Errorf("%s: demand %.2f mm, until it rained %.2f mm", name, got.Demand, got.DemandDry)
		}
		if want := 20 * 80. / 24; math.Abs(got.Warmth-want) > 1e-9 {
			t.Errorf("%s: %.3f degree days, want %.3f", name, got.Warmth, want)
		}
	}
}

// What is summed over two spans one after the other is what is summed over both, wherever the cut between them falls,
// within a reading too.
func TestSumsAddUp(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	week := dryWeek(map[int64]float64{30: 2, 60: 5, 61: 1})
	for range 100 {
		a, c := int64(rng.IntN(3*86400)), int64(4*86400+rng.IntN(3*86400))
		b := a + int64(rng.IntN(int(c-a)))
		sum := func(from, to int64) Since {
			return after(t, Station{Lat: 60 * rng.Float64(), Lon: 5}, week, from, to, Least{Base: 4})
		}
		one, two, all := sum(a, b), sum(b, c), sum(a, c)
		if math.Abs(one.Rain+two.Rain-all.Rain) > 1e-9 || math.Abs(one.Warmth+two.Warmth-all.Warmth) > 1e-9 {
			t.Fatalf("seed %d: %d to %d to %d: rain %g + %g, %g; warmth %g + %g, %g", seed, a, b, c, one.Rain, two.Rain, all.Rain, one.Warmth, two.Warmth, all.Warmth)
		}
	}
}

// A log with a hole says so, and one that ends early says until when.
func TestHolesOfTheLog(t *testing.T) {
	week := dryWeek(nil)
	week = append(week[:90:90], week[95:130]...)
	got := after(t, Station{}, week, 80*3600, 160*3600, Least{})
	if got.Holes != 5*3600 || got.Until != 130*3600 {
		t.Errorf("%d s without a reading until %d", got.Holes, got.Until)
	}
	if got = after(t, Station{}, dryWeek(nil)[20:], 80*3600, 160*3600, Least{}); got.BeforeKnown {
		t.Errorf("60 h of 72 are said to be known: %+v", got)
	}
}
