package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
)

// Before is what operations on the field have left so far: the next pass may work it in passing.
type Before struct {
	Missed []plane.Polygon // ground that none of them worked, on the plane of the field
	Joins  [][]plane.XY    // edges of their passes
}

// Repair is what a plan catches of ground that was missed before.
type Repair struct {
	Total  float64 `json:"total"`  // m² missed before
	Caught float64 `json:"caught"` // m² of it that lie in a pass, well inside its edges
	Slide  float64 `json:"slide"`  // m, by which the rows begin before the interior, over the headland, so that they do
	Joins  float64 `json:"joins"`  // m, edges of the rows
	OnOld  float64 `json:"onOld"`  // m of them that fall on an edge of a pass before

	// The same for the plan that the comparison finds without regard to what was missed; Extra is what this one takes beyond it, h.
	Plainly      float64 `json:"plainly"`
	PlainlyOn    float64 `json:"plainlyOnOld"`
	PlainlyJoins float64 `json:"plainlyJoins"`
	Extra        float64 `json:"extra"`
}

// Share is what is caught of all that was missed.
func (r Repair) Share() float64 {
	if r.Total == 0 {
		return 0
	}
	return r.Caught / r.Total
}

const (
	// WellInside: nearer to a pass's edge ground may be left again, m: what drivers and receivers are off from pass to pass, and
	// what stands beside a worn sweep (common practice, no source).
	WellInside = 0.3
	// besideEachOther: joins within so many radians of each other run along each other; others cross, and leave what is between them for a
	// moment only.
	besideEachOther = 10 * math.Pi / 180
	// probes is about how many places stand for the ground that was missed while directions and slides are looked through.
	probes = 20000
	// slideStep is how far apart slides are looked at, m.
	slideStep = 0.1
	// afterWays: so many directions of the curve are looked at, the best ones, and as many directions and slides are laid out as
	// afterDrawn says.
	afterWays, afterDrawn = 40, 6
	// joinStep is how far apart places on joins are, m.
	joinStep = 2.0
)

// after finds the direction and the slide of the rows with which the work, and what is left of the ground missed before at the price of
// such ground, takes least. best is the plan without regard to that. Bent rows keep their place: they are only judged.
//
//  1. It is never worse by that measure than best.
//  2. What it says of the plan, best's share included, comes from its own passes, by the engine.
func (s *survey) after(ctx context.Context, best Found, goal Objective) (Found, error) {
	b := *s.opt.Before
	old := newJoins(b.Joins)
	plainly, err := best.Plan.repair(ctx, b, old)
	if err != nil {
		return Found{}, err
	}
	value := func(c Candidate, r Repair) float64 {
		open := (r.Total - r.Caught + r.OnOld*s.passError()) / hectare * s.opt.MissedPrice()
		return c.Value + goal.value(open, open*s.opt.Rates.Hour, 0, 0, 0)
	}
	plain := best.Candidate
	best.Candidate.Repair = &plainly
	least := value(best.Candidate, plainly)
	if best.choice.along == nil && s.opt.Along == nil && !s.opt.AlongLongest && !s.opt.LeaveWedges && plainly.Total > 0 && !s.halt.now() {
		ways, err := s.slides(ctx, best, b, old, goal, value)
		if err != nil {
			return Found{}, err
		}
		for _, w := range ways {
			if s.halt.now() {
				break
			}
			p, err := s.lay(ctx, w, nil)
			if errors.Is(err, errNotPast) {
				continue
			}
			if err != nil {
				return Found{}, err
			}
			r, err := p.repair(ctx, b, old)
			if err != nil {
				return Found{}, err
			}
			c, err := goal.judged(ctx, p)
			if err != nil {
				return Found{}, err
			}
			if v := value(c, r); v < least && !(c.Missed > c.Field/2) {
				least = v
				c.Repair = &r
				best.Plan, best.Candidate, best.choice = p, c, w
			}
		}
	}
	best.Candidate.Stopped = s.halt.said
	r := best.Candidate.Repair
	r.Slide, r.Plainly, r.PlainlyOn, r.PlainlyJoins, r.Extra = best.choice.slide, plainly.Caught, plainly.OnOld, plainly.Joins, best.Candidate.Hours-plain.Hours
	return best, nil
}

func (s *survey) passError() float64 {
	if s.opt.PassError > 0 {
		return s.opt.PassError
	}
	return usualPassError
}

