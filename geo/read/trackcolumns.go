package read

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"math/bits"
	"strconv"
	"strings"

	"balk/geo"
	"balk/geo/crs"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// column is what a property of a fix means.
type column uint8

const (
	noColumn column = iota
	timeColumn
	stateColumn
	widthColumn
	headingColumn  // degrees, where the machine points
	courseColumn   // degrees, where the antenna moves to
	speedColumn    // m/s
	hdopColumn     // without unit
	offsetColumn   // m, middle of the worked width right of the antenna's line
	qualityColumn  // a geo.Quality
	heightColumn   // m, of the antenna
	speedKmhColumn // km/h
	passColumn
	nameColumn
	dateColumn // a day; the time of day stands in a column of its own
	markColumn // see ownMark
	// who worked with what for whom, see tellings
	machineColumn
	driverColumn
	farmColumn
	columns
)

// columnNames are the property and column names that mean something at a fix,
// in lower case; upper and lower case are not told apart. The plurals are for
// lists beside a line, one value per fix. Common practice, no source.
var columnNames = func() map[string]column {
	names := wordsOf(tellingNames)
	maps.Copy(names, fixNames)
	return names
}()

var fixNames = map[string]column{
	"time": timeColumn, "times": timeColumn, "timestamp": timeColumn, "timestamps": timeColumn, "datetime": timeColumn, "date_time": timeColumn,
	"coordtimes": timeColumn, "utc": timeColumn, "gpstime": timeColumn, "gps_time": timeColumn, "iso_time": timeColumn,
	"date": dateColumn, "day": dateColumn,
	"state": stateColumn, "states": stateColumn, "work": stateColumn, "working": stateColumn, "workstate": stateColumn, "work_state": stateColumn,
	"width": widthColumn, "widths": widthColumn, "working_width": widthColumn, "workingwidth": widthColumn, "width_m": widthColumn,
	"heading": headingColumn, "headings": headingColumn, "heading_deg": headingColumn, "yaw": headingColumn, "yaw_deg": headingColumn,
	"course": courseColumn, "courses": courseColumn, "cog": courseColumn, "course_deg": courseColumn, "bearing": courseColumn, "travel_direction": courseColumn,
	"speed": speedColumn, "speeds": speedColumn, "speed_ms": speedColumn, "speed_mps": speedColumn,
	"speed_kmh": speedKmhColumn, "speed_kph": speedKmhColumn,
	"hdop": hdopColumn,
	"ele":  heightColumn, "elevation": heightColumn, "elevation_m": heightColumn, "altitude": heightColumn, "altitude_m": heightColumn, "alt": heightColumn, "alt_m": heightColumn,
	"height": heightColumn, "height_m": heightColumn, "heights": heightColumn,
	"offset_m": offsetColumn, "offsets": offsetColumn,
	"quality": qualityColumn, "fix_quality": qualityColumn, "fixquality": qualityColumn, "gps_quality": qualityColumn, "fix_type": qualityColumn, "fixtype": qualityColumn,
	"pass": passColumn, "pass_id": passColumn, "pass_no": passColumn, "part": passColumn,
	"name": nameColumn, "track": nameColumn, "title": nameColumn,
	ownMark: markColumn,
}

// tellingNames are those of properties and columns that say who worked with what for whom, in the five languages.
// Common practice, no source.
var tellingNames = map[column]string{
	machineColumn: "machine machine_name machine_id vehicle vehicle_name vehicle_id tractor tractor_name maschine fahrzeug schlepper traktor tracteur engin vehicule maquina vehiculo trekker voertuig",
	driverColumn:  "driver driver_name operator operator_name worker fahrer bediener conducteur chauffeur operateur conductor operador operario bestuurder",
	farmColumn:    "farm farm_name grower client customer betrieb kunde exploitation ferme finca cliente bedrijf klant",
}

// tellings are what the fixes of a track say of its machine, driver and farm, of which each is known where all that say one
// say the same.
type tellings [farmColumn - machineColumn + 1]struct {
	text    string
	several bool
	last    string // said by the fix before
	changes int    // how often another one was said than by the fix before
}

// machinesByTurns: a machine column that changes so often in one track is that of several machines that logged at once.
const machinesByTurns = 20

