package rework

import (
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// gateLink is the way between the gate and an end of a pass for the whole set. It is the cheapest way of the axle on which the
// outline stays inside. Where there is none it is the cheapest of all, with the reason why it does not fit. The set comes to the
// gate from the road, so within its own length of the gate nothing is checked.
func (w *works) gateLink(gate plane.XY, p pose, leaving bool) (way, error) {
	all, err := w.gateWays(gate, p, leaving)
	if err != nil {
		return way{}, err
	}
	var first way
	for n := 0; len(all) > 0; n++ {
		k := leastCost(all)
		got := all[k]
		all = slices.Delete(all, k, k+1)
		if got.unfit == "" && w.ground.room != nil {
			if got.unfit, err = w.gateShort(got.paths, p, leaving); err != nil {
				return way{}, err
			}
		}
		if got.unfit == "" {
			return got, nil
		}
		if n == 0 {
			first = got
		}
	}
	return first, nil
}

// gateShort is short for a way between the gate and a pose.
func (w *works) gateShort(paths []turn.Path, p pose, leaving bool) (string, error) {
	m, width := w.im.Mount, max(w.im.Width, w.im.Body.Width)
	long := max(math.Hypot(w.im.Tractor.Ahead, w.im.Tractor.Width/2), math.Hypot(w.back()+w.im.Body.Behind, width/2+math.Abs(m.BarRight)))
	total := 0.0
	for _, one := range paths {
		total += one.Length()
	}
	lacks, err := w.most(p.Pose, p.Pose)
	if err != nil {
		return "", err
	}
	// Where it stands at the pass, however near the gate.
	if why, err := w.shortOf([]turn.Path{{From: p.Pose}}, lacks); err != nil || why != "" {
		return why, err
	}
	if leaving {
		return w.shortOf(upToMetres(paths, total-long), lacks)
	}
	s := 0.0
	for _, one := range paths {
		l := one.Length()
		if s += l; s <= 2*long { // until all of the set is its length away
			continue
		}
		d, err := turn.Drive(one, w.im, fineOutline)
		if err != nil {
			return "", err
		}
		if why := w.drivenShort(d.After(max(0, l-(s-2*long))), lacks); why != "" {
			return why, nil
		}
	}
	return "", nil
}

// upToMetres is what lies within so many metres on paths of straights and circles that follow each other.
func upToMetres(paths []turn.Path, to float64) []turn.Path {
	var out []turn.Path
	for _, p := range paths {
		cut := turn.Path{From: p.From, Kind: p.Kind}
		for _, a := range p.Pieces {
			if keep := min(math.Abs(a.Length), to); keep > 0 {
				cut.Pieces = append(cut.Pieces, turn.Arc{Length: math.Copysign(keep, a.Length), From: a.From, To: a.To})
			}
			to -= math.Abs(a.Length)
		}
		if len(cut.Pieces) > 0 {
			out = append(out, cut)
		}
	}
	return out
}

// linedUp is a way with so many metres straight on behind it, on which the set gets behind the tractor before the tool
// is lowered.
func (w *works) linedUp(a way, by float64) (way, error) {
	if by == 0 {
		return a, nil
	}
	last := len(a.paths) - 1
	straight := turn.Path{From: a.paths[last].End(), Pieces: []turn.Arc{{Length: by}}, Kind: a.paths[last].Kind}
	got, err := w.wayOf(append(slices.Clip(a.paths), straight)...)
	if err != nil {
		return way{}, err
	}
	switch got.unfit = a.unfit; {
	case got.unfit != "":
	case w.ground.room == nil && !w.inside(straight):
		got.unfit = "the straight before the pass leaves the boundary"
	case w.ground.room != nil:
		got.unfit, err = w.shortOf([]turn.Path{straight}, w.mostEver())
	}
	return got, err
}

// passStep is how far apart the set is looked at on a bent pass, m.
const passStep = 1.0

// passShort says where the outline of the set comes too near to boundary or obstacles on a pass, the bar on its line and the
// tractor ahead of it, beyond its end where it reaches so far; "" = nowhere.
func (w *works) passShort(line []plane.XY) (string, error) {
	if w.ground.room == nil {
		return "", nil
	}
	pose := func(at, u plane.XY) turn.Pose {
		return turn.Pose{At: at.Add(u.Left().Scale(w.im.Mount.BarRight)), Heading: geo.Along(u)}
	}
	n := len(line)
	last := line[n-1].Sub(line[n-2]).Unit()
	if n == 2 {
		from := pose(line[0].Add(last.Scale(w.back())), last)
		return w.shortOf([]turn.Path{{From: from, Pieces: []turn.Arc{{Length: plane.Length(line)}}}}, w.mostEver())
	}
	axle := append(slices.Clone(line), line[n-1].Add(last.Scale(max(w.back(), passStep))))
	var judged []turn.Path
	s, next := 0.0, w.back()
	for i := 1; i < len(axle); i++ {
		u, l := axle[i].Sub(axle[i-1]).Unit(), axle[i].Dist(axle[i-1])
		for ; next <= s+l && next <= plane.Length(line)+w.back(); next += passStep {
			judged = append(judged, turn.Path{From: pose(axle[i-1].Add(u.Scale(next-s)), u)})
		}
		s += l
	}
	return w.shortOf(judged, w.mostEver())
}
