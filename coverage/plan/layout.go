package plan

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// Plan is one way to work a field.
type Plan struct {
	Field     []plane.Polygon
	Implement rig.Implement
	Options   Options
	Rounds    int             // headland rounds
	Depth     float64         // m, headland: rounds × credited width
	Interior  []plane.Polygon // the field less its headland
	Blocks    int             // of passes that follow each other
	Passes    []Pass          // in the order driven
	Moves     []Move          // Moves[i] leads to Passes[i], the last one to the gate; without a gate the first and the last have no line
	Bound     float64         // s: no order of the passes of these blocks turns in less, whatever the kinds of turn
	Within    float64         // s, what the turns inside blocks take

	past takes   // what it takes to go past small obstacles
	open float64 // s, what rounds leave in corners and at the ends of stretches, at its price, as they were chosen
}

// Pass is one pass of a plan: in the interior, or a headland round.
type Pass struct {
	Number  int         `json:"number"`            // 1, 2, 3 ... in the order driven
	Part    int         `json:"part"`              // of the field, from 0
	Block   int         `json:"block"`             // 1, 2, 3 ...; 0: a headland round
	Round   int         `json:"round"`             // 1 is the outermost; 0: no headland round
	Stretch int         `json:"stretch,omitempty"` // 1, 2, 3 ... of a round that is driven in stretches; 0: all of it, closed
	Heading geo.Heading `json:"-"`                 // of a pass in the interior
	Bends   []plane.XY  `json:"-"`                 // m, where it is bent past an obstacle, farthest beside its line
	Line    []plane.XY  `json:"-"`                 // m, of the bar's middle; a round ends where it began
	Length  float64     `json:"length"`            // m
}

// The kinds of Move that are no turn of the room turn.
const (
	Run  turn.Kind = "run"             // inside the field with the tool lifted
	Road turn.Kind = "between parts"   // from one part of the field to another, as the crow flies
	None turn.Kind = "nothing between" // no gate given
)

// Move is what is driven between two passes.
type Move struct {
	Kind    turn.Kind
	Line    []plane.XY // m, of the tractor's rear axle; of a road, and of a run with a Fault: of the bar's middle
	Length  float64    // m
	Seconds float64
	Fault   *Fault // nil: it can be driven
	Lifted  bool   // a run between two passes of one row, past an obstacle

	paths []turn.Path // one after the other; none where Line is all there is
}

// Fault is a place where a plan cannot be driven as drawn.
type Fault struct {
	At  plane.XY `json:"-"` // m
	Why string   `json:"why"`

	short float64 // m, of room, for a turn
}

// survey is what plans in all directions share: what follows from field, implement and options alone.
type survey struct {
	field    []plane.Polygon
	ground   []plane.Polygon // the field less the obstacles that rows and rounds go past
	small    [][]obstacle    // these, by part; nil: there are none
	refused  map[holeAt]bool // of them, those that a plan could not go past
	area     float64
	im       rig.Implement
	opt      Options
	width    float64 // m, credited
	rounds   int
	depth    float64 // m
	parts    []part
	turner   *turner
	cuts     map[int]float64    // see cutFrom, by rounds
	sketches map[[2]int]*sketch // by part, and round
	glances  map[int]glanced    // by the number of rounds, see enough
	bent     map[bentRows]bentStrips
	sharp    cornering
	fitting  bool  // no corner of a round is driven outright
	past     bool  // stretches go on past blunted corners too
	midway   bool  // rounds in stretches begin where that takes least, between the ends of a stretch too
	either   bool  // of both ways round a round in stretches the one is driven that takes less
	weighed  bool  // what rounds leave that have corners rounded is asked of the engine
	tour     []int // the parts in the order in which they are worked
	home     int   // the part at the gate
	origin   plane.XY
	sweep    sweep
	slant    slant
	halt     *halt
}

// part is one polygon of the field.
type part struct {
	drawn     []ring  // headland rounds as far as they are drawn, the outermost first
	loops     []loop  // that are driven, innermost first
	inside    [][]int // of each loop, the loops that lie inside it
	islands   []island
	rest      *plane.Edges // of the loops about no obstacle; nil: not asked for yet
	left      []leftover
	interior  []plane.Polygon
	coarse    []plane.Polygon // interior thinned to hair, for estimates
	corridors []corridor      // the ones to try first, first; the last is all of the part, where a set may have no room
	guide     *guide          // that the options ask for; nil: passes are straight
}

