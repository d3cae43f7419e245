package turn

import "fmt"

// Steering is what a set's steering allows.
type Steering struct {
	// Radius is the least radius of the path, m. It bounds the curvature to 1/Radius.
	Radius float64 `json:"radius"`
	// Sharpness is how much the curvature may change per metre, 1/m². 0: the
	// wheels turn at once, curvature may jump.
	Sharpness float64 `json:"sharpness,omitempty"`
	// Standing: with a sharpness given, the wheels may be turned while the set
	// stands at a change of direction. Without it they are straight there.
	Standing bool `json:"standing,omitempty"`
}

const (
	leastSharpness = 1e-4 // 1/m²: 1000 m to steer down to a radius of 10 m
	mostSharpness  = 1e6  // 1/m²: a micrometre to steer down to a radius of 1 m
)

// Validate says what is wrong with s.
func (s Steering) Validate() error {
	if err := radiusFault(s.Radius); err != nil {
		return err
	}
	if s.Sharpness != 0 && !(s.Sharpness >= leastSharpness && s.Sharpness <= mostSharpness) {
		return fmt.Errorf("sharpness %g per m²: must be from %g to %g per m², or 0 for wheels that turn at once", s.Sharpness, leastSharpness, mostSharpness)
	}
	return nil
}

// Kind is a kind of turn.
type Kind string

const (
	// PlainU bends to the next pass without steering away first.
	PlainU Kind = "plain U"
	// Bulb steers away first and swings round: for passes nearer than a plain U allows.
	Bulb Kind = "bulb"
	// Hook is a bulb that bulges beside the pass just left only and ends in a straight.
	Hook Kind = "hook"
	// HookBeyond bulges beyond the next pass only and begins with a straight.
	HookBeyond Kind = "hook beyond"
	// Fishtail is a quarter forward, a straight in reverse, a quarter forward.
	Fishtail Kind = "fishtail"
	// Shunt is three arcs, the middle one in reverse.
	Shunt Kind = "three-arc shunt"
	// Forward is the shortest way forward: Dubins 1957.
	Forward Kind = "shortest forward"
	// Reversing is the shortest way with reversing: Reeds & Shepp 1990.
	Reversing Kind = "shortest with reversing"
)

// Kinds lists all kinds of turn, those that never reverse first.
func Kinds() []Kind {
	return []Kind{PlainU, Bulb, Hook, HookBeyond, Forward, Fishtail, Shunt, Reversing}
}

// Reverses tells whether a kind may need reversing.
func (k Kind) Reverses() bool { return k == Fishtail || k == Shunt || k == Reversing }

// Unfit says that a kind of turn does not serve for these rows.
type Unfit struct {
	Kind Kind
	Why  string // value and limit
}

func (e *Unfit) Error() string { return fmt.Sprintf("%s: %s", e.Kind, e.Why) }

// Path is the turn of kind k from row to row.
//
//  1. It ends in r.To() within Exact.
//  2. |κ| ≤ 1/Radius up to rounding. With a sharpness |dκ/ds| ≤ Sharpness too, κ is 0 at both ends and
//     jumps at changes of direction only, and there only if Standing.
//  3. Mirrored rows give the mirrored path; moved and turned rows the moved and turned one. Only of
//     two shortest ways of the same length, Forward and Reversing may then give the other.
//  4. The greater the sharpness, the nearer to the path of arcs.
//
// Errors: *Unfit where the kind does not serve; a call outside the limits.
func (k Kind) Path(r Rows, s Steering) (Path, error) {
	all, err := k.paths(r, s)
	if err != nil {
		return Path{}, err
	}
	return all[0], nil
}

// paths are Path, and of a shortest way all others that are as long.
func (k Kind) paths(r Rows, s Steering) ([]Path, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	if k == Forward || k == Reversing {
		if s.Sharpness > 0 {
			return nil, &Unfit{k, fmt.Sprintf("sharpness %g per m²: must be 0, its curvature jumps", s.Sharpness)}
		}
		return k.shortest(r.From, r.To(), s.Radius)
	}
	pieces, err := draw(k, r, s)
	if err != nil {
		return nil, err
	}
	if !r.Left {
		for i := range pieces {
			pieces[i].From, pieces[i].To = -pieces[i].From, -pieces[i].To
		}
	}
	return []Path{{From: r.From, Pieces: pieces, Kind: k}}, nil
}
