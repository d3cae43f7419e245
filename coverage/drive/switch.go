package drive

import "math"

// Switch is where work begins or ends, as far as the log tells: m outward along the travel from where it is taken to do so. The zero value: that is
// logged, or the log begins or ends there.
//
// Of a row end x in its step from From to To, about a line of the others' that runs at Line + Doubt·z, z ~ N(0, 1), with a Spread of its own, this is the distribution
//
//	x | z ~ N(Line + Doubt·z, Spread²), cut off outside the step
//
// The rows of a side have z in common, since one line is told by all of them; the rest is each one's own. How much of an end's variance that makes hangs on its
// step: the mean of a normal distribution that is cut off goes with its line by v/Spread², v the variance that the step leaves it, so that ends whose step
// tells them well have little in common and others nearly all of the line's doubt.
type Switch struct {
	From, To            float64
	Line, Spread, Doubt float64 // Spread 0: no other rows tell it, and it lies anywhere in its step alike
}

// SD is the standard deviation, m.
func (s Switch) SD() float64 {
	if s.Spread == 0 {
		return (s.To - s.From) / math.Sqrt(12)
	}
	_, sd := cutNormal(s.Line, math.Hypot(s.Spread, s.Doubt), s.From, s.To)
	return sd
}

// Follows is how far the end goes with its line for each metre of that, 0 to 1, 0 where there is none: the derivative of the mean of a normal distribution that is cut off, its variance by Spread².
func (s Switch) Follows() float64 {
	if s.Spread == 0 {
		return 0
	}
	_, sd := cutNormal(s.Line, s.Spread, s.From, s.To)
	return min(1, sd*sd/(s.Spread*s.Spread))
}

// tellsLittle: a line that leaves an end so much of the standard deviation that its step has alone tells hardly anything of it.
const tellsLittle = 0.8

// Anywhere is how far the end may lie out or in, m, because it lies anywhere in its step alike, and the share of its variance that this is, 0 to 1. Where no line tells it that is half the
// step and all of the variance; where one tells hardly anything it is as much of the step as the end does not follow its line; else nothing.
func (s Switch) Anywhere() (half, share float64) {
	step, sd := (s.To-s.From)/math.Sqrt(12), s.SD()
	if !(sd > tellsLittle*step) {
		return 0, 0
	}
	free := 1 - s.Follows()
	return free * (s.To - s.From) / 2, min(1, free*free*step*step/(sd*sd))
}

// Drawn is a place drawn from the distribution by two numbers that are drawn from N(0, 1): what the rows of a side have in common, and what is its own.
func (s Switch) Drawn(line, own float64) float64 {
	below, above := lower(own), lower(-own)
	if s.Spread == 0 {
		return s.From*above + s.To*below
	}
	middle := s.Line + s.Doubt*line
	a, b := (s.From-middle)/s.Spread, (s.To-middle)/s.Spread
	switch {
	case a > drawnFar: // the density falls off as an exponential from the nearer end
		return math.Min(s.To, s.From-math.Log(above)*s.Spread/a)
	case b < -drawnFar:
		return math.Max(s.From, s.To-math.Log(below)*s.Spread/b)
	case a > 0: // tails are added up from their thin end, so that they keep their digits
		return math.Max(s.From, math.Min(middle+s.Spread*exceeded(lower(-a)*above+lower(-b)*below), s.To))
	}
	return math.Max(s.From, math.Min(middle-s.Spread*exceeded(lower(a)*above+lower(b)*below), s.To))
}

const (
	// cutFar: a normal distribution cut off beyond so many standard deviations is an exponential one, within a fortieth of its own deviation.
	cutFar = 6.0
	// drawnFar: up to here tails are far above the least float64.
	drawnFar = 30.0
)

// lower is the chance that a number drawn from N(0, 1) is below x.
func lower(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// exceeded is what a number drawn from N(0, 1) is above with a chance. math.Erfcinv takes its number from one, and has no digits left of small ones: these
// are found by Newton's rule for the logarithm of the chance, which is nearly a parabola.
func exceeded(chance float64) float64 {
	const small = 1e-4
	if chance > small {
		return math.Sqrt2 * math.Erfcinv(2*chance)
	}
	x := math.Sqrt(-2 * math.Log(chance))
	for range 5 {
		is := lower(-x)
		x += math.Log(is/chance) * is * math.Sqrt(2*math.Pi) * math.Exp(x*x/2)
	}
	return x
}

// open is what the log leaves open of a switch.
func (s switchover) open() Switch {
	out := Switch{From: s.from - s.at, To: s.to - s.at}
	if t := s.told; t.told && !s.strays(t.line, math.Hypot(t.spread, t.doubt)) {
		out.Line, out.Spread, out.Doubt = t.line-s.at, t.spread, t.doubt
	}
	return out
}