// Lay lays out the work on a field in the direction of Options.Heading, or along an edge: headland
// rounds, passes, their order, and every turn.
//
//  1. Every point of the interior lies within half a credited width, square to the driving
//     direction, of a pass (but for hair; not with LeaveWedges), and the bar leaves the field nowhere. Left is only what is worth less than
//     it takes: ends of rows whose turn does not fit otherwise, and blocks to which there is no way.
//  2. Turns and runs without a Fault stay inside the field with the set's whole outline, to `sampled`, and bend
//     on the least radius or more. Turns keep the set's margin; runs too, but where it stands nearer at their ends.
//  3. Moving and turning field and heading together changes no count. Other numbers change by rounding, and hours by less than
//     0.1 % where a run goes round other corners, or a round begins from the other of two sides equally near.
//
// With Options.Along or AlongLongest passes run beside that stretch of the boundary, at the headland's depth and (k − ½) pitches
// more. Beyond its ends they go on straight. Bends tighter than the set steers are rounded on its least radius. (1) then holds but
// for the sickles between rounded bends, and the bound of turns is weaker.
//
// Interior passes are driven first, block by block, then the rounds from the inner to the outer, part
// by part; with Options.HeadlandFirst the rounds come first, from the outer to the inner. Errors: im, opt or the field do not serve; ctx.
func Lay(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options) (Plan, error) {
	s, err := surveyOf(ctx, field, im, opt)
	if err != nil {
		return Plan{}, err
	}
	c := choice{heading: s.opt.Heading}
	if len(opt.Regions) > 0 {
		c.split = &split{opt.Regions}
	}
	p, _, err := s.laid(ctx, c)
	return p, err
}

// laid is a plan in one way, and the survey of that: it goes round those of the small obstacles that it cannot go past.
func (s *survey) laid(ctx context.Context, c choice) (Plan, *survey, error) {
	err := s.roundsAndCorridors(ctx)
	if err == nil {
		var p Plan
		if p, err = s.lay(ctx, c, nil); err == nil {
			return p, s, nil
		}
	}
	if !errors.Is(err, errNotPast) || len(s.refused) == 0 { // else there are ever fewer
		return Plan{}, nil, err
	}
	d, err := s.goingPast(ctx, s.unrefused())
	if err != nil {
		return Plan{}, nil, err
	}
	return d.laid(ctx, c)
}

// deeper is a plan in one way with so many headland rounds, and the survey of that.
func (s *survey) deeper(ctx context.Context, c choice, rounds int) (Plan, *survey, error) {
	d := *s
	d.sweep, d.parts, d.rounds, d.refused = sweep{}, slices.Clone(s.parts), rounds, map[holeAt]bool{}
	if err := d.interiors(ctx); err != nil {
		return Plan{}, nil, err
	}
	return d.laid(ctx, c)
}

// surveyOf prepares what an estimate needs.
func surveyOf(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options) (*survey, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	s := &survey{refused: map[holeAt]bool{}, field: field, ground: without(field, opt.small), im: im, opt: opt, width: credited(im), rounds: opt.Rounds, cuts: map[int]float64{}, sketches: map[[2]int]*sketch{}, bent: map[bentRows]bentStrips{}, slant: slantOf(field, im, opt.Hill), halt: haltOf(opt)}
	box := plane.EmptyBox()
	for _, p := range field {
		s.area += p.Area()
		for _, r := range p {
			box = box.Extend(r...)
		}
	}
	if !(s.area > 0) {
		return nil, fmt.Errorf("field of %.6g m²: must be above 0 m²", s.area)
	}
	s.origin = box.Min.Lerp(box.Max, 0.5)
	if g := opt.Gate; g != nil {
		at := plane.Nearest(field, *g) // gates are noted with a phone
		s.opt.Gate = &at
		s.home = partAt(field, at)
	}
	s.tour = partsFrom(field, s.opt.Gate)
	var err error
	if s.turner, err = turnerOf(im, field); err != nil {
		return nil, err
	}
	s.halt.count(field, opt, func() int { return s.turner.known.ways.found })
	s.turner.unfit, s.turner.missed = opt.UnfitPrice()*secondsM, opt.MissedPrice()*secondsH/hectare
	if s.rounds == 0 && !opt.NoRounds {
		depth, err := s.turner.depth(s.width)
		if err != nil {
			return nil, err
		}
		s.rounds = roundsFor(depth, s.width)
	}
	if len(opt.small) > 0 {
		s.small = obstaclesOf(field, opt.small)
	}
	s.parts = make([]part, len(field))
	if err := s.guides(); err != nil {
		return nil, err
	}
	return s, s.interiors(ctx)
}

