package plan_test

import (
	"context"
	"fmt"
	"math"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo/plane"
)

// A field of 200 m by 112 m and a mounted set of 6 m, three headland rounds: 76 m are left to the passes, which are
// 76 / 6, rounded up.
func ExampleLay() {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 112}, {X: 0, Y: 112}}}}
	set := rig.Implement{Width: 6, Mount: rig.Mount{Hitch: 1.7, BarBehind: 1.1}, Tractor: rig.Tractor{Ahead: 4.2, Behind: 0.9, Width: 2.5},
		Body: rig.Body{Ahead: 0.9, Behind: 1.2}, Turning: rig.Turning{Radius: 5, Speed: 6, Margin: 0.5}}
	p, err := plan.Lay(context.Background(), field, set, plan.Options{Heading: 0, Rounds: 3, Speed: 8})
	if err != nil {
		fmt.Println(err)
		return
	}
	rounds := 0
	for _, pass := range p.Passes {
		if pass.Round > 0 {
			rounds++
		}
	}
	unfit := 0
	for _, m := range p.Moves {
		if m.Fault != nil {
			unfit++
		}
	}
	fmt.Printf("%d passes (%.0f wanted), %d rounds, %d turns that do not fit\n", len(p.Passes)-rounds, math.Ceil(76.0/6), rounds, unfit)
	c, err := plan.Simulate(context.Background(), p)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f h, missed less than 1 %%: %v\n", c.Hours, c.Missed < 0.01*c.Field)
	// Output:
	// 13 passes (13 wanted), 3 rounds, 0 turns that do not fit
	// 0.5 h, missed less than 1 %: true
}
