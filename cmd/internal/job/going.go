package job

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"balk/coverage"
	"balk/coverage/rework"
	"balk/coverage/turn"
	"balk/geo/workers"
)

// Going says what going back would cost, and what stands on missed ground.
type Going struct {
	Approach float64 `json:"approach,omitempty"` // minutes, for coming back once the set has left
	Target   Target  `json:"target,omitempty"`   // what the operation was to kill, or a file of patches where it matters most; "" = not said
	// TargetLayer is the layer of the file of patches that holds them; "" = one of Layers.
	TargetLayer string `json:"targetLayer,omitempty"`
}

// Target is what an operation was to kill. It decides how much of what was missed is worked again where nothing else says it.
type Target string

const (
	TargetAnnual    Target = "annual"    // what is left grows on for a season: up to the knee of the curve
	TargetPerennial Target = "perennial" // what is left spreads: all
	TargetSod       Target = "sod"       // what is left stands up again and is cut by the next operation: nine tenths
)

// sodShare is common practice, no source.
const sodShare = 0.9

func (g Going) validate() error {
	if !(g.Approach >= 0) {
		return fmt.Errorf("approach %g min: must be 0 or more", g.Approach)
	}
	if g.Target.File() != "" {
		return nil
	}
	if g.TargetLayer != "" {
		return fmt.Errorf("--target-layer %s: is of a file of patches, which --target names", g.TargetLayer)
	}
	switch g.Target {
	case "", TargetAnnual, TargetPerennial, TargetSod:
		return nil
	}
	return fmt.Errorf("target %q: must be %s, %s or %s, or a file of patches", string(g.Target), TargetAnnual, TargetPerennial, TargetSod)
}

// File is the file of patches that t names; "" = none. Names of files have a dot or a folder.
func (t Target) File() string {
	if strings.ContainsAny(string(t), `./\`) {
		return string(t)
	}
	return ""
}

// first are the strips that are worked first: those in patches.
func first(c *coverage.Result) []int {
	if c.Patches == nil {
		return nil
	}
	return c.Patches.Strips
}

// take is how much is worked again where the call does not say it otherwise.
func (g Going) take(said rework.Take) rework.Take {
	switch {
	case said != rework.Take{}:
		return said
	case g.Target == TargetPerennial:
		return rework.Take{}
	case g.Target == TargetSod:
		return rework.Take{Share: sodShare}
	}
	return rework.Take{Knee: true}
}

// leastOptions are the strips that a driver goes for at all (common practice, no source).
var leastOptions = rework.Options{LeastArea: 2, LeastWidth: 0.1}

// LeastArea and LeastWidth are those of strips that are worked again where the call does not say it.
func LeastArea() float64  { return leastOptions.LeastArea }
func LeastWidth() float64 { return leastOptions.LeastWidth }

// worth works out what strips win per minute, with the set that worked: none where it is not described well enough for that, or where
// the log cannot tell strips.
func (r *Report) worth(ctx context.Context, c *coverage.Result, call *Call) error {
	im := r.Spec.Implement
	if c.Telling.Strips == coverage.GraspNone || len(c.Strips) == 0 || im.TurnRadius() == 0 {
		return nil
	}
	call.step("working out what going back wins", 1+len(r.Spec.Tracks), r.Spec.steps())
	o := leastOptions
	o.First, o.Approach = first(c), 60*r.Spec.Approach
	w, err := workers.Until(ctx, func() (coverage.Worth, error) { return rework.Worth(ctx, *c, im, o) })
	if _, lacking := errors.AsType[*turn.Lacking](err); lacking {
		return nil
	}
	if err != nil {
		return fmt.Errorf("what going back wins: %w", err)
	}
	if len(w.Steps) > 0 {
		c.Worth = &w
	}
	return nil
}