// roundsFor is how many rounds a headland of some depth takes, one at least.
func roundsFor(depth, width float64) int { return max(1, int(math.Ceil((depth-hair)/width))) }

// interiors sets the headland's depth and the ground inside it.
func (s *survey) interiors(ctx context.Context) error {
	s.depth = float64(s.rounds) * s.width
	for i, p := range s.ground {
		in, err := plane.Inset(ctx, []plane.Polygon{p}, s.depth)
		if err != nil {
			return fmt.Errorf("interior of part %d: %w", i+1, err)
		}
		s.parts[i].interior, s.parts[i].coarse = in, nil
		for _, q := range in {
			var thin plane.Polygon
			for _, r := range q {
				if r = r.Thinned(hair); len(r) >= 3 {
					thin = append(thin, r)
				}
			}
			if len(thin) > 0 && thin[0].Area() > 0 {
				s.parts[i].coarse = append(s.parts[i].coarse, thin)
			}
		}
	}
	return nil
}

// roundsAndCorridors adds what a plan needs besides what an estimate needs.
func (s *survey) roundsAndCorridors(ctx context.Context) error {
	for i := range s.parts {
		p := &s.parts[i]
		for k := len(p.drawn) + 1; k <= s.rounds; k++ {
			one, err := s.roundOf(ctx, i, k)
			if err != nil {
				return err
			}
			p.drawn = append(p.drawn, one)
		}
		if len(s.refused) > 0 {
			return errNotPast
		}
		p.loops, p.left = nil, nil
		for k, one := range p.drawn[:s.rounds] {
			for _, l := range one.loops {
				if k+1 == s.rounds || !l.again {
					p.loops = append(p.loops, l)
				}
			}
			p.left = append(p.left, one.left...)
		}
		slices.SortStableFunc(p.loops, func(a, b loop) int { return cmp.Compare(b.round, a.round) })
		p.nesting(s.width)
		if p.corridors != nil {
			continue
		}
		for _, depth := range s.corridorDepths() {
			c, err := corridorOf(ctx, s.field[i], depth)
			if err != nil {
				return fmt.Errorf("corridor: %w", err)
			}
			p.corridors = append(p.corridors, c)
		}
		p.corridors = append(p.corridors, corridorIn(s.field[i:i+1]))
	}
	return nil
}

// blocksTake is what blocks take by the estimate, in a headland of some depth, with a turn into each, s.
func (s *survey) blocksTake(blocks []block, depth float64) (seconds float64) {
	for k := range blocks {
		work, turning := blocks[k].takes(depth)
		seconds += work/s.opt.Speed.MetresPerSecond() + turning + s.turner.least(0, 0)
	}
	return seconds
}

// takes is the way of a block's passes, m, and the time of its turns in a headland of some depth, s.
func (b *block) takes(depth float64) (work, turning float64) {
	for n, r := range b.rows {
		st, from, to := b.at(n, 0)
		work += st.long()
		if n == 0 {
			continue
		}
		_, _, last := b.at(n-1, 0)
		out := last - from // the next pass begins so much farther out, seen from the one before
		if to < from {
			out = from - last
		}
		turning += b.turns.seconds(apart(r, b.rows[n-1]), out, depth)
	}
	return work, turning
}

// at is the survey with other headland rounds, for estimates and plans. The survey asked stays as it is; what both need is drawn once.
func (s *survey) at(ctx context.Context, rounds int) (*survey, error) {
	d := *s
	d.sweep, d.parts, d.rounds, d.refused = sweep{}, slices.Clone(s.parts), rounds, map[holeAt]bool{}
	if err := d.interiors(ctx); err != nil {
		return nil, err
	}
	err := d.roundsAndCorridors(ctx)
	for i := range s.parts {
		s.parts[i].drawn, s.parts[i].corridors = d.parts[i].drawn, d.parts[i].corridors
	}
	return &d, err
}

