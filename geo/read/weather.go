package read

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"balk/geo"
)

// WeatherOptions say how the log of a station is read.
type WeatherOptions struct {
	Zone  *time.Location // of times that name none, and of days; nil: UTC
	Begin bool           // a time is that at which its reading began; else it is that at which it ended, as most stations log
	Files *Files         // opens what is read; nil = nothing is kept of it
}

// weatherQuantity is what a column of a station's log holds.
type weatherQuantity uint8

const (
	noWeather weatherQuantity = iota
	airTemperature
	airLeast
	airMost
	humidity
	humidityLeast
	humidityMost
	windSpeed
	sunRadiation
	sunHours
	rainfall
	weatherTime
	weatherDate
)

// weatherNames are names of columns in a station's log, without unit, written as plainName does. Common practice, no source.
var weatherNames = map[string]weatherQuantity{
	"temperature": airTemperature, "temp": airTemperature, "t": airTemperature, "tmean": airTemperature, "t_mean": airTemperature, "tavg": airTemperature, "air_temperature": airTemperature,
	"air_temp": airTemperature, "temperature_2m": airTemperature, "lufttemperatur": airTemperature, "temperatur": airTemperature, "mean_temperature": airTemperature,
	"tmin": airLeast, "t_min": airLeast, "temp_min": airLeast, "min_temp": airLeast, "minimum_temperature": airLeast, "temperature_min": airLeast, "tagesminimum": airLeast,
	"tmax": airMost, "t_max": airMost, "temp_max": airMost, "max_temp": airMost, "maximum_temperature": airMost, "temperature_max": airMost, "tagesmaximum": airMost,
	"humidity": humidity, "relative_humidity": humidity, "rel_humidity": humidity, "rh": humidity, "rhmean": humidity, "rh_mean": humidity, "luftfeuchte": humidity, "relative_feuchte": humidity,
	"relative_luftfeuchte": humidity, "rel_luftfeuchte": humidity, "rel_feuchte": humidity, "rhmin": humidityLeast, "rh_min": humidityLeast, "humidity_min": humidityLeast, "rhmax": humidityMost, "rh_max": humidityMost, "humidity_max": humidityMost,
	"wind": windSpeed, "wind_speed": windSpeed, "windspeed": windSpeed, "u2": windSpeed, "windgeschwindigkeit": windSpeed,
	"radiation": sunRadiation, "solar_radiation": sunRadiation, "global_radiation": sunRadiation, "rs": sunRadiation, "globalstrahlung": sunRadiation, "shortwave_radiation": sunRadiation,
	"sunshine": sunHours, "sunshine_duration": sunHours, "sonnenscheindauer": sunHours, "sonnenschein": sunHours, "sun": sunHours,
	"rain": rainfall, "precipitation": rainfall, "rainfall": rainfall, "precip": rainfall, "niederschlag": rainfall, "regen": rainfall,
	"time": weatherTime, "timestamp": weatherTime, "datetime": weatherTime, "date_time": weatherTime, "zeit": weatherTime, "zeitstempel": weatherTime, "uhrzeit": weatherTime, "hour": weatherTime,
	"date": weatherDate, "day": weatherDate, "datum": weatherDate, "tag": weatherDate,
}

// weatherUnits are the units that may follow a name, with the factor to that of geo.Weather; perSecond ones are a mean
// over the reading, for radiation W/m², which are 1e-6 MJ/m² a second.
var weatherUnits = map[weatherQuantity]map[string]float64{
	airTemperature: {"c": 1, "degc": 1, "°c": 1, "celsius": 1, "f": 5 / 9., "degf": 5 / 9., "°f": 5 / 9., "fahrenheit": 5 / 9.},
	humidity:       {"": 1, "percent": 1, "pct": 1},
	windSpeed:      {"m_s": 1, "ms": 1, "mps": 1, "km_h": 1 / geo.Kmh, "kmh": 1 / geo.Kmh, "kph": 1 / geo.Kmh, "mph": 0.44704, "kn": 1852 / 3600., "kt": 1852 / 3600., "knots": 1852 / 3600.},
	sunRadiation:   {"mj_m2": 1, "mj_m²": 1, "kwh_m2": 3.6, "kwh_m²": 3.6, "wh_m2": 3.6e-3, "wh_m²": 3.6e-3, "j_cm2": 1e-2, "j_cm²": 1e-2, "w_m2": perSecond, "w_m²": perSecond},
	sunHours:       {"h": 1, "hours": 1, "min": 1 / 60., "minutes": 1 / 60.},
	rainfall:       {"mm": 1, "l_m2": 1, "l_m²": 1, "in": 25.4, "inch": 25.4, "inches": 25.4, "cm": 10},
}