// say takes what one says in a column.
func (t *tellings) say(c column, text []byte) {
	one := &t[c-machineColumn]
	text = bytes.TrimSpace(text)
	if len(text) > 0 && string(text) != one.last {
		if one.last != "" {
			one.changes++
		}
		one.last = string(text)
	}
	switch {
	case len(text) == 0 || string(text) == one.text:
	case one.text == "" && !one.several:
		one.text = strings.ToValidUTF8(string(text), "\uFFFD")
	default:
		one.text, one.several = "", true
	}
}

// join takes what others say.
func (t *tellings) join(o *tellings) {
	for i := range o {
		if o[i].several {
			t[i].text, t[i].several = "", true
		}
		t.say(machineColumn+column(i), []byte(o[i].text))
		t[i].changes += o[i].changes
	}
}

func (t *tellings) told() geo.Told {
	return geo.Told{Machine: t[0].text, Driver: t[driverColumn-machineColumn].text, Farm: t[farmColumn-machineColumn].text}
}

// columnOf is the meaning of a name, whatever its case. It does not allocate.
func columnOf(name []byte) column {
	var low [16]byte
	if len(name) > len(low) {
		return noColumn
	}
	for i, c := range name {
		if c-'A' < 26 {
			c += 'a' - 'A'
		}
		low[i] = c
	}
	return columnNames[string(low[:len(name)])]
}

// stateWords are the words for working and lifted that logs use. Common
// practice, no source.
var stateWords = map[string]geo.WorkState{
	"working": geo.Working, "work": geo.Working, "on": geo.Working, "true": geo.Working, "t": geo.Working, "yes": geo.Working, "y": geo.Working, "down": geo.Working, "lowered": geo.Working, "in work": geo.Working, "active": geo.Working,
	"ein": geo.Working, "an": geo.Working, "ja": geo.Working, "j": geo.Working, "wahr": geo.Working, "arbeit": geo.Working, "arbeitet": geo.Working, "in arbeit": geo.Working, "unten": geo.Working, "abgesenkt": geo.Working, "gesenkt": geo.Working, "eingesetzt": geo.Working, "im einsatz": geo.Working, "abgelassen": geo.Working,
	"lifted": geo.Lifted, "off": geo.Lifted, "false": geo.Lifted, "f": geo.Lifted, "no": geo.Lifted, "n": geo.Lifted, "up": geo.Lifted, "raised": geo.Lifted, "inactive": geo.Lifted, "not working": geo.Lifted,
	"aus": geo.Lifted, "nein": geo.Lifted, "falsch": geo.Lifted, "oben": geo.Lifted, "ausgehoben": geo.Lifted, "gehoben": geo.Lifted, "wenden": geo.Lifted, "transport": geo.Lifted,
	"marche": geo.Working, "oui": geo.Working, "vrai": geo.Working, "travail": geo.Working, "au travail": geo.Working, "baissé": geo.Working, "abaissé": geo.Working,
	"arrêt": geo.Lifted, "arret": geo.Lifted, "non": geo.Lifted, "faux": geo.Lifted, "relevé": geo.Lifted, "levé": geo.Lifted, "demi-tour": geo.Lifted,
	"sí": geo.Working, "si": geo.Working, "verdadero": geo.Working, "encendido": geo.Working, "trabajando": geo.Working, "en trabajo": geo.Working, "bajado": geo.Working, "abajo": geo.Working,
	"falso": geo.Lifted, "apagado": geo.Lifted, "levantado": geo.Lifted, "arriba": geo.Lifted, "girando": geo.Lifted,
	"aan": geo.Working, "waar": geo.Working, "werkend": geo.Working, "in werk": geo.Working, "neer": geo.Working, "neergelaten": geo.Working,
	"uit": geo.Lifted, "nee": geo.Lifted, "onwaar": geo.Lifted, "geheven": geo.Lifted, "omhoog": geo.Lifted, "kopakker": geo.Lifted,
	"unknown": geo.StateUnknown, "": geo.StateUnknown, "null": geo.StateUnknown, "?": geo.StateUnknown, "nan": geo.StateUnknown, "unbekannt": geo.StateUnknown,
}

