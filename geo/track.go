package geo

import (
	"math"
	"slices"
	"time"

	geom "github.com/twpayne/go-geom"
)

// WorkState says whether the implement was in the ground.
type WorkState uint8

const (
	StateUnknown WorkState = iota // not logged at this fix
	Lifted
	Working
)

// Quality says how a fix was won; the names are those of NMEA 0183 GGA.
type Quality uint8

const (
	QualityUnknown      Quality = iota // not logged
	QualityNone                        // no position
	QualitySingle                      // autonomous
	QualityDifferential                // DGNSS, SBAS
	QualityFloat                       // real-time kinematic, float
	QualityFixed                       // real-time kinematic, fixed
	QualityEstimated                   // dead reckoning, manual or simulated
)

// GGAQuality is what the quality number of a GGA sentence of NMEA 0183 means.
// Source: nuovamarea.net/blog/gpgga and the wiki of the university of Hohenheim,
// which agree; 3 (precise positioning service) is an autonomous fix too.
func GGAQuality(v float64) (Quality, bool) {
	switch v {
	case 0:
		return QualityNone, true
	case 1, 3:
		return QualitySingle, true
	case 2:
		return QualityDifferential, true
	case 4:
		return QualityFixed, true
	case 5:
		return QualityFloat, true
	case 6, 7, 8: // dead reckoning, manual, simulator
		return QualityEstimated, true
	}
	return QualityUnknown, false
}

// Track is what the antenna logged, in order.
type Track struct {
	Name   string
	Source string
	// Line holds the fixes: layout XYM (lon, lat in degrees, WGS84; M = seconds
	// since 1970-01-01 UTC, NaN where not logged). Its parts are the track's own
	// breaks and are never bridged.
	Line *geom.MultiLineString
	Columns
	Bar float64 // m, of the whole bar by the machine's own description; 0 = not told
	// Course: Heading holds courses, the direction the antenna moved in, not where
	// the machine pointed. They tell nothing that Line does not, least of all a crab
	// angle, which is the difference of the two.
	Course bool
	// FieldRef is the Name of the geo.Field that the file says the work was done
	// on; "" where it names none.
	FieldRef string
	Told     Told
	// Counted is what the machine's own counters rose by over the track, and what else it
	// logged of the work; nil: nothing.
	Counted *Counted
	// Number is which track of its file it is, from 1; 0: not told.
	Number int
	Came   Came
}

// Record is the number of a track for findings: that in its file, or where that is not told
// by its index among others.
func (t Track) Record(index int) int {
	if t.Number > 0 {
		return t.Number
	}
	return index + 1
}

// Told is who worked with what for whom, as the file names it; "" where it does not.
type Told struct{ Machine, Driver, Farm string }

// Came says how the fixes stood in their file, for those who put a log together (Bars,
// InOrder, Once). Cleaning does not look at it, and what comes after only at States.
type Came struct {
	Points   bool      // one by one, not as lines drawn
	Order    []float64 // by fix, what the column that numbers them says, NaN: nothing; nil: none was named
	Apart    []float64 // by fix, the way since the one before as logged, in whatever unit; NaN: not logged; nil: there are times, or it is not logged
	Pass     []int32   // by fix, which of the values in the file's pass column, NoPass: none; nil: there is none
	Section  string    // the value of the section column that all fixes have
	States   bool      // balk's own layer of what the set did
	Log      int       // tracks of one file, as it was given, have the same number
	Numbered string    // a column whose name says that it numbers the fixes, not used; "": none
}

// NoPass is the pass of a fix that does not say one.
const NoPass = -1

// Counted is what a machine says of its work itself; NaN where not logged.
type Counted struct {
	Working     float64 // m, implement in work
	Idle        float64 // m, implement out of work
	Area        float64 // m² worked
	WorkingTime float64 // s
	IdleTime    float64 // s
	Fuel        float64 // l

	// Means over the fixes at work.
	Depth float64 // m, of tillage or seeding
	Mass  float64 // kg/m² put out
	Count float64 // pieces/m² put out
}

// NotCounted is a Counted that says nothing.
func NotCounted() Counted {
	no := math.NaN()
	return Counted{no, no, no, no, no, no, no, no, no}
}

// Fixes is how many positions the track has.
func (t Track) Fixes() int {
	if t.Line == nil {
		return 0
	}
	return len(t.Line.FlatCoords()) / t.Line.Stride()
}

// Middle is when the fix in the middle of the track was logged; the zero time: nothing says it.
func (t Track) Middle() time.Time { return Instant(t.middleTime()) }

// Moved is the track moved by so many degrees.
func (t Track) Moved(lon, lat float64) Track {
	flat, stride := slices.Clone(t.Line.FlatCoords()), t.Line.Stride()
	for i := 0; i < len(flat); i += stride {
		flat[i], flat[i+1] = flat[i]+lon, flat[i+1]+lat
	}
	t.Line = geom.NewMultiLineStringFlat(t.Line.Layout(), flat, t.Line.Ends()).SetSRID(t.Line.SRID())
	return t
}

// Instant is the time of seconds since 1970 UTC, to the microsecond, which is what a float64
// of such seconds holds; the zero time where not logged, or so far from now that it is no log's.
func Instant(seconds float64) time.Time {
	const horizon = 1 << 36 // s, some two thousand years
	if !(math.Abs(seconds) <= horizon) {
		return time.Time{}
	}
	whole, part := math.Modf(seconds)
	return time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC()
}

// Dated says whether t has a date. A log that has times of day alone counts them from the first
// day of 1970, before any satellite told the time.
func Dated(t time.Time) bool { return t.Year() > 1970 }

// Moment is t to the second for people, without a date where the log has none.
func Moment(t time.Time) string {
	if !Dated(t) {
		return t.Format("15:04:05")
	}
	return t.Format("2006-01-02 15:04:05")
}