// perSecond marks a unit that is a mean over the reading.
const perSecond = 1e-6

// weatherColumn is a column that means something.
type weatherColumn struct {
	what   weatherQuantity
	at     int
	title  string
	unit   string
	factor float64
}

// sort tells columns whose extremes stand beside them: they share its units.
func (q weatherQuantity) sort() weatherQuantity {
	switch q {
	case airLeast, airMost:
		return airTemperature
	case humidityLeast, humidityMost:
		return humidity
	}
	return q
}

// weatherMeaning is what a column is by its name; what is noWeather for one without meaning. A temperature without unit
// is in °C, a humidity in %, rain in mm and sunshine in hours, as limits on what can be tell; of wind and radiation the
// unit must be named.
func weatherMeaning(title string) weatherColumn {
	name := plainName(title)
	for i := len(name); i > 0; i-- {
		if i < len(name) && name[i] != '_' {
			continue
		}
		what, ok := weatherNames[name[:i]]
		if !ok {
			continue
		}
		unit := ""
		if i < len(name) {
			unit = name[i+1:]
		}
		factor, ok := weatherUnits[what.sort()][unit]
		switch {
		case ok, unit == "" && what.sort() != windSpeed && what.sort() != sunRadiation:
			if !ok {
				factor = 1
			}
			return weatherColumn{what: what, title: title, unit: unit, factor: factor}
		case what == weatherTime || what == weatherDate:
			return weatherColumn{what: what, title: title, unit: unit, factor: 1}
		}
		return weatherColumn{what: what, title: title, unit: unit} // known, and its unit is not
	}
	return weatherColumn{title: title}
}

// Weather reads the log of a weather station from a table of text or a workbook: a line per hour (or up to three) or
// per day, whose first line names the columns with their units ("temp_C", "Wind (km/h)", "global_radiation_W/m2"). It
// gives the readings in order of time, without gaps in them being filled.
//
//   - A date alone is a day of Zone. A time is the end of its reading, or the begin (Begin); how long it was is the
//     usual step of the log.
//   - A value that cannot be is left out, with a finding; so is a line whose time was read before.
//
// Values are converted to those of geo.Weather; 48 bytes and more are kept per line.
func Weather(path string, o WeatherOptions) ([]geo.Weather, []geo.Finding, error) {
	s, err := o.Files.source(path, true)
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	if s.format != csvFormat {
		return nil, nil, &FileError{File: s.file, What: "no table of text: the log of a weather station is wanted", Hint: weatherHint}
	}
	t := weatherTable{lines: newLines(s.from), notes: tally{file: s.file, clock: localClock{zone: o.Zone}}, options: o}
	return t.read()
}

const weatherHint = "a line per hour or day, whose first line names the columns: time or date, temp_C, tmin_C, tmax_C, humidity, wind_m_s or wind_km_h, radiation_W/m2 or radiation_MJ/m2, sunshine_h, rain_mm"

type weatherTable struct {
	lines   *lines
	notes   tally
	options WeatherOptions
	use     []weatherColumn
	titles  int
	mark    byte
	list    []weatherLine
}

// weatherLine is a line before it is known how long its reading was.
type weatherLine struct {
	number int
	day    bool    // at is a day's midnight in local time
	at     float64 // seconds since 1970, local
	zoned  bool    // at is UTC
	values geo.Weather
	mean   float64 // radiation, MJ/m² a second; NaN: none
}

func (t *weatherTable) read() ([]geo.Weather, []geo.Finding, error) {
	head := table{lines: t.lines, notes: t.notes}
	first, mark, err := head.start()
	if err != nil {
		return nil, nil, err
	}
	if err := t.header(first, mark); err != nil {
		return nil, nil, err
	}
	for {
		line, ok := t.lines.next()
		if !ok {
			break
		}
		t.line(bytes.TrimSuffix(line, []byte{'\r'}))
	}
	if err := t.lines.broken(); err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", t.notes.file, err)
	}
	readings := t.readings()
	if len(readings) == 0 {
		return nil, nil, t.notes.nothing("no reading of the weather", weatherHint, false)
	}
	return readings, t.notes.findings(), nil
}

