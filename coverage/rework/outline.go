package rework

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo/workers"
)

// link is the way from one pass to the next, and the line-up before that one.
type link struct {
	way
	lineUp float64 // m
}

// link is a way from one pass to the next on which the whole outline of the set, with its margin, stays inside.
//
// The way found for the rear axle is taken if the outline fits on it. Else the cheapest other word is taken, forward first, then
// in reverse. Where no way fits, the way of the rear axle stands, named as one that does not fit; see longer.
func (w *works) link(a, b oneWay) (link, error) {
	got, up, err := w.between(a, b)
	if err != nil || w.ground.room == nil || got.unfit != "" {
		return link{got, up}, err
	}
	if got.unfit, err = w.short(got.paths); err != nil || got.unfit == "" {
		return link{got, up}, err
	}
	if w.stands(a.exit) && w.stands(b.entry) {
		other, ok, err := w.fitting(a.exit, b.entry, straights[:1])
		if err != nil {
			return link{}, err
		}
		if ok {
			return link{other, b.lineUp}, nil
		}
	}
	return link{got, up}, nil
}

// longer is a way for a link that does not fit, where there is one:
//
//  1. that leaves the pass behind, or comes to the line-up before the next one, on a longer straight;
//  2. to a line-up shortened by quarters, down to none, by words or on longer straights.
func (w *works) longer(a, b oneWay, l link) (link, error) {
	if w.ground.room == nil || !w.reached(a.exit) || !w.reached(b.entry) || !w.stands(a.exit) {
		return l, nil
	}
	for quarters := 4.0; quarters >= 0; quarters-- {
		to, cut := b.entry, b.lineUp*(1-quarters/4)
		if quarters < 4 && cut == 0 {
			break // there is none
		}
		if to.Pose = to.Moved(cut, 0, 0); !w.stands(to) {
			continue
		}
		if other, ok, err := w.fitting(a.exit, to, straights[:]); err != nil {
			return link{}, err
		} else if ok {
			return link{other, b.lineUp - cut}, nil
		}
	}
	return l, nil
}

// straights are lengths, in least radii, that a set drives straight on behind a pass, or straight up to the next one, where no
// shorter way fits.
var straights = [...]float64{0, 0.25, 0.5, 1, 2}

// fitting is the cheapest way on which the outline of the set fits between two poses in which it can stand. Forward ways come
// first. Ways are words with such straights before and behind them.
func (w *works) fitting(from, to pose, straights []float64) (way, bool, error) {
	r := w.im.TurnRadius()
	lacks, err := w.most(from.Pose, to.Pose)
	if err != nil {
		return way{}, false, err
	}
	for _, reversing := range []bool{false, true} {
		if reversing && !w.reversing() {
			break
		}
		var all []turn.Path
		for _, out := range straights {
			for _, in := range straights {
				words, err := w.detours(from.Pose, to.Pose, out*r, in*r, reversing)
				if err != nil {
					return way{}, false, err
				}
				all = append(all, words...)
			}
		}
		byCost(all)
		for _, p := range all {
			if !w.inside(p) {
				continue
			}
			ok, err := w.fits(p, lacks)
			if err != nil {
				return way{}, false, err
			}
			if ok {
				got, err := w.wayOf(p)
				if err != nil {
					return way{}, false, err
				}
				got, err = w.backed(from, to, got)
				return got, err == nil, err
			}
		}
	}
	return way{}, false, nil
}

// detours are the words from pose to pose with so many metres straight before and behind them.
func (w *works) detours(from, to turn.Pose, out, in float64, reversing bool) ([]turn.Path, error) {
	words, err := turn.Words(from.Moved(out, 0, 0), to.Moved(-in, 0, 0), w.im.TurnRadius(), reversing)
	if err != nil {
		return nil, err
	}
	for i, p := range words {
		pieces := make([]turn.Arc, 0, len(p.Pieces)+2)
		if out > 0 {
			pieces = append(pieces, turn.Arc{Length: out})
		}
		pieces = append(pieces, p.Pieces...)
		if in > 0 {
			pieces = append(pieces, turn.Arc{Length: in})
		}
		words[i].From, words[i].Pieces = from, pieces
	}
	return words, nil
}

// most is how much of its margin the set may lack on a way between two poses, m. On a pass along the boundary the credited width
// reaches up to the boundary, so there the set lacks its margin and whatever it is wider than that width. What it lacks where it
// stands at either end it may lack on the way.
func (w *works) most(from, to turn.Pose) (float64, error) {
	lacks := 0.0
	for _, p := range [2]turn.Pose{from, to} {
		d, err := turn.Drive(turn.Path{From: p}, w.im, fineOutline)
		if err != nil {
			return 0, err
		}
		if !w.ground.room.Holds(d, w.im.Turning.Margin+fineOutline) {
			lacks = max(lacks, fineOutline-w.ground.room.Fit(d, w.im.Turning.Margin).Spare)
		}
	}
	return min(lacks, w.mostEver()), nil
}

// mostEver is what a set may lack anywhere, m.
func (w *works) mostEver() float64 {
	wider := max(w.im.Width, w.im.Body.Width) - w.width
	return w.im.Turning.Margin + wider/2 + fineOutline
}

// holds says whether the set, driven, lacks no more than so much of its margin, m.
func (w *works) holds(d *turn.Driven, lacks float64) bool {
	kept := w.im.Turning.Margin - lacks
	if w.ground.room.Holds(d, max(0, kept)) {
		return true
	}
	return kept < 0 && w.ground.room.Fit(d, w.im.Turning.Margin).Spare >= -lacks
}