// slides are the directions and slides with the least value by an estimate, the best first: on places that stand for the ground, and for
// the joins before.
func (s *survey) slides(ctx context.Context, best Found, b Before, old *joins, goal Objective, value func(Candidate, Repair) float64) ([]choice, error) {
	rounds := best.Plan
	rounds.Passes, rounds.Moves = nil, nil
	for i, p := range best.Plan.Passes {
		if p.Round > 0 {
			rounds.Passes, rounds.Moves = append(rounds.Passes, p), append(rounds.Moves, best.Plan.Moves[i])
		}
	}
	left, total, err := rounds.leaves(ctx, b.Missed)
	if err != nil {
		return nil, err
	}
	var places []plane.XY
	each := max(total/probes, leastProbe*leastProbe)
	for _, p := range left {
		places = append(places, probesIn(p, math.Sqrt(each))...)
	}
	stand := s.standIn(places, old.places)
	type way struct {
		choice
		value float64
	}
	var all []way
	for _, h := range s.afterHeadings(best, old) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for _, slide := range s.slidesAt() {
			at := s.slid(slide)
			c := choice{heading: h, slide: slide}
			sample := at.estimate(c, goal, false)
			caught, on := at.guess(h, stand)
			all = append(all, way{c, value(Candidate{Value: sample.Value}, Repair{Total: float64(len(places)) * each, Caught: float64(caught) * each, OnOld: on})})
		}
	}
	slices.SortStableFunc(all, func(a, b way) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	var out []choice
	for _, w := range all[:min(afterDrawn, len(all))] {
		out = append(out, w.choice)
	}
	return out, nil
}

// leastProbe: places that stand for ground lie no nearer to each other, m.
const leastProbe = 0.05

// slid is the survey with rows that begin so much before the interior.
func (s *survey) slid(slide float64) *survey {
	if slide == s.opt.slide {
		return s
	}
	at := *s
	at.opt.slide, at.sweep = slide, sweep{}
	return &at
}

// slidesAt are the slides looked at: none, and up to a width over the headland. Without a headland the bar would leave the field.
func (s *survey) slidesAt() []float64 {
	out := []float64{0}
	for slide := slideStep; slide < s.width && s.rounds > 0; slide += slideStep {
		out = append(out, slide)
	}
	return out
}

// afterHeadings are the directions looked at: that of the best plan, the best of its curve, and across the passes before.
func (s *survey) afterHeadings(best Found, old *joins) []geo.Heading {
	out := []geo.Heading{best.Plan.Options.Heading}
	if s.opt.Fixed {
		return out
	}
	out = append(out, finalists(best.Curve, afterWays, apartBest)...)
	if along, ok := old.along(); ok {
		out = append(out, along+math.Pi/2)
	}
	return out
}

// stands are the places that stand for ground and joins before in a piece of the interior.
type stands struct {
	in     plane.Polygon
	ground []plane.XY
	joins  []joinPlace
}

// standIn shares places out to the pieces of the interior; those in none are of the headland.
func (s *survey) standIn(ground []plane.XY, joins []joinPlace) (out []stands) {
	for i := range s.parts {
		for _, in := range s.parts[i].coarse {
			one := stands{in: in}
			for _, p := range ground {
				if in.Holds(p) {
					one.ground = append(one.ground, p)
				}
			}
			for _, j := range joins {
				if in.Holds(j.at) {
					one.joins = append(one.joins, j)
				}
			}
			out = append(out, one)
		}
	}
	return out
}

// guess is how many of some places lie well inside a row in a direction, and how many metres of joins before fall on joins of rows.
func (s *survey) guess(h geo.Heading, all []stands) (caught int, on float64) {
	f := plane.Frame{Origin: s.origin, Ahead: h.Ahead()}
	for _, one := range all {
		box := plane.EmptyBox()
		for _, q := range one.in[0] {
			box = box.Extend(f.To(q))
		}
		lo, _, pitch := s.sweep.rowsOver(box, s.width, s.opt)
		rowAt := func(p plane.XY) float64 { return (f.To(p).Y - lo) / pitch }
		for _, p := range one.ground {
			if row := rowAt(p); math.Abs(row-math.Floor(row)-0.5)*pitch <= s.width/2-WellInside {
				caught++
			}
		}
		for _, j := range one.joins {
			if !runsAlong(j.ahead, h.Ahead()) {
				continue
			}
			if row := rowAt(j.at); math.Abs(row-math.Round(row))*pitch < WellInside {
				on += joinStep
			}
		}
	}
	return caught, on
}

