package drive

import (
	"fmt"
	"math"

	"balk/geo"
)

// Pass-to-pass error: by how much two passes over a place within some 15 minutes
// may seem to lie apart, 95 %, in metres, across the travel (in the sense of ISO
// 12188-1). It is the error of a difference of two places; what is wrong with
// both alike, such as the day's offset of the receiver, is no part of it. It is
// taken for the bar as for the antenna: what the drawbar or the frame adds is not
// logged.

// maxPassError is the largest pass-to-pass error taken; beyond it a log says
// nothing about strips.
const maxPassError = 10.0 // m

// In95 is how many standard deviations hold 95 % of a normal distribution.
const In95 = 1.96

// ErrorOf is the pass-to-pass error in metres, 95 %, of fixes of a quality; NaN where
// none is known. Where sources give a range its upper end is taken: a strip is
// called unsure rather than sure.
func ErrorOf(q geo.Quality) float64 {
	switch q {
	case geo.QualityFixed:
		// Standard deviation 1.43 cm in motion: Appl. Eng. Agric. 30(3) 361 (2014).
		// A certified service promises ±2 cm.
		return 0.0143 * In95
	case geo.QualityFloat:
		// One to two decimetres, from memory. Some receivers call a satellite
		// correction so, which the same paper finds better (2.55 cm · 1.96 = 5 cm):
		// who has one gives Work.PassError.
		return 0.2
	case geo.QualityDifferential:
		// Augmented by satellite: a slow error of 0.2 m in either coordinate that changes over some 15 minutes (from memory). What it differs
		// by within that time has 2·0.2²·e⁻¹ for its mean square.
		return 0.34
	case geo.QualitySingle:
		return 1.0 // 0.3 to 1 m, from memory
	}
	// Nobody can say for a place that was reckoned, typed in or simulated.
	return math.NaN()
}

// boundByHDOP says whether HDOP bounds the error: where no error is given, and no track says how any
// fix was won. Which corrections a receiver had HDOP does not tell.
func boundByHDOP(tracks []geo.Track, w Work) bool {
	if w.PassError > 0 {
		return false
	}
	for _, t := range tracks {
		for _, q := range t.Quality {
			if !math.IsNaN(ErrorOf(q)) {
				return false
			}
		}
	}
	return true
}

// mostAt is the most that the pass-to-pass error is at an HDOP, in metres, 95 %: that of an autonomous
// receiver, which grows in proportion to it and is at 1 what ErrorOf says. NaN: no HDOP is logged.
func mostAt(hdop float64) float64 {
	if !(hdop > 0) {
		return math.NaN()
	}
	return math.Min(hdop*ErrorOf(geo.QualitySingle), maxPassError)
}

// errorsAt is the pass-to-pass error of fix k in metres: given, or by its quality, or bounded by its HDOP, and
// that of rounded coordinates; NaN where not known. Slow is what of it no row takes out of itself; 0 where not known.
func (t *trail) errorsAt(k int, w Work) (all, slow float64) {
	e := w.PassError
	slow = e
	switch {
	case e > 0:
	case t.HDOP != nil:
		e = mostAt(t.HDOP[k])
		slow = e
	case t.Quality != nil:
		e = ErrorOf(t.Quality[k])
		if slow = e; t.Quality[k] == geo.QualityFixed {
			slow = slowPart(e, math.Max(0, 2*In95*In95*t.white*t.white-t.rounding*t.rounding))
		}
	default:
		return math.NaN(), 0
	}
	if math.IsNaN(e) {
		return e, 0
	}
	return math.Hypot(e, t.rounding), math.Hypot(slow, t.rounding)
}

// slowPart is what of a pass-to-pass error no row takes out of itself, where single fixes were compared and the log shows by how much their white noise has
// them differ, white, m² as the square of an error at 95 %. An error of white noise of deviation w and a slow one has as its square
//
//	passError² = white + slow²,   white = (1.96·√2·w)²
//
// A row has so many fixes that of its white noise nothing is left, and what passes differ by over their length is slow. Where white noise takes more than half, its
// receiver is no better than the class, or worse, and the equation would leave it nothing: a slow error is then taken to be as large as the white noise,
// up to the whole class, since what else errs (reflections, the air, other satellites) is no less than it. Common practice, no source.
//
//	slow² │╲       ┌──  1: the class
//	      │  ╲   ╱
//	      │    ╳        ½: the least
//	      └────┴───┴──  white
//	      0    ½   1
//
// A log without white noise, smoothed by its receiver or interpolated, keeps the whole class. That is too wide, as its noise
// was part of the class too, and never too sure.
func slowPart(passError, white float64) float64 {
	class := passError * passError
	return math.Sqrt(math.Max(class-white, math.Min(white, class)))
}