// stands says whether the set can stand in a pose, with what it may lack there. Where a pass ends beyond the boundary it hardly
// ever can, because there the rear axle stands on the boundary.
func (w *works) stands(p pose) bool {
	if w.ground.room == nil {
		return true
	}
	d, err := turn.Drive(turn.Path{From: p.Pose}, w.im, fineOutline)
	return err == nil && w.holds(d, w.mostEver())
}

// fits says whether the set on a path lacks no more than so much of its margin, m, and keeps its drawbar within its limit. It
// begins with the implement straight behind the tractor.
func (w *works) fits(p turn.Path, lacks float64) (bool, error) {
	d, err := turn.Drive(p, w.im, fineOutline)
	if err != nil {
		return false, err
	}
	return w.drawbarHolds(d) && w.holds(d, lacks), nil
}

func (w *works) drawbarHolds(d *turn.Driven) bool {
	limit := w.im.Mount.AngleLimit()
	return limit == 0 || d.Angle <= limit
}

// short says where the set's outline comes too near to boundary or obstacles on paths that follow each other; "" =
// nowhere. Each of them begins with the implement straight behind the tractor.
func (w *works) short(paths []turn.Path) (string, error) {
	lacks, err := w.most(paths[0].From, paths[len(paths)-1].End())
	if err != nil {
		return "", err
	}
	return w.shortOf(paths, lacks)
}

// shortOf is short where the set may lack so much of its margin, m.
func (w *works) shortOf(paths []turn.Path, lacks float64) (string, error) {
	for _, p := range paths {
		d, err := turn.Drive(p, w.im, fineOutline)
		if err != nil {
			return "", err
		}
		if why := w.drivenShort(d, lacks); why != "" {
			return why, nil
		}
	}
	return "", nil
}

// drivenShort is shortOf for a set that is driven already.
func (w *works) drivenShort(d *turn.Driven, lacks float64) string {
	if !w.holds(d, lacks) {
		return fmt.Sprintf("the set comes %.2f m too near to boundary or obstacle", -w.ground.room.Fit(d, w.im.Turning.Margin).Spare)
	}
	if !w.drawbarHolds(d) {
		return fmt.Sprintf("drawbar angle %.0f°: must be within %.0f°", d.Angle, w.im.Mount.AngleLimit())
	}
	return ""
}

// links are the ways between passes with the whole set, by where they lead from and to.
type links map[[2]int]link

// fitted turns the tour found for the rear axle into one for the whole set. It works out the ways of the tour for the set. Where
// a way becomes dearer, as one that does not fit does, the tour is shortened again.
//
// Ways that are not worked out yet count as for the axle, which is no more than they will cost. So the search ends when no tour
// is cheaper even with such ways, or after mostStale tours without one. The tour given is never replaced by one that costs more.
func (w *works) fitted(ctx context.Context, d distances, t tour, drives []oneWay) (tour, links, error) {
	known := links{}
	s := newSearcher(d, passesOf(t))
	s.begin(t)
	var best tour
	least, stale := math.Inf(1), 0
	for {
		var fresh [][2]int
		for i := 1; i < len(t); i++ {
			if pair := [2]int{t[i-1], t[i]}; known[pair].paths == nil {
				fresh = append(fresh, pair)
			}
		}
		found := make([]link, len(fresh))
		err := workers.Each(ctx, w.r.Work.Workers, len(fresh), func(k int) (err error) {
			a, b := fresh[k][0], fresh[k][1]
			if found[k], err = w.link(drives[a], drives[b]); err != nil {
				err = fmt.Errorf("from pass %d to pass %d as laid: %w", a/2+1, b/2+1, err)
			}
			return err
		})
		if err != nil {
			return nil, nil, err
		}
		for k, l := range found {
			a, b := fresh[k][0], fresh[k][1]
			known[fresh[k]] = l
			s.put(a, b, w.errandOf(l, drives[b]))
		}
		if stale++; s.cost() < least-touch {
			best, least, stale = t, s.cost(), 0
		}
		s.settle()
		if s.cost() >= least-touch || stale > mostStale {
			return best, known, w.lengthen(ctx, best, known, drives)
		}
		t = slices.Clone(s.t)
	}
}

// mostStale is the number of tours in a row, each dearer than the best, after which the search ends. Where hardly anything fits,
// ways not worked out look better than they are, one after the other. On a real log the search without this limit fitted one more
// of 309 ways in a fifth more time.
const mostStale = 100

// lengthen tries longer ways for those of a tour that do not fit.
func (w *works) lengthen(ctx context.Context, t tour, known links, drives []oneWay) error {
	found := make([]link, len(t))
	err := workers.Each(ctx, w.r.Work.Workers, max(0, len(t)-1), func(i int) (err error) {
		if found[i] = known[[2]int{t[i], t[i+1]}]; found[i].unfit != "" {
			found[i], err = w.longer(drives[t[i]], drives[t[i+1]], found[i])
		}
		return err
	})
	if err != nil {
		return err
	}
	for i := 1; i < len(t); i++ {
		known[[2]int{t[i-1], t[i]}] = found[i-1]
	}
	return nil
}

// errandOf is what a link counts, a shorter line-up than the pass has taken off.
func (w *works) errandOf(l link, to oneWay) errand {
	saved := to.lineUp - l.lineUp
	return errand{l.cost() - saved, l.length - saved, l.time - saved/w.o.Speeds.Way}
}