// toolWords are those of stateWords that say themselves where the tool is, whatever their column is called.
var toolWords = map[string]bool{"working": true, "work": true, "down": true, "lowered": true, "in work": true, "not working": true, "lifted": true, "up": true, "raised": true,
	"arbeit": true, "arbeitet": true, "in arbeit": true, "unten": true, "abgesenkt": true, "gesenkt": true, "eingesetzt": true, "im einsatz": true, "abgelassen": true, "oben": true, "ausgehoben": true, "gehoben": true, "wenden": true, "transport": true,
	"travail": true, "au travail": true, "baissé": true, "abaissé": true, "relevé": true, "levé": true, "demi-tour": true, "trabajando": true, "en trabajo": true, "bajado": true, "abajo": true, "levantado": true,
	"arriba": true, "girando": true, "werkend": true, "in werk": true, "neer": true, "neergelaten": true, "geheven": true, "omhoog": true, "kopakker": true}

// stateOf reads a work state from text; a number other than 0 is working.
func stateOf(b []byte) (s geo.WorkState, ok bool) {
	if v, err := strconv.ParseFloat(string(b), 64); err == nil && !math.IsNaN(v) {
		return stateOfNumber(v), true
	}
	s, ok = stateWords[string(b)]
	if !ok {
		s, ok = stateWords[strings.ToLower(strings.TrimSpace(string(b)))]
	}
	return s, ok
}

func stateOfNumber(v float64) geo.WorkState {
	if v != 0 {
		return geo.Working
	}
	return geo.Lifted
}

// values are what is known about one fix beside its place.
type values struct {
	v   [tableColumns]float64 // by column: time s, the code of a state (see stateJudge), width m, heading degrees, speed m/s, a geo.Quality as a number, ...
	has uint32                // bits by column

	clock, hasDate bool // the time is one of day; date is logged
	zoned          bool // the time of day names its zone
	date           float64
}

func (v *values) set(c column, x float64) {
	if c == speedKmhColumn {
		c, x = speedColumn, x/geo.Kmh
	}
	v.v[c] = x
	v.has |= 1 << c
}

// work sets the code of a work state, where there is one.
func (v *values) work(code geo.WorkState) {
	if code != geo.StateUnknown {
		v.set(stateColumn, float64(code))
	}
}

func (v *values) get(c column) float64 {
	if v.has&(1<<c) == 0 {
		return math.NaN()
	}
	return v.v[c]
}

// growing is a track as it is read, fix by fix. Columns come into being with
// the first fix that has them.
type growing struct {
	name   string
	record int       // where it began
	flat   []float64 // lon, lat, seconds
	ends   []int
	geo.Columns
	course []geo.Bearing // used where there is no heading, see track
	came   geo.Came
	told   tellings
	has    uint32 // bits of the columns that are there
}

// emptied is the track without its fixes, with their room.
func (g *growing) emptied() *growing {
	return &growing{flat: g.flat[:0], ends: g.ends[:0], Columns: g.Columns.Slice(0, 0)}
}

func (g *growing) fixes() int { return len(g.flat) / 3 }

func (g *growing) endPart() {
	if n := len(g.flat); n > 0 && (len(g.ends) == 0 || g.ends[len(g.ends)-1] < n) {
		g.ends = append(g.ends, n)
	}
}

// add appends a fix.
func (g *growing) add(x, y float64, v *values) {
	i := g.fixes()
	g.flat = append(g.flat, x, y, v.get(timeColumn))
	g.has |= v.has &^ (1 << timeColumn)
	for left := g.has; left != 0; left &= left - 1 {
		c := column(bits.TrailingZeros32(left))
		g.put(c, i, v.get(c))
	}
}

// fill gives every fix a value of a column.
func (g *growing) fill(c column, v func(i int) float64) {
	for i := range g.fixes() {
		g.put(c, i, v(i))
	}
}

