package turn

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Path is a way driven from a pose. Its pieces follow each other without a
// break in place or heading; curvature may jump between them.
//
// Distances s along a path are metres driven, in either gear. A path that does
// not pass Validate gives NaN where a number is asked for.
type Path struct {
	From   Pose
	Pieces []Arc
	Kind   Kind // what built it; "" where nothing of this room did
}

// mostPieces bounds the work on one path: the turns here have ten at most.
const mostPieces = 1e6

// Validate says what is wrong with p.
func (p Path) Validate() error {
	if err := p.From.Validate(); err != nil {
		return fmt.Errorf("path, start: %w", err)
	}
	if len(p.Pieces) > mostPieces {
		return fmt.Errorf("path of %d pieces: must be %d at most", len(p.Pieces), int(mostPieces))
	}
	for i, a := range p.Pieces {
		if err := a.Validate(); err != nil {
			return fmt.Errorf("path, piece %d: %w", i+1, err)
		}
	}
	return nil
}

// Length is the way driven in both gears, m.
func (p Path) Length() float64 {
	var l float64
	for _, a := range p.Pieces {
		l += math.Abs(a.Length)
	}
	return l
}

// Reverse is the way driven in reverse, m.
func (p Path) Reverse() float64 {
	var l float64
	for _, a := range p.Pieces {
		l += math.Max(0, -a.Length)
	}
	return l
}

// Changes is how often the driving direction changes.
func (p Path) Changes() int {
	n, gear := 0, 0.0
	for _, a := range p.Pieces {
		if a.Length == 0 {
			continue
		}
		if gear != 0 && gear != a.gear() {
			n++
		}
		gear = a.gear()
	}
	return n
}

// End is the pose that p leads to. Its heading is not brought back to one turn:
// a U to the left ends π above its start.
func (p Path) End() Pose {
	at := p.From
	for _, a := range p.Pieces {
		at = at.Moved(a.travel())
	}
	return at
}

// At is the pose after s metres; before the start the first, beyond the end the last.
func (p Path) At(s float64) Pose {
	at := p.From
	for _, a := range p.Pieces {
		if whole := math.Abs(a.Length); s > whole {
			s -= whole
			at = at.Moved(a.travel())
			continue
		}
		return at.Moved(a.first(math.Max(0, s)).travel())
	}
	return at
}

// Word names the pieces in the manner of Dubins 1957 and Reeds & Shepp 1990: L, S,
// R, one letter for pieces that bend the same way one after the other; with a
// sign for the gear where the path reverses anywhere: "RLR", "L+R-L+".
func (p Path) Word() string {
	signs := p.Reverse() > 0
	var b strings.Builder
	last := ""
	for _, a := range p.Pieces {
		letter := "S"
		if bend := a.From + a.To; bend > 0 {
			letter = "L"
		} else if bend < 0 {
			letter = "R"
		}
		if signs && a.Length < 0 {
			letter += "-"
		} else if signs {
			letter += "+"
		}
		if letter != last {
			b.WriteString(letter)
		}
		last = letter
	}
	return b.String()
}

// Speeds are how fast a set turns.
type Speeds struct {
	Turning   float64 `json:"turning"`             // m/s, forward while turning
	Reversing float64 `json:"reversing,omitempty"` // m/s; needed for paths that reverse
	Change    float64 `json:"change,omitempty"`    // s for each change of direction: stop, shift, turn the wheels
}

const (
	fastest     = 30.0 // m/s; faster is a mistake of units
	slowest     = 0.01 // m/s
	longestStop = 3600 // s
)

// Validate says what is wrong with v.
func (v Speeds) Validate() error {
	if !(v.Turning >= slowest && v.Turning <= fastest) {
		return fmt.Errorf("turning speed %g m/s: must be from %g to %g m/s", v.Turning, slowest, fastest)
	}
	if v.Reversing != 0 && !(v.Reversing >= slowest && v.Reversing <= fastest) {
		return fmt.Errorf("reversing speed %g m/s: must be from %g to %g m/s, or 0 for none", v.Reversing, slowest, fastest)
	}
	if !(v.Change >= 0 && v.Change <= longestStop) {
		return fmt.Errorf("change of direction %g s: must be from 0 to %d s", v.Change, longestStop)
	}
	return nil
}

// Time is how long p takes, s.
func (p Path) Time(v Speeds) (float64, error) {
	if err := v.Validate(); err != nil {
		return 0, err
	}
	back := p.Reverse()
	if back == 0 {
		return p.Length() / v.Turning, nil
	}
	if v.Reversing == 0 {
		return 0, errors.New("reversing speed 0 m/s: must be above 0 for a path that reverses")
	}
	return (p.Length()-back)/v.Turning + back/v.Reversing + float64(p.Changes())*v.Change, nil
}

// add appends a piece, leaves out a crumb and joins what continues the same circle or straight.
func add(pieces []Arc, a Arc) []Arc {
	if l := math.Abs(a.Length); l < crumb && l*a.bent() <= rounding {
		return pieces
	}
	if n := len(pieces) - 1; n >= 0 && a.From == a.To && pieces[n].From == a.From && pieces[n].To == a.From && pieces[n].gear() == a.gear() {
		pieces[n].Length += a.Length
		return pieces
	}
	return append(pieces, a)
}