// block is neighbouring rows that are driven one after the other.
type block struct {
	frame   plane.Frame
	heading geo.Heading
	strips  []strip // by rows
	rows    []int   // order
	pitch   float64
	turns   *rowEnds
	span    float64 // rad, between the headings of bent passes
	ground  float64 // m², of what it lies on, its share by length
}

// blocksIn adds the blocks of some ground.
func (s *survey) blocksIn(out []block, ground plane.Polygon, h geo.Heading, improve bool) []block {
	f := plane.Frame{Origin: s.origin, Ahead: h.Ahead()}
	s.sweep.turned = inFrame(f, s.sweep.turned[:cap(s.sweep.turned)], ground)
	strips := s.sweep.strips(s.sweep.turned, s.width, s.opt)
	return s.blocksOf(out, strips, block{frame: f, heading: h, pitch: s.sweep.pitch, ground: ground.Area()}, improve)
}

// blocksOf adds a block for each cell of some strips. What blocks share they take from like.
func (s *survey) blocksOf(out []block, strips []strip, like block, improve bool) []block {
	cells := cells(strips)
	like.turns = s.turner.rowEnds(like.pitch)
	ground, long := like.ground, lengthOf(strips)
	out = slices.Grow(out, len(cells))
	for _, c := range cells {
		b := like
		b.strips, b.ground = c, ground*lengthOf(c)/long
		if n := len(c); n <= len(upwards) {
			b.rows = upwards[:n:n]
		} else {
			far, near := slants(c)
			b.rows = s.turner.order(n, like.turns.costs(n, far, near, s.depth), s.turner.furthest(b.pitch), improve)
		}
		out = append(out, b)
	}
	return out
}

// upwards is the only order of so few rows, but for that from the other end. Nobody may change it.
var upwards = []int{0, 1}

// lengthOf is that of strips, m.
func lengthOf(strips []strip) (long float64) {
	for _, st := range strips {
		long += st.long()
	}
	return long
}

// at is the i-th strip of a block driven this way: from where to where along U.
func (b *block) at(i int, w orientation) (st strip, from, to float64) {
	k := i
	if w&reversed != 0 {
		k = len(b.rows) - 1 - i
	}
	st = b.strips[b.rows[k]]
	if against := (w&back != 0) != (i%2 == 1); against {
		return st, st.u1, st.u0
	}
	return st, st.u0, st.u1
}

// ends are where a block driven this way begins and ends.
func (b *block) ends(w orientation) (from, to plane.XY) {
	st, u, _ := b.at(0, w)
	last, _, v := b.at(len(b.rows)-1, w)
	return b.place(st, u), b.place(last, v)
}

// tourFrom orders the blocks of a part, beginning at a place; nil: anywhere. It takes over the room of gaps that are needed no more.
func tourFrom(g *gaps, blocks []block, at *plane.XY, improve bool) tour {
	n := len(blocks)
	g.from, g.to, g.at = slices.Grow(g.from[:0], n)[:n], slices.Grow(g.to[:0], n)[:n], at
	for i := range blocks {
		b := &blocks[i]
		for w := range orientation(orientations) {
			if w&reversed != 0 && len(b.rows) == 1 { // its only row either way
				g.from[i][w], g.to[i][w] = g.from[i][w&^reversed], g.to[i][w&^reversed]
				continue
			}
			g.from[i][w], g.to[i][w] = b.ends(w)
		}
	}
	return tourOf(g, improve)
}

// inOrder sorts blocks by where their first rows lie in a frame. So a tour does not depend on the order in which the ground was
// cut up.
func inOrder(blocks []block, f plane.Frame) {
	at := func(b block) plane.XY {
		p, _ := b.ends(0)
		return f.To(p)
	}
	slices.SortStableFunc(blocks, func(a, b block) int {
		p, q := at(a), at(b)
		if c := cmp.Compare(math.Round(p.Y/sameWay), math.Round(q.Y/sameWay)); c != 0 {
			return c
		}
		return cmp.Compare(p.X, q.X)
	})
}

// errBeaten says that a plan was given up.
var errBeaten = errors.New("internal: another plan is better")

// progress is what a plan comes to so far, and at least.
type progress struct {
	worked, left float64 // m
	moved, least float64 // s, of moves so far, and of turns inside blocks still to come at the least
	open         float64 // s: see Plan
	turns, unfit int
}

