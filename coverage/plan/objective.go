package plan

import (
	"cmp"
	"context"
	"fmt"
)

// Objective weighs what a plan comes to; the best has the least sum. All zero:
// hours alone.
type Objective struct {
	Hours  float64 `json:"hours,omitempty"`  // per hour
	Cost   float64 `json:"cost,omitempty"`   // per unit of currency
	Missed float64 `json:"missed,omitempty"` // per hectare missed
	Double float64 `json:"double,omitempty"` // per hectare worked twice or more
	Turns  float64 `json:"turns,omitempty"`  // per turn
}

// Validate says what is wrong with o.
func (o Objective) Validate() error {
	for _, w := range []float64{o.Hours, o.Cost, o.Missed, o.Double, o.Turns} {
		if !(w >= 0 && w <= mostRate) {
			return fmt.Errorf("weight %g of the objective: must be from 0 to %g", w, float64(mostRate))
		}
	}
	return nil
}

// Payable says what is wrong if o weighs cost and no rate makes any.
func (o Objective) Payable(r Rates) error {
	if o.Cost > 0 && r == (Rates{}) {
		return fmt.Errorf("cost weighs %g, and no rate is given: needs one per hour or per litre", o.Cost)
	}
	return nil
}

func (o Objective) value(hours, cost, missed, double float64, turns int) float64 {
	if o == (Objective{}) {
		o.Hours = 1
	}
	return o.Hours*hours + o.Cost*cost + o.Missed*missed/hectare + o.Double*double/hectare + o.Turns*float64(turns)
}

// of is the value of a candidate. Turns that do not fit count as the time they take beyond their ways, and ground that is
// missed as the time it takes after all: in hours and in what they cost, and where that weighs nothing, in hours.
func (o Objective) of(c Candidate) float64 {
	v := o.value(c.Hours+c.UnfitHours+c.Open, c.Cost+c.UnfitCost+c.OpenCost, c.Missed, c.Double, c.Turns)
	if weighed := o.Hours > 0 || o.Cost*c.OpenCost > 0; !weighed && o != (Objective{}) {
		v += c.UnfitHours + c.Open
	}
	return v
}

// atLeast is the value of a candidate if nothing were missed.
func (o Objective) atLeast(c Candidate) float64 {
	c.Open, c.OpenCost, c.Missed = 0, 0, 0
	return o.of(c)
}

// compare ranks candidates by their value. One that leaves more than half of the field stands behind all that do not: it is no plan
// for that field.
func (c Candidate) compare(o Candidate) int {
	half := func(c Candidate) bool { return c.Missed > c.Field/2 }
	if a, b := half(c), half(o); a != b {
		if a {
			return 1
		}
		return -1
	}
	return cmp.Compare(c.Value, o.Value)
}

// judged is what a plan comes to by the engine, with its value.
func (o Objective) judged(ctx context.Context, p Plan) (Candidate, error) {
	c, err := Simulate(ctx, p)
	c.Value = o.of(c)
	return c, err
}