func (t *weatherTable) header(line []byte, mark byte) error {
	best := -1
	for _, d := range []byte{',', ';', '\t'} {
		if mark != 0 && d != mark {
			continue
		}
		fields, _ := splitRecord(nil, line, d, maxTableColumns)
		var use []weatherColumn
		for i, f := range fields {
			c := weatherMeaning(plainText(bytes.TrimSpace(unquote(f))))
			c.at = i
			if c.what != noWeather && !slices.ContainsFunc(use, func(o weatherColumn) bool { return o.what == c.what }) {
				use = append(use, c)
			}
		}
		if score := len(use)*(maxTableColumns+1) + len(fields); score > best {
			best, t.mark, t.use, t.titles = score, d, use, len(fields)
		}
	}
	has := func(q weatherQuantity) bool {
		return slices.ContainsFunc(t.use, func(c weatherColumn) bool { return c.what == q && c.factor != 0 })
	}
	for _, c := range t.use {
		if c.factor == 0 {
			t.notes.add(1, nil, true, fmt.Sprintf("column %q: its unit is not known, so it is left out: name it, as wind_m_s or radiation_MJ/m2", clip(c.title)))
		}
	}
	t.use = slices.DeleteFunc(t.use, func(c weatherColumn) bool { return c.factor == 0 })
	switch {
	case !has(weatherTime) && !has(weatherDate):
		return &FileError{File: t.notes.file, Record: 1, What: "no column for the time or the date", Hint: weatherHint}
	case !has(airTemperature) && !(has(airLeast) && has(airMost)):
		return &FileError{File: t.notes.file, Record: 1, What: "no column for the temperature of the air", Hint: weatherHint}
	case !has(rainfall):
		t.notes.add(1, nil, false, "no column for the rain is known: nothing is said of it")
	}
	return nil
}

func (t *weatherTable) line(line []byte) {
	number := t.lines.number
	if len(bytes.TrimSpace(line)) == 0 {
		return
	}
	if len(line) == maxLine {
		t.notes.count(number, true, fmt.Sprintf("a line of %d bytes or more, the limit: left out", maxLine))
		for !t.lines.whole {
			if _, ok := t.lines.next(); !ok {
				return
			}
		}
		return
	}
	fields, _ := splitRecord(nil, line, t.mark, t.titles+1)
	if len(fields) > t.titles && len(trim(fields[t.titles])) > 0 {
		t.notes.count(number, true, fmt.Sprintf("a line with more fields than the %d columns (is a decimal comma taken for a delimiter?): left out", t.titles))
		return
	}
	l := weatherLine{number: number, at: math.NaN(), values: geo.NoWeather(0, 0), mean: math.NaN()}
	day, tod, both := math.NaN(), math.NaN(), slices.ContainsFunc(t.use, func(c weatherColumn) bool { return c.what == weatherDate })
	for _, c := range t.use {
		if c.at >= len(fields) {
			continue
		}
		f := trim(unquote(fields[c.at]))
		if isAbsent(f) {
			continue
		}
		if c.what == weatherTime || c.what == weatherDate {
			as := tableColumn{column: timeColumn, title: c.title, unit: c.unit}
			if c.what == weatherDate {
				as.column = dateColumn
			}
			m, ok := t.notes.dates.read(f, &as, both, &t.notes)
			switch {
			case !ok:
				t.notes.countAs(number, true, "time", fmt.Sprintf("column %q: %s is no time: the line is left out", clip(c.title), inQuotes(f)))
				return
			case m.kind == wholeDay:
				day = m.seconds
			case m.kind == timeOfDay:
				tod = m.seconds
			default:
				l.at, l.zoned = m.seconds, m.zoned
			}
			continue
		}
		t.value(&l, c, f)
	}
	switch {
	case !math.IsNaN(l.at):
	case math.IsNaN(day):
		t.notes.count(number, true, "a line without a time: left out")
		return
	case math.IsNaN(tod):
		l.at, l.day = day, true
	default:
		l.at = day + tod
	}
	t.list = append(t.list, l)
}