// candidate is what the whole plan comes to at the least, without areas.
func (t progress) candidate(s *survey) Candidate {
	m := t.worked + max(0, t.left)
	c := Candidate{Turns: t.turns, Working: Drive{m, m / s.opt.Speed.MetresPerSecond() / secondsH}, Turning: Drive{Hours: (t.moved + max(0, t.least)) / secondsH}, Field: s.area}
	c.Hours, c.UnfitHours, c.Open = c.Working.Hours+c.Turning.Hours, s.opt.unfitHours(t.unfit), t.open/secondsH
	c.spend(&Plan{Implement: s.im, Options: s.opt})
	return c
}

// lay lays out the work in one way. After every move beaten is asked whether another plan is better than what there is of
// this one; if so the plan is given up with errBeaten. A nil beaten is never asked.
func (s *survey) lay(ctx context.Context, c choice, beaten func(progress) bool) (Plan, error) {
	s = s.slid(c.slide)
	h := geo.Heading(math.Remainder(float64(c.heading), 2*math.Pi))
	p := Plan{Field: s.field, Implement: s.im, Options: s.opt, Rounds: s.rounds, Depth: s.depth}
	p.Options.Heading, p.Options.Laid, p.Options.Stop = h, nil, nil
	if c.along != nil {
		p.Options.Along = c.along
	}
	if p.Options.Regions = nil; c.split != nil {
		p.Options.Regions = c.split.regions
	}
	d := drawing{survey: s, plan: &p, at: s.opt.Gate, from: s.home, beaten: beaten}
	for _, i := range s.tour {
		if err := ctx.Err(); err != nil {
			return Plan{}, err
		}
		part := &s.parts[i]
		p.Interior = append(p.Interior, part.interior...)
		d.part = i
		var blocks []block
		if c.split != nil {
			var err error
			if blocks, err = s.splitBlocks(ctx, blocks, c, part.interior, true); err != nil {
				return Plan{}, err
			}
		} else {
			for _, in := range part.interior {
				blocks = s.interiorBlocks(blocks, c.guide(i, part), in, h, true)
			}
		}
		for _, l := range part.left {
			blocks = s.leftBlocks(blocks, l, h, true)
		}
		var err error
		if blocks, err = s.blocksPast(i, blocks); err != nil {
			return Plan{}, err
		}
		for _, b := range blocks {
			for _, st := range b.strips {
				if st.past != nil {
					p.past.addAll(st.past.takes)
				}
			}
		}
		for _, l := range part.loops {
			p.past.addAll(l.takes)
		}
		inOrder(blocks, plane.Frame{Origin: s.origin, Ahead: h.Ahead()})
		if err := d.expect(blocks, part.loops); err != nil {
			return Plan{}, err
		}
		if err := d.drive(part, blocks); err != nil {
			return Plan{}, err
		}
	}
	if s.small != nil {
		refused := false
		for _, one := range p.Passes {
			refused = s.touches(one) || refused
		}
		if refused {
			return Plan{}, errNotPast
		}
	}
	p.open = d.progress.open
	if err := d.leave(); err != nil {
		return Plan{}, err
	}
	if s.opt.Laid != nil {
		s.opt.Laid()
	}
	return p, nil
}

// drive drives the blocks of a part as a tour has them, on the way the rounds about obstacles, and at the end all other rounds; or all rounds before.
func (d *drawing) drive(p *part, blocks []block) error {
	done := make([]form, len(p.loops))
	all := func(yield func(int) bool) {
		for i := range p.loops {
			if !yield(i) {
				return
			}
		}
	}
	if d.survey.opt.HeadlandFirst {
		if err := d.loops(p, done, all); err != nil {
			return err
		}
	}
	t := tourFrom(new(gaps), blocks, d.at, true)
	islands := make([][]int, len(t.blocks)+1) // about which the set drives after so many blocks
	for g, at := range p.stops(blocks, t) {
		islands[at] = append(islands[at], g)
	}
	for k := range len(t.blocks) + 1 {
		for _, g := range islands[k] {
			if err := d.loops(p, done, slices.Values(p.islands[g].loops)); err != nil {
				return err
			}
		}
		if k < len(t.blocks) {
			if err := d.block(&blocks[t.blocks[k]], t.ways[k]); err != nil {
				return err
			}
		}
	}
	return d.loops(p, done, all)
}
