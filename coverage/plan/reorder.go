package plan

import (
	"context"
	"fmt"
	"slices"

	"balk/coverage/turn"
)

// Reordered is the same work with other passes, or the same in another order or driven the other way: every move is
// laid out anew. Passes are numbered in the order given; their lines are taken as they are, and open: the set leaves a
// round where its line ends.
//
// Errors: the plan's field, implement or options do not serve; a pass without a line; ctx.
func (p Plan) Reordered(ctx context.Context, passes []Pass) (Plan, error) {
	opt := p.Options
	opt.Rounds = p.Rounds
	s, err := surveyOf(ctx, p.Field, p.Implement, opt)
	if err != nil {
		return Plan{}, err
	}
	if err := s.roundsAndCorridors(ctx); err != nil {
		return Plan{}, err
	}
	out := p
	out.Passes, out.Moves, out.Bound, out.Within = nil, nil, 0, 0
	d := drawing{survey: s, plan: &out, at: s.opt.Gate, from: s.home}
	for i, one := range passes {
		if err := ctx.Err(); err != nil {
			return Plan{}, err
		}
		n := len(one.Line)
		if n < 2 || one.Line[0] == one.Line[1] || one.Line[n-2] == one.Line[n-1] {
			return Plan{}, fmt.Errorf("pass %d of %d: must be a line of two places at least, each apart from the next", i+1, len(passes))
		}
		if one.Part < 0 || one.Part >= len(s.parts) {
			return Plan{}, fmt.Errorf("pass %d of %d, part %d: must be from 0 to %d", i+1, len(passes), one.Part, len(s.parts)-1)
		}
		in, left := headings(one.Line)
		d.part = one.Part
		if err := d.move(one.Line[0], in); err != nil {
			return Plan{}, err
		}
		one.Heading = in
		d.pass(one, left)
	}
	return out, d.leave()
}

// Paths are the way of the tractor's rear axle piece by piece, one path after the other; none where Line is all there is.
func (m Move) Paths() []turn.Path { return slices.Clone(m.paths) }
