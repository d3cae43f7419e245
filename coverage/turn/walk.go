package turn

import (
	"fmt"
	"math"

	"balk/geo/plane"
)

const (
	finestStep = 1e-3 // m; finer asks for more samples than anything drawn or driven can use
	finestBow  = 1e-6 // m
	mostSteps  = 1e7  // samples of one walk, some seconds of work
)

// Walk calls f at the start of p, at every end of a piece and between them at
// equal steps of at most step metres. s is the distance driven; curvature and gear
// are those of the piece that led there, at the start those of the first.
// Errors: p does not pass Validate; step below 1 mm; more than ten million samples.
func (p Path) Walk(step float64, f func(s float64, at Pose, curvature float64, reverse bool)) error {
	if !(step >= finestStep) {
		return fmt.Errorf("step %g m: must be %g m at least", step, finestStep)
	}
	return p.walk(func(Arc) float64 { return step }, f)
}

// Line is p as a line of points with every end of a piece among them. No point
// of the path lies farther than bow (m) from the line, for |P″| = |κ|, and a chord over h
// departs from its curve by h²/8·max|P″| at most.
// Errors: p does not pass Validate; bow below 1 µm; more than ten million points.
func (p Path) Line(bow float64) ([]plane.XY, error) {
	if !(bow >= finestBow) {
		return nil, fmt.Errorf("bow %g m: must be %g m at least", bow, finestBow)
	}
	var line []plane.XY
	err := p.walk(func(a Arc) float64 { return math.Sqrt(8 * bow / a.bent()) },
		func(_ float64, at Pose, _ float64, _ bool) { line = append(line, at.At) })
	if err != nil {
		return nil, err
	}
	return line, nil
}

// walk visits p at steps of at most stepOf(piece), which may be +Inf.
func (p Path) walk(stepOf func(Arc) float64, f func(s float64, at Pose, curvature float64, reverse bool)) error {
	if err := p.Validate(); err != nil {
		return err
	}
	all := 1.0
	for _, a := range p.Pieces {
		all += math.Ceil(math.Abs(a.Length) / stepOf(a))
	}
	if all > mostSteps {
		return fmt.Errorf("path of %g m: %g samples, must be %g at most", p.Length(), all, mostSteps)
	}
	first := Arc{}
	if len(p.Pieces) > 0 {
		first = p.Pieces[0]
	}
	f(0, p.From, first.From, first.Length < 0)
	at, s := p.From, 0.0
	for _, a := range p.Pieces {
		whole := math.Abs(a.Length)
		n := max(1, int(math.Ceil(whole/stepOf(a))))
		for k := 1; k < n; k++ {
			t := whole * float64(k) / float64(n)
			part := a.first(t)
			f(s+t, at.Moved(part.travel()), part.To, a.Length < 0)
		}
		at = at.Moved(a.travel())
		s += whole
		f(s, at, a.To, a.Length < 0)
	}
	return nil
}
