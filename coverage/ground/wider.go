package ground

import (
	"context"
	"math"
	"slices"
	"sync"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

// MissedAt is the ground in m² that is missed when the swaths are laid out at credited width + share × pass-to-pass error, and
// where it lies, if that is to be drawn.
//
// This and what follows lay the passes anew. One arrangement of all of it (plane.Lay) was tried: bars a few centimetres wider or aside cross each other
// all along, 1,050,000 times where six layouts of 150,000 fixes have 165,000 crossings, and it took ten times their time.
func MissedAt(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, share float64, drawn bool) (area float64, pieces []plane.Polygon, err error) {
	g := ground{field: field, workers: w.Workers}
	g.work, err = coverAll(ctx, runs, w.Workers, func(room *rooms, run *drive.Run) []bar { return room.barsWithin(run, w.Overlap, share) })
	if err != nil {
		return 0, nil, err
	}
	var layers []plane.ClassSet
	if drawn {
		layers = []plane.ClassSet{1 << 1}
	}
	got, err := g.missed(ctx, layers...)
	if drawn && err == nil {
		pieces = got.Layers[0]
	}
	return got.Area[1], pieces, err
}

// MissedMoved is the ground in m² that would be missed on the field moved by so much, where so many m² are missed on the field as it lies. Only bars
// near the boundary are laid: elsewhere the same ground is missed. The rim is the field's.
func MissedMoved(ctx context.Context, field []plane.Polygon, rim *plane.Edges, runs []drive.Run, w drive.Work, by plane.XY, missed float64) (float64, error) {
	all := inLane(field, laneField)
	for _, o := range inLane(field, laneCore) {
		moved := make([]plane.XY, len(o.Line))
		for i, q := range o.Line {
			moved[i] = plane.Snap(q.Add(by))
		}
		all = append(all, plane.Outline{Line: moved, Lane: laneCore})
	}
	var room []bar
	for _, one := range runs {
		room = appendBars(room[:0], one.Stops, one.Parts, setting{less: w.Overlap}, 0)
		all = appendNear(all, room, rim.Meet, 2*by.Len())
	}
	const no, more, less plane.Class = 0, 1, 2
	got, err := plane.Arrange(ctx, all, plane.Question{Workers: w.Workers, Classify: func(l plane.Label) plane.Class {
		switch before, then := l.Count(laneField) > 0, l.Count(laneCore) > 0; {
		case before == then || l.Count(laneWork) > 0 || l.Count(laneUnknown) > 0:
			return no
		case then:
			return more
		}
		return less
	}})
	return missed + got.Area[more] - got.Area[less], err
}

// MissedAside is the ground in m² that is missed when all bars go so many metres to the right of where they were taken; negative:
// to the left.
func MissedAside(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, by float64) (float64, error) {
	return missedWith(ctx, field, runs, w, func(room *rooms, run *drive.Run) []bar {
		return room.set.of(run, setting{less: w.Overlap, aside: by})
	})
}

// missedWith is the ground in m² that is missed with the bars that set gives of each run.
func missedWith(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, set func(*rooms, *drive.Run) []bar) (float64, error) {
	work, err := coverAll(ctx, runs, w.Workers, set)
	if err != nil {
		return 0, err
	}
	got, err := ground{field: field, workers: w.Workers, work: work}.missed(ctx)
	return got.Area[1], err
}

// MissedWithEnds is the ground in m² that is missed when ends of work lie farther out along the travel by as many metres as
// by says of the run and the end; negative: farther in. Where the log begins or ends, or has a gap, nothing moves.
func MissedWithEnds(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, by func(*drive.Run, drive.Switch) float64) (float64, error) {
	return missedWith(ctx, field, runs, w, func(room *rooms, run *drive.Run) []bar {
		room.moved = endsMoved(room.moved[:0], room.set.of(run, setting{less: w.Overlap}), func(k int) float64 {
			if end := run.Switch(k); end != (drive.Switch{}) {
				return by(run, end)
			}
			return 0
		})
		return room.moved
	})
}

// coverAll is coverOf all runs, in their order, with the bars that set gives of each.
func coverAll(ctx context.Context, runs []drive.Run, on int, set func(*rooms, *drive.Run) []bar) ([]plane.Outline, error) {
	covers := make([][]plane.Outline, len(runs))
	var free sync.Pool
	err := workers.Each(ctx, on, len(runs), func(k int) error {
		room, ok := free.Get().(*rooms)
		if !ok {
			room = new(rooms)
		}
		covers[k] = coverOf(set(room, &runs[k]))
		free.Put(room)
		return nil
	})
	return slices.Concat(covers...), err
}

// rooms are memory for the bars of one run, used again for the next.
type rooms struct {
	set   room
	moved []bar
}

type room []bar

// of is barsOf in another setting; it holds until the next call.
func (r *room) of(run *drive.Run, how setting) []bar {
	*r = appendBars((*r)[:0], run.Stops, run.Parts, how, 0)
	return *r
}

// barsWithin sets the bars of a run as barsOf does, each wider by a share of its own
// pass-to-pass error, and moves both ends of all unbroken work outward along the
// travel by that share of endError; a share below 0 makes bars narrower and work shorter.
// Ends at a log gap stay: the ground beyond is unknown, not missed. Bars that
// barsOf cuts out work nothing with any error. They hold until the next call.
func (r *rooms) barsWithin(run *drive.Run, less, share float64) []bar {
	r.moved = endsMoved(r.moved[:0], r.set.of(run, setting{less: less, share: share}), func(k int) float64 { return share * endError(run, k) })
	return r.moved
}

// endsMoved appends bars with the first and the last one of all unbroken work moved outward along the travel, by so many
// metres where the bar of that number is one; below 0: inward.
func endsMoved(out, bars []bar, by func(k int) float64) []bar {
	for from := 0; from < len(bars); {
		to := from
		for to+1 < len(bars) && bars[to].next != drive.StepCut {
			to++
		}
		chain := bars[from : to+1]
		if to == from {
			out, from = append(out, chain...), to+1
			continue
		}
		ahead, behind := by(from), by(to)
		if ahead < 0 || behind < 0 {
			chain = shortened(nil, chain, max(0, -ahead), max(0, -behind))
		}
		if len(chain) > 1 && (ahead > 0 || behind > 0) {
			out = lengthened(out, chain, max(0, ahead), max(0, behind))
		} else {
			out = append(out, chain...)
		}
		from = to + 1
	}
	return out
}

// known is the pass-to-pass error of a part, in metres; 0 where not known.
func known(p *drive.Part) float64 {
	if p.PassError > 0 {
		return p.PassError
	}
	return 0
}

// endError is how far along the travel an end of work at stop k may lie off, in metres at
// 95 %: half the pass-to-pass error, as square to the travel, and the switch
// between two fixes.
func endError(run *drive.Run, k int) float64 {
	return math.Hypot(known(&run.Parts[run.Stops[k].Part])/2, drive.In95*run.Switch(k).SD())
}

// lengthened appends unbroken work that begins so many metres before its first bar
// and ends so many behind its last. Bars are added, none is moved, so that the
// ground covered before stays covered.
func lengthened(out, chain []bar, before, behind float64) []bar {
	n := len(chain)
	first, last := chain[0].shifted(-before), chain[n-1].shifted(behind)
	first.next = onward(chain[0].next)
	out = append(append(slices.Grow(out, n+2), first), chain...)
	out[len(out)-1].next = onward(chain[n-2].next)
	last.next = drive.StepCut
	return append(out, last)
}

// onward is how a stretch goes on straight.
func onward(s drive.Step) drive.Step {
	if s == drive.StepPivot {
		return drive.StepWorked
	}
	return s
}

// shifted is the bar moved so far along its travel.
func (b bar) shifted(by float64) bar {
	left := b.left.Sub(b.right)
	way := plane.XY{X: left.Y, Y: -left.X}.Scale(by / left.Len())
	b.left, b.right, b.s = plane.Snap(b.left.Add(way)), plane.Snap(b.right.Add(way)), b.s+by
	return b
}

// shortened appends unbroken work without so many metres of travel at its ends;
// nothing when no more is left.
func shortened(out, chain []bar, ahead, behind float64) []bar {
	n := len(chain)
	from, to := chain[0].s+ahead, chain[n-1].s-behind
	if !(from < to) {
		return out
	}
	i := 0
	for chain[i+1].s <= from {
		i++
	}
	out = append(out, chain[i].between(chain[i+1], from))
	for i++; chain[i].s < to; i++ {
		out = append(out, chain[i])
	}
	last := chain[i-1].between(chain[i], to)
	last.next = drive.StepCut
	return append(out, last)
}

// between is the bar at a travel between b and the next, a; it goes on as b does.
func (b bar) between(a bar, s float64) bar {
	t := 0.0
	if l := a.s - b.s; l > 0 {
		t = math.Min((s-b.s)/l, 1)
	}
	return bar{plane.Snap(b.left.Lerp(a.left, t)), plane.Snap(b.right.Lerp(a.right, t)), s, b.next, b.told}
}
