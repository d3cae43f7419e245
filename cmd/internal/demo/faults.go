package demo

import (
	"fmt"
	"math"
	"strings"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Kind is what is wrong with a log.
type Kind string

// The kinds of faults built into the farm's logs, and what the size of each is.
const (
	Drifted     Kind = "bends aside"       // m, in its middle, to the left of its way if positive
	LiftedEarly Kind = "lifted early"      // m before its end
	LoweredLate Kind = "lowered late"      // m after its beginning
	Twice       Kind = "driven twice"      // m, its length
	LeftOut     Kind = "left out"          // m, its length
	LogGap      Kind = "hole in the log"   // s without a fix
	WorseFix    Kind = "worse fix quality" // m, by which the receiver is off in the middle of a float fix
)

// units are those of the sizes, for people.
var units = map[Kind]string{LogGap: "s"}

// Fault is one thing that is wrong on purpose with a log of the farm.
type Fault struct {
	Field    string // name
	Log      string // "pond" of track-pond
	Kind     Kind
	Pass     int       // in the order driven, from 1; of what was left out the one before
	Size     float64   // see Kind
	From, To orb.Point // degrees, on the line of the bar's middle: where it begins and ends
	// Area is the ground it touches at credited width, m²: missed; of a pass driven twice worked twice, of a hole in
	// the log unknown. A worse fix only seems to move that much ground.
	Area float64
}

// faultsOf places the faults of an operation.
func (g ground) faultsOf(op operation) []Fault {
	l := geo.LocalAt(g.centre)
	width := op.im.Width - op.im.Overlap
	var all []Fault
	place := func(j job, pass int, from, to, size, area float64) {
		a, _ := along(j.Line, from)
		b, _ := along(j.Line, to)
		all = append(all, Fault{Field: g.name, Log: g.slug, Kind: j.wrong.kind, Pass: pass, Size: size, From: l.Point(a), To: l.Point(b), Area: area})
	}
	for k, j := range op.jobs {
		size := j.wrong.size
		long := j.to - j.from
		switch j.wrong.kind {
		case Drifted:
			place(j, k+1, j.from, j.to, size, gap(math.Abs(size), op.lap(k))*long)
		case LiftedEarly:
			place(j, k+1, j.to-size, j.to, size, size*width)
		case LoweredLate:
			place(j, k+1, j.from, j.from+size, size, size*width)
		case Twice:
			place(j, k+1, j.from, j.to, long, long*width)
		case LogGap, WorseFix:
			w := op.windows[j.wrong.kind]
			a, b := at(op.way, w.from), at(op.way, w.to)
			area := a.bar.Dist(b.bar) * width
			if j.wrong.kind == WorseFix {
				area = gap(size, op.lap(k)) * a.bar.Dist(b.bar)
			}
			all = append(all, Fault{Field: g.name, Log: g.slug, Kind: j.wrong.kind, Pass: k + 1, Size: size, From: l.Point(a.bar), To: l.Point(b.bar), Area: area})
		}
		if j.leaves != nil {
			left := *j.leaves
			long := left.to - left.from
			place(left, k+1, left.from, left.to, long, long*width)
		}
	}
	return all
}

// gap is how wide, in the mean, the ground is that a pass opens beside its neighbour where it bends aside by size·sin², m: what is left of
// that beyond the lap of both.
func gap(size, lap float64) float64 {
	const steps = 1000
	sum := 0.0
	for i := range steps {
		sum += max(0, size*math.Pow(math.Sin(math.Pi*(float64(i)+0.5)/steps), 2)-lap)
	}
	return sum / steps
}

// lap is by how much pass k of the interior laps over the one beside it at credited width, m: passes are spread evenly.
func (op operation) lap(k int) float64 {
	j := op.jobs[k]
	middle, _ := along(j.Line, (j.from+j.to)/2)
	apart := math.Inf(1)
	for _, other := range op.jobs {
		for i := 1; i < len(other.Line) && other.Round == 0; i++ {
			if d := (plane.Segment{A: other.Line[i-1], B: other.Line[i]}).Dist(middle); d > op.im.Width/2 { // else it is the same pass
				apart = min(apart, d)
			}
		}
	}
	return max(0, op.im.Width-op.im.Overlap-apart)
}

// list says the faults of a field, for README.txt.
func list(all []Fault) string {
	var b strings.Builder
	for _, f := range all {
		unit := units[f.Kind]
		if unit == "" {
			unit = "m"
		}
		pass := "pass "
		if f.Kind == LeftOut {
			pass = "after"
		}
		fmt.Fprintf(&b, "  %s %2d  %-18s %6.2f %-2s from %.6f, %.6f to %.6f, %.6f\n", pass, f.Pass, f.Kind, f.Size, unit, f.From[0], f.From[1], f.To[0], f.To[1])
	}
	return b.String()
}