// Steps of logged coordinates.
const (
	// stepFixes is how many fixes it takes to tell the step: that none of 20 has
	// another digit by chance, twice over, is a matter of 1 in 10^40.
	stepFixes = 20
	// coarseStep is the step from which it is said: the best receivers wander less.
	coarseStep = 0.02 // m
	// minuteLength is a minute of latitude: the nautical mile, within 0.6 %.
	minuteLength = 1852.0 // m
	// onGrid is how far a coordinate may lie off a multiple of the step, as a
	// share of it: a float64 holds 180° to 3e-14°, 3e-6 of the finest step looked
	// for, and some roundings come on top.
	onGrid = 1e-3
	// onSpot caps that, in degrees: 0.1 m. A share of a whole degree alone would take a field beside one for a log in whole
	// degrees.
	onSpot = 1e-6
)

// grids are the units in which coordinates are logged, and the decimals looked
// for. Finer steps are below 2 mm and hide no strip.
var grids = []struct {
	perDegree float64
	decimals  int
	words     string
}{{1, 8, "a degree"}, {60, 6, "a minute"}}

// stepOf finds the step of coordinates (flat, degrees) from their digits: the
// coarsest 10^-k of a degree or a minute that they all are multiples of. Metres
// are along the meridian; eastwards the step is smaller. Coordinates that were
// rounded in another system than degrees show no step: 0.
func stepOf(flat []float64, stride int) (metres float64, words string) {
	if len(flat) < stepFixes*stride {
		return 0, ""
	}
	for _, g := range grids {
		k, ok := decimalsOf(flat, stride, g.perDegree, g.decimals)
		if m := 60 * minuteLength / g.perDegree * math.Pow10(-k); ok && m > metres {
			metres, words = m, fmt.Sprintf("%d decimals of %s", k, g.words)
		}
	}
	return metres, words
}

// decimalsOf is how many decimals, up to most, the coordinates have in a unit; ok is
// false when they have more.
func decimalsOf(flat []float64, stride int, perDegree float64, most int) (decimals int, ok bool) {
	scale := perDegree
	for i := 0; i < len(flat); i += stride {
		for _, v := range flat[i : i+2] {
			if !(math.Abs(v) <= 180) {
				continue // no place on earth: left out of the trail as well
			}
			for math.Abs(v*scale-math.Round(v*scale)) > math.Min(onGrid, onSpot*scale) {
				if decimals == most {
					return 0, false
				}
				decimals++
				scale *= 10
			}
		}
	}
	return decimals, true
}

// roundingError is the 95 % error in metres of the difference of two places that are
// rounded to a step q both ways. A coordinate's own error is even over ±q/2,
// variance q²/12; a difference of two has q²/6, in every direction, since north
// and east are rounded apart. Along a meridian the difference is spread as a
// triangle over ±q, 95 % of it within (1 − √0.05)·q = 0.776·q; askew the sum of
// two triangles is nearer to a normal distribution, 1.96·q/√6 = 0.800·q. The
// larger is taken. Variances of independent errors add, so it is added to the
// receiver's in quadrature.
func roundingError(q float64) float64 { return In95 / math.Sqrt(6) * q }

// rounded notes the step of a track's coordinates, which adds to the error where one is known.
func (t *trail) rounded(track geo.Track, w Work) []geo.Finding {
	step, words := stepOf(track.Line.FlatCoords(), track.Line.Stride())
	if w.PassError > 0 || t.Quality != nil || t.HDOP != nil {
		t.rounding = roundingError(step)
	}
	if step <= coarseStep {
		return nil
	}
	return []geo.Finding{{File: track.Source, Record: t.tracks[0].record,
		What: fmt.Sprintf("coordinates come in steps of %.2g m (%s): rounding alone puts two passes up to %.2g m apart or together (limit of the step %g m)", step, words, roundingError(step), coarseStep)}}
}
