package motion

import (
	"math"
	"slices"

	"balk/geo/plane"
)

// Stretch is an unbroken part of a log.
type Stretch struct {
	At      []plane.XY
	Seconds []float64
}

const (
	// FromMAD turns the median of absolute values of a normal variable into its standard
	// deviation: 1/Φ⁻¹(3/4).
	FromMAD = 1.4826
	// noiseLeast: fewer quadruples of fixes tell no noise.
	noiseLeast = 30
	// farApart, sharpBend: where fixes lie so far apart and the way bends by so much at one of them, the machine turned between them, and no parabola
	// runs through them, noise or none: white noise of 40 cm turns a way of 3 m by 30° once in seven times.
	farApart  = 3.0 // m
	sharpBend = math.Pi / 6
)

// Noise is the standard deviation of the white noise of some fixes across their way, in
// metres; NaN where too few fixes tell. Along the way a clock that is rounded looks like noise: a
// tenth of a second is two decimetres there.
//
// A motion of constant acceleration is a parabola in time. Four fixes that lie on one have a
// third divided difference of zero, so what is seen of it is noise, divided by the root of
// the sum of its squared weights. The median keeps out the few moments at which the machine
// jerks. With equal steps the weights are 1, −3, 3, −1 over √20. Of fixes that lie so far apart that turns have only a few of them, those of turns tell nothing.
func Noise(stretches []Stretch) float64 {
	var seen []float64
	for _, s := range stretches {
		for k := 0; k+3 < len(s.At); k++ {
			t, at := s.Seconds[k:k+4], s.At[k:k+4]
			var w [4]float64
			norm := 0.0
			for i := range w {
				w[i] = 1
				for j := range t {
					if j != i {
						w[i] /= t[i] - t[j]
					}
				}
				norm += w[i] * w[i]
			}
			var d plane.XY
			for i := range w {
				d = d.Add(at[i].Sub(at[0]).Scale(w[i]))
			}
			if turned(at) {
				continue
			}
			way := at[3].Sub(at[0])
			if off := math.Abs(way.Cross(d) / way.Len() / math.Sqrt(norm)); off < math.Inf(1) { // it moved, and no two fixes have one time
				seen = append(seen, off)
			}
		}
	}
	if len(seen) < noiseLeast {
		return math.NaN()
	}
	slices.Sort(seen)
	return FromMAD * seen[len(seen)/2]
}

// turned says whether fixes lie so far apart that the machine turned between them.
func turned(at []plane.XY) bool {
	bends := false
	for k := 1; k < len(at); k++ {
		step := at[k].Sub(at[k-1])
		if step.Len() < farApart {
			return false
		}
		if k > 1 {
			before := at[k-1].Sub(at[k-2])
			bends = bends || before.Dot(step) < math.Cos(sharpBend)*before.Len()*step.Len()
		}
	}
	return bends
}

// Part is what of a motion is looked at. A machine on its row changes speed far more readily than it goes aside.
type Part uint8

const (
	Whole Part = iota
	Across
	Along
)

// likely is how well a jerk density tells where the next fix lies: the negative log-likelihood
// of all innovations of the filter, without its constant. A stretch has a fix at least.
func (s Stretch) likely(noise, jerk float64, of Part) (sum float64) {
	f := startAt(s.At[0], noise)
	for k := 1; k < len(s.At); k++ {
		f = f.ahead(s.Seconds[k]-s.Seconds[k-1], jerk)
		way := f.state[1]
		off, v := f.take(s.At[k], noise*noise)
		if k < 3 { // the filter knows nothing yet
			continue
		}
		square, coordinates := off.Dot(off), 2.0
		if of != Whole {
			aside := way.Cross(off)
			aside *= aside / max(way.Dot(way), 1e-12)
			if coordinates = 1; of == Across {
				square = aside
			} else {
				square = max(0, square-aside)
			}
		}
		sum += square/(2*v) + coordinates/2*math.Log(v)
	}
	return sum
}

const (
	// The jerk density is sought between that of a machine that needs a minute for each
	// change of speed and that of one which shakes at 3 Hz by a metre.
	leastJerk, mostJerk = 1e-8, 1e4 // m²/s⁵
	jerkSteps           = 24        // halvings of the golden section: 1 % of the density
)

// Jerk is the density of a white jerk under which the fixes of some stretches are likeliest,
// in m²/s⁵, where their white noise is known; of their whole motion, or of what it is across or along the way. Golden section over its logarithm: one maximum is taken for
// granted, since the likelihood of one variance has one. Without a stretch it is the least.
func Jerk(stretches []Stretch, noise float64, of Part) float64 {
	if len(stretches) == 0 {
		return leastJerk
	}
	cost := func(log float64) float64 {
		sum, q := 0.0, math.Exp(log)
		for _, s := range stretches {
			sum += s.likely(noise, q, of)
		}
		return sum
	}
	const golden = 0.6180339887498949
	lo, hi := math.Log(leastJerk), math.Log(mostJerk)
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	ca, cb := cost(a), cost(b)
	for range jerkSteps {
		if ca < cb {
			hi, b, cb = b, a, ca
			a = hi - golden*(hi-lo)
			ca = cost(a)
		} else {
			lo, a, ca = a, b, cb
			b = lo + golden*(hi-lo)
			cb = cost(b)
		}
	}
	return math.Exp((lo + hi) / 2)
}
