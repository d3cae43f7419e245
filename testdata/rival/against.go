package rival

import (
	"context"
	"fmt"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Set is a set that plans are compared for.
type Set struct {
	Name      string
	Implement rig.Implement
}

// Sets are three invented sets: usual sizes, common practice, no source.
func Sets() []Set {
	mounted := func(width float64) rig.Implement {
		return rig.Implement{Name: "mounted", Width: width, Mount: rig.Mount{Hitch: 1.2, BarBehind: 1},
			Tractor: rig.Tractor{Ahead: 3.8, Behind: 1, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 0.8, Width: width},
			Turning: rig.Turning{Radius: 5.5, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.3}}
	}
	trailed := mounted(5)
	trailed.Name, trailed.Mount = "trailed", rig.Mount{Trailed: true, Hitch: 1.2, Drawbar: 4, BarBehind: 1, DrawbarRadius: 6.5}
	return []Set{{"mounted 6 m", mounted(6)}, {"trailed 5 m", trailed}, {"mounted 3 m", mounted(3)}}
}

// Usual are the prices at which plans are compared: those that coverage/plan takes where none is given.
func Usual() Prices {
	var usual plan.Options
	return Prices{Speed: 8, Missed: usual.MissedPrice(), Unfit: 60 * usual.UnfitPrice()}
}

// Row is a field and a set: what both planners come to.
type Row struct {
	Field  string  `json:"field"`
	Set    string  `json:"set"`
	Area   float64 `json:"area"`   // m²
	Needed int     `json:"needed"` // rounds
	Inside float64 `json:"inside"` // m² within the rounds needed
	Rival  Plan    `json:"rival"`
	Bound  float64 `json:"bound"`  // h
	Balk   Plan    `json:"balk"`   // its pattern is not named
	Order  float64 `json:"order"`  // how far balk's plan is above the least that its own rows and rounds take in any order, as a share of that
	InRows float64 `json:"inRows"` // m² of rows in balk's plan
	CPU    float64 `json:"cpu"`    // s, what balk's plan took to find
}

// Ratio is what balk's plan comes to by what the other does.
func (r Row) Ratio() float64 { return r.Balk.Value / r.Rival.Value }

// Gap is how far balk's plan is above the bound, as a share of it.
func (r Row) Gap() float64 { return r.Balk.Value/r.Bound - 1 }

// Share is how much of the ground inside the rounds needed lies in rows; 1 where the field is too small for any.
func (r Row) Share() float64 {
	if r.Inside < r.Area/100 {
		return 1
	}
	return min(1, r.InRows/r.Inside)
}

// Alone plans a field with a set by the rules of this room.
func Alone(name string, field []plane.Polygon, s Set) Row {
	l := plannerOf(field, s.Implement, Usual())
	needed := Needed(s.Implement)
	return Row{Field: name, Set: s.Name, Area: areaOf(l.rings), Needed: needed, Inside: areaOf(l.inner[needed]), Rival: l.best(), Bound: l.bound()}
}

// Beside adds what coverage/plan comes to.
func (r *Row) Beside(ctx context.Context, field []plane.Polygon, s Set) error {
	all, err := plan.Compare(ctx, field, []rig.Implement{s.Implement}, plan.Options{Speed: geo.KmPerHour(Usual().Speed)}, plan.Objective{})
	if err != nil {
		return fmt.Errorf("field %s, %s: %w", r.Field, s.Name, err)
	}
	c := all[0].Candidate
	r.Balk = Plan{Rounds: c.Rounds, Direction: c.Direction, Rows: c.Passes, Hours: c.Hours, Missed: c.Missed, Unfit: len(c.Infeasible), Value: c.Value}
	r.InRows, r.Order = 0, c.Gap
	for _, one := range all[0].Plan.Passes {
		if one.Round == 0 {
			r.InRows += one.Length * c.Credited
		}
	}
	return nil
}