// probesIn are places on a grid that stand for a polygon's ground.
func probesIn(p plane.Polygon, step float64) (out []plane.XY) {
	box := p[0].Bounds()
	var rows []plane.Span
	for y := box.Min.Y + step/2; y < box.Max.Y; y += step {
		rows = append(rows, plane.Span{From: y, To: y})
	}
	var bands plane.Bands
	for k, spans := range bands.Cut(p, rows) {
		for _, one := range spans {
			for x := math.Ceil(one.From/step) * step; x < one.To; x += step {
				out = append(out, plane.XY{X: x, Y: rows[k].From})
			}
		}
	}
	return out
}

// repair is what a plan catches, and where its joins fall.
func (p *Plan) repair(ctx context.Context, b Before, old *joins) (Repair, error) {
	var r Repair
	left, total, err := p.leaves(ctx, b.Missed)
	if err != nil {
		return Repair{}, err
	}
	r.Total, r.Caught = total, total
	for _, one := range left {
		r.Caught -= one.Area()
	}
	r.Caught = max(0, r.Caught)
	half := credited(p.Implement) / 2
	for _, pass := range p.Passes {
		for i := 1; i < len(pass.Line) && pass.Round == 0; i++ {
			a, e := pass.Line[i-1], pass.Line[i]
			ahead := e.Sub(a)
			if ahead == (plane.XY{}) {
				continue
			}
			side := ahead.Unit().Left().Scale(half)
			n := max(1, int(ahead.Len()/joinStep))
			for _, side := range [2]plane.XY{side, side.Scale(-1)} {
				for k := range n {
					r.Joins += ahead.Len() / float64(n)
					if old.on(a.Lerp(e, (float64(k)+0.5)/float64(n)).Add(side), ahead.Unit()) {
						r.OnOld += ahead.Len() / float64(n)
					}
				}
			}
		}
	}
	return r, nil
}

// leaves is what of some ground no pass of the plan has well inside, and the area of all of it, m².
func (p *Plan) leaves(ctx context.Context, missed []plane.Polygon) ([]plane.Polygon, float64, error) {
	if len(missed) == 0 {
		return nil, 0, nil
	}
	runs, _, err := p.driven()
	if err != nil {
		return nil, 0, err
	}
	w := drive.Work{Workers: p.Options.Workers}.With(p.Implement)
	w.Overlap += 2 * WellInside
	laid, err := ground.LayTogether(ctx, missed, []ground.Passes{{Runs: runs, Work: w}}, p.Options.Workers)
	if err != nil {
		return nil, 0, fmt.Errorf("ground missed before: %w", err)
	}
	drawn, err := laid.Draw(ctx, func(s []ground.State) bool { return s[0] == ground.Missed })
	return drawn.Polygons, laid.Field, err
}

// joins are edges of passes, by place.
type joins struct {
	tree   plane.Tree[plane.Segment]
	places []joinPlace
}

type joinPlace struct{ at, ahead plane.XY }

func newJoins(lines [][]plane.XY) *joins {
	j := &joins{}
	for _, line := range lines {
		for i := 1; i < len(line); i++ {
			a, b := line[i-1], line[i]
			if a == b {
				continue
			}
			j.tree.Insert(plane.EmptyBox().Extend(a, b), plane.Segment{A: a, B: b})
		}
		way := 0.0 // to the next place
		for i := 1; i < len(line); i++ {
			step := line[i].Sub(line[i-1])
			for ; way < step.Len(); way += joinStep {
				j.places = append(j.places, joinPlace{line[i-1].Add(step.Unit().Scale(way)), step.Unit()})
			}
			way -= step.Len()
		}
	}
	return j
}

func runsAlong(a, b plane.XY) bool { return math.Abs(a.Cross(b)) < math.Sin(besideEachOther) }

// on tells whether a join at a place falls on one of these.
func (j *joins) on(p, ahead plane.XY) bool {
	reach := plane.XY{X: WellInside, Y: WellInside}
	for s := range j.tree.In(plane.Box{Min: p.Sub(reach), Max: p.Add(reach)}) {
		if runsAlong(s.B.Sub(s.A).Unit(), ahead) && s.Dist(p) < WellInside {
			return true
		}
	}
	return false
}

// along is the direction of most joins, by the mean of doubled angles; none: they run every way.
func (j *joins) along() (geo.Heading, bool) {
	var sum plane.XY
	for _, p := range j.places {
		sum = sum.Add(plane.XY{X: p.ahead.X*p.ahead.X - p.ahead.Y*p.ahead.Y, Y: 2 * p.ahead.X * p.ahead.Y})
	}
	if len(j.places) == 0 || sum.Len() < 0.1*float64(len(j.places)) {
		return 0, false
	}
	return geo.Heading(math.Atan2(sum.Y, sum.X) / 2), true
}
