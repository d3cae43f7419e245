package plan

import (
	"context"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Best is the plan that Compare finds for one implement, without what it asks about it beside.
func Best(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options, goal Objective) (Found, error) {
	f, _, err := bestOf(ctx, field, im, opt, goal)
	return f, err
}