// value takes in a field of a column.
func (t *weatherTable) value(l *weatherLine, c weatherColumn, f []byte) {
	x, _, _, ok := decimal(f)
	if !ok {
		t.notes.countAs(l.number, true, "misread "+c.title, fmt.Sprintf("column %q: %s is no number: left out", clip(c.title), inQuotes(f)))
		return
	}
	if c.factor == 5/9. { // degrees Fahrenheit
		x -= 32
	}
	x *= c.factor
	if c.what == sunRadiation && c.factor == perSecond {
		l.mean = x
		return
	}
	w := &l.values
	switch c.what {
	case airTemperature:
		w.Temperature = x
	case airLeast:
		w.Least = x
	case airMost:
		w.Most = x
	case humidity:
		w.Humidity = x
	case humidityLeast:
		w.HumidityLeast = x
	case humidityMost:
		w.HumidityMost = x
	case windSpeed:
		w.Wind = x
	case sunRadiation:
		w.Radiation = x
	case sunHours:
		w.Sunshine = x
	case rainfall:
		w.Rain = x
	}
}

// readings gives the lines their begin and end, in order of time, each time once.
func (t *weatherTable) readings() []geo.Weather {
	if t.notes.dates.swap(&t.notes) {
		for i := range t.list {
			t.list[i].at = turned(t.list[i].at)
		}
	}
	days := slices.ContainsFunc(t.list, func(l weatherLine) bool { return l.day })
	for i := range t.list {
		l := &t.list[i]
		switch {
		case l.day && t.options.Zone != nil:
			l.at = t.notes.clock.again(l.at)
		case !l.zoned && !l.day:
			l.at = t.notes.unzoned(l.number, l.at)
		}
	}
	slices.SortStableFunc(t.list, func(a, b weatherLine) int { return cmp.Compare(a.at, b.at) })
	step := t.step()
	var out []geo.Weather
	for i, l := range t.list {
		if i > 0 && l.at == t.list[i-1].at {
			t.notes.count(l.number, true, "a time that was read before: the line is left out")
			continue
		}
		w := l.values
		switch at := int64(math.Round(l.at)); {
		case l.day:
			next := time.Unix(at, 0).UTC()
			if t.options.Zone != nil {
				next = next.In(t.options.Zone)
			}
			w.Start, w.End = at, next.AddDate(0, 0, 1).Unix()
		case t.options.Begin:
			w.Start, w.End = at, at+step
		default:
			w.Start, w.End = at-step, at
		}
		if !math.IsNaN(l.mean) {
			w.Radiation = l.mean * float64(w.End-w.Start)
		}
		if n := len(out); n > 0 && w.Start < out[n-1].End {
			if days || out[n-1].Start >= w.Start {
				t.notes.count(l.number, true, "a reading within the one before it: the line is left out")
				continue
			}
			w.Start = out[n-1].End // a log that was read more often for a while
		}
		t.check(l.number, &w)
		out = append(out, w)
	}
	return out
}

// step is the usual time between lines, s.
func (t *weatherTable) step() int64 {
	var steps []float64
	for i := 1; i < len(t.list); i++ {
		if d := t.list[i].at - t.list[i-1].at; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 3600
	}
	slices.Sort(steps)
	return max(1, int64(math.Round(steps[len(steps)/2])))
}

// check takes out of a reading what cannot be.
func (t *weatherTable) check(number int, w *geo.Weather) {
	for range 16 { // each turn takes one value at least
		err := w.Validate()
		if err == nil {
			return
		}
		no := math.NaN()
		what, _, _ := strings.Cut(err.Error(), " ")
		t.notes.countAs(number, true, "cannot be "+what, err.Error()+": left out")
		for _, v := range []*float64{&w.Temperature, &w.Least, &w.Most, &w.Humidity, &w.HumidityLeast, &w.HumidityMost, &w.Wind, &w.Radiation, &w.Sunshine, &w.Rain} {
			old := *v
			*v = no
			if e := w.Validate(); e == nil || e.Error() != err.Error() {
				break
			}
			*v = old
		}
	}
}
