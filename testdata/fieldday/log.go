package fieldday

import (
	"math"
	"math/rand/v2"

	"balk/geo"
	"balk/geo/plane"

	geom "github.com/twpayne/go-geom"
)

// Receiver is what a receiver errs by, and what of the work is logged.
type Receiver struct {
	Hertz   float64     // fixes in a second
	White   float64     // m, deviation in either coordinate of noise that is new with every fix
	Slow    float64     // m, deviation of an error that changes over SlowTime
	SlowFor float64     // s
	Quality geo.Quality // logged with every fix; unknown: it is not
	Working bool        // the state of the bar is logged
	Button  bool        // ... and it is that of the button
	Only    bool        // fixes are logged only while the state is working
	Widths  bool        // how wide the bar is at work, and how far aside that lies, is logged
	Stray   float64     // one fix in so many lies off by strayFrom to strayTo, anywhere; 0: none
}

// The receivers. Their figures are those of a simulator written apart from this project, so that both can be compared.
var (
	exact        = Receiver{Quality: geo.QualityFixed, SlowFor: 1}
	fixed        = Receiver{White: 0.007, Slow: 0.010, SlowFor: 600, Quality: geo.QualityFixed}
	noisy        = Receiver{White: 0.02, Slow: 0.015, SlowFor: 600, Quality: geo.QualityFixed}
	differential = Receiver{White: 0.02, Slow: 0.20, SlowFor: 900, Quality: geo.QualityDifferential}
	phone        = Receiver{White: 0.1, Slow: 3, SlowFor: 600}
)

// begin of all logs, seconds since 1970 UTC: 4 May 2026, 06:00.
const begin = 1777874400.0

// The steps in which logs hold places and times.
const (
	placeStep = 1e-9 // degrees
	timeStep  = 1e-3 // s
)

// every is how many ticks lie between two fixes.
func (r Receiver) every() int { return max(1, int(math.Round(1/r.Hertz/tick))) }

// errs is what a receiver errs by at so many fixes, m: new with every one, and slowly.
func (r Receiver) errs(fixes int, rng *rand.Rand) (white, slow []plane.XY) {
	keep := math.Exp(-float64(r.every()) * tick / r.SlowFor)
	fresh := math.Sqrt(1 - keep*keep)
	draw := func() plane.XY { return plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()} }
	at := draw()
	for k := range fixes {
		if k > 0 {
			at = at.Scale(keep).Add(draw().Scale(fresh))
		}
		white, slow = append(white, draw().Scale(r.White)), append(slow, at.Scale(r.Slow))
	}
	return white, slow
}

// strayFrom and strayTo are how far a single fix is put off by a receiver that takes a reflected signal for a straight one.
const strayFrom, strayTo = 0.3, 3.0 // m

// strays are how far single fixes lie off beside that, m.
func (r Receiver) strays(fixes int, seed uint64) []plane.XY {
	off := make([]plane.XY, fixes)
	rng := rand.New(rand.NewPCG(seed, 3011))
	for k := range off {
		if r.Stray > 0 && rng.Float64() < 1/r.Stray {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			off[k] = plane.XY{X: cos, Y: sin}.Scale(strayFrom * math.Pow(strayTo/strayFrom, rng.Float64()))
		}
	}
	return off
}

// errsOn are the errors of the log of a drive.
func (r Receiver) errsOn(d *driven, seed uint64) (white, slow []plane.XY) {
	return r.errs((len(d.antenna)+r.every()-1)/r.every(), rand.New(rand.NewPCG(seed, 1013)))
}

// logged is what a receiver logs of a drive.
func (d *driven) logged(r Receiver, seed uint64) geo.Track {
	every := r.every()
	white, slow := r.errsOn(d, seed)
	strays := r.strays(len(white), seed)
	t := geo.Track{Source: "track.geojson", Line: geom.NewMultiLineString(geom.XYM)}
	var flat []float64
	for k := 0; k < len(d.antenna); k += every {
		working := r.Button && d.button[k] || !r.Button && d.leg[k] != none
		if r.Only && !working {
			continue
		}
		p := Paper.Point(d.antenna[k].Add(white[k/every]).Add(slow[k/every]).Add(strays[k/every]))
		flat = append(flat, math.Round(p[0]/placeStep)*placeStep, math.Round(p[1]/placeStep)*placeStep, begin+math.Round(float64(k)*tick/timeStep)*timeStep)
		if r.Working {
			state := geo.Lifted
			if working {
				state = geo.Working
			}
			t.State = append(t.State, state)
		}
		if r.Widths {
			t.Bar = set(d.how.Trailed).Width // by the machine's own description
			up := 0.0
			if d.sectionUp(k) {
				up = d.how.SectionWidth
			}
			t.Width, t.Offset = append(t.Width, t.Bar-up), append(t.Offset, -up/2) // the right end is up
		}
		if r.Quality != geo.QualityUnknown {
			t.Quality = append(t.Quality, r.Quality)
		}
	}
	if err := t.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
		panic(err) // a line of places and times is one
	}
	return t
}