// put gives fix i the value of a column, which ends before it; NaN: not logged.
func (g *growing) put(c column, i int, v float64) {
	switch c {
	case timeColumn:
		g.flat[3*i+2] = v
	case stateColumn:
		code := geo.StateUnknown
		if v > 0 {
			code = geo.WorkState(v)
		}
		g.State = append(padTo(g.State, i, geo.StateUnknown), code)
	case widthColumn:
		g.Width = append(padTo(g.Width, i, math.NaN()), v)
	case headingColumn:
		g.Heading = append(padTo(g.Heading, i, geo.Bearing(math.NaN())), geo.Bearing(v))
	case courseColumn:
		g.course = append(padTo(g.course, i, geo.Bearing(math.NaN())), geo.Bearing(v))
	case speedColumn:
		g.Speed = append(padTo(g.Speed, i, math.NaN()), v)
	case hdopColumn:
		g.HDOP = append(padTo(g.HDOP, i, math.NaN()), v)
	case heightColumn:
		g.Height = append(padTo(g.Height, i, math.NaN()), v)
	case offsetColumn:
		g.Offset = append(padTo(g.Offset, i, math.NaN()), v)
	case qualityColumn:
		g.Quality = append(padTo(g.Quality, i, geo.QualityUnknown), loggedQuality(v))
	case orderColumn:
		g.came.Order = append(padTo(g.came.Order, i, math.NaN()), v)
	case apartColumn:
		g.came.Apart = append(padTo(g.came.Apart, i, math.NaN()), v)
	case passColumn:
		pass := padTo(g.came.Pass, i, geo.NoPass)
		switch {
		case !math.IsNaN(v):
			pass = append(pass, int32(v))
		case i > 0:
			pass = append(pass, pass[i-1])
		default:
			pass = append(pass, geo.NoPass)
		}
		g.came.Pass = pass
	}
}

func padTo[T any](s []T, n int, v T) []T {
	for len(s) < n {
		s = append(s, v)
	}
	return s
}

// track is the finished track in degrees. Positions are taken out of p if the
// file is in a projection (nil: degrees already). A fix that is no place on
// Earth is left out with a finding; if most of them are none, the file is not
// what it seems and that is the error.
func (g *growing) track(t *tally, p crs.Projection) (geo.Track, error) {
	g.endPart()
	if n := g.told[0].changes; n >= machinesByTurns {
		t.add(g.record, nil, false, fmt.Sprintf("the machine changes %d times from fix to fix: where several worked at once, --column section=NAME names the column that says which, and each is taken by itself", n))
	}
	if p != nil {
		for i := 0; i < len(g.flat); i += 3 {
			if g.flat[i] != nowhere {
				g.flat[i], g.flat[i+1] = p.Inverse(g.flat[i], g.flat[i+1])
			}
		}
	}
	bad, first := 0, 0
	for i := 0; i < len(g.flat); i += 3 {
		if !geo.OnEarth(g.flat[i], g.flat[i+1]) {
			if bad == 0 {
				first = i
			}
			bad++
		}
	}
	if bad > 0 {
		x, y := g.flat[first], g.flat[first+1]
		where, hint, near := fmt.Sprintf("at %g, %g", x, y), geo.PlaceHint(x, y), (*orb.Point)(nil)
		if x == nowhere {
			where, hint = "without a position", "longitude and latitude in degrees on WGS84 are wanted"
			if first > 0 { // the place of the fix before it
				near = geo.Place(g.flat[first-3], g.flat[first-2])
			}
		}
		if 2*bad > g.fixes() {
			return geo.Track{}, &FileError{File: t.file, Record: g.record, What: fmt.Sprintf("%d of %d fixes are outside ±180, ±90, the first %s", bad, g.fixes(), where), Hint: hint}
		}
		t.add(g.record, near, true, fmt.Sprintf("%d of %d fixes left out: outside ±180, ±90, the first (fix %d) %s", bad, g.fixes(), first/3+1, where))
	}
	out := geo.Track{Name: g.name, Source: t.file, Columns: g.Columns, Came: g.came, Told: g.told.told()}
	if g.Heading == nil && g.course != nil { // a course beside headings says what the positions say
		out.Heading, out.Course = g.course, true
	}
	out.Line = geom.NewMultiLineStringFlat(geom.XYM, g.flat, g.ends)
	// The parts stay parts: a lost fix is a longer step, which coverage judges by its gap limits.
	return out.Cut(func(k int) bool { return geo.OnEarth(g.flat[3*k], g.flat[3*k+1]) }, false), nil
}
