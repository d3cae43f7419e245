package plane

import (
	"context"
	"errors"
	"fmt"
	"math"

	"balk/geo/workers"
)

// Laid is outlines laid over each other once, to be asked as often as one likes. Their lanes may be any numbers from 0 on.
type Laid struct {
	// Kinds are all kinds of ground there are. The first is the unbounded outside, where all counts are zero, with no area.
	Kinds     []Kind
	Crossings int // how many crossings the outlines have

	a     *arrangement
	begin [][2]int32 // per outline: numbers of the kinds left and right of its first edge
	after [][2]int32 // per event: of the kinds left and right of the fragment it starts
}

// Kind is all places that the outlines cover alike.
type Kind struct {
	Counts []int   // how often each lane winds round them
	Area   float64 // m²
}

// Lay lays all outlines over each other, like Arrange, but keeps apart all ground that is covered otherwise, and holds what
// is needed to draw any of it. A question about areas is then a sum over Laid.Kinds.
//
//  1. Every decision is exact on the lattice, see Arrange.
//  2. Σ Counts[lane]·Area over the kinds equals the area of the lane's outlines by shoelace, for every lane.
//  3. Nothing depends on the order of the outlines or on the number of workers.
//  4. Each crossing is checked to give the same cover along both its lines, and each way from kind to kind to give the same
//     counts. A contradiction is an error.
//
// The label of a place, by which crossings are checked, is Σ count·weight, modulo 2^64, with a fixed random weight per
// lane. The counts themselves come from the ways between kinds: stepping over an outline changes one count by one. Two kinds of
// one label would be taken for one; the ways that meet there then tell different counts. By chance that happens with ten thousand kinds
// once in 3·10^11 times.
func Lay(ctx context.Context, outlines []Outline, workers int) (*Laid, error) {
	return layWith(ctx, outlines, workers, scattered)
}

// scattered is the weight of a lane: the output of SplitMix64 (Steele, Lea and Flood 2014) for its number.
func scattered(lane int) uint64 {
	z := uint64(lane+1) * 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

func layWith(ctx context.Context, outlines []Outline, workers int, weigh func(lane int) uint64) (*Laid, error) {
	l := &Laid{a: &arrangement{lanes: math.MaxInt32, weigh: weigh}}
	lanes := 0
	for _, o := range outlines {
		lanes = max(lanes, o.Lane+1)
	}
	l.Kinds = []Kind{{Counts: make([]int, lanes)}}
	err := l.a.cut(ctx, outlines, workers, func() error {
		l.Crossings = len(l.a.cross)
		l.a.chunks, l.a.grid = nil, grid{}
		s := sortingOf(l.a, lanes)
		l.begin, l.after = s.sort()
		counts, err := s.counts()
		if err != nil {
			return err
		}
		l.Kinds = make([]Kind, len(counts))
		for k := range counts {
			l.Kinds[k].Counts = counts[k]
		}
		l.sum()
		return nil
	})
	if err != nil {
		return nil, err
	}
	return l, nil
}

// sum walks every outline once, see arrangement.sum.
func (l *Laid) sum() {
	for o, beside := range l.begin {
		e, last := l.a.first[o], l.a.first[o+1]
		l.a.fragments(int32(o), func(s float64) {
			l.Kinds[beside[0]].Area += s / 2
			l.Kinds[beside[1]].Area -= s / 2
			if e < last {
				beside = l.after[e]
				e++
			}
		})
	}
	l.Kinds[0].Area = 0
}

// Drawn is the ground of some kinds as polygons, see property 5 of Arrange.
type Drawn struct {
	Polygons []Polygon
	Dropped  float64 // m² of slivers left out, see Question.Sliver
}

// Draw lays out the polygons of all places that keep holds of by their counts. Keep is asked once for each kind.
func (l *Laid) Draw(ctx context.Context, keep func(counts []int) bool) (Drawn, error) {
	kept := make([]uint8, len(l.Kinds))
	for k, kind := range l.Kinds {
		if keep(kind.Counts) {
			kept[k] = uint8(wanted)
		}
	}
	if kept[0] != 0 {
		return Drawn{}, errors.New("draw: the unbounded outside is kept")
	}
	if len(l.begin) == 0 {
		return Drawn{}, ctx.Err()
	}
	of := func(beside [][2]int32) ([]uint8, error) {
		out := make([]uint8, len(beside))
		err := workers.Chunks(ctx, len(beside), 1<<16, l.a.workers, func(from, to int) error {
			for i := from; i < to; i++ {
				out[i] = kept[beside[i][0]] | kept[beside[i][1]]<<4
			}
			return nil
		})
		return out, err
	}
	var asked sides
	var err error
	if asked.of, err = of(l.after); err != nil {
		return Drawn{}, err
	}
	if asked.lone, err = of(l.begin); err != nil {
		return Drawn{}, err
	}
	draw := layer{a: l.a, sides: asked, set: 1 << wanted, sliver: defaultSliver}
	polys, err := draw.draw()
	return Drawn{polys, draw.dropped}, err
}

// sorting gives numbers to the kinds of ground beside the fragments of an arrangement: 0 for the unbounded outside, the
// others in the order in which outlines come by them.
type sorting struct {
	a      *arrangement
	labels []uint64         // by kind
	known  map[uint64]int32 // kind by label
	over   []int32          // by kind, lane and sense: the kind at the end of that way; -1: nobody went it
	ways   []way            // in the order found
	lanes  int
}

// way leads from a kind over an outline of a lane, to its left, where it counts once more, or to its right.
type way struct {
	from, lane int32
	more       bool
}

func sortingOf(a *arrangement, lanes int) *sorting {
	s := &sorting{a: a, known: map[uint64]int32{}, lanes: lanes}
	s.of(a.outside)
	return s
}

// of is the number of the kind of a label.
func (s *sorting) of(label uint64) int32 {
	k, ok := s.known[label]
	if !ok {
		k = int32(len(s.labels))
		s.labels, s.known[label] = append(s.labels, label), k
		for range 2 * s.lanes {
			s.over = append(s.over, -1)
		}
	}
	return k
}

// step is the kind at the end of a way.
func (s *sorting) step(w way) int32 {
	to := s.over[s.at(w)]
	if to < 0 {
		weight := s.a.weigh(int(w.lane))
		if !w.more {
			weight = -weight
		}
		to = s.of(s.labels[w.from] + weight)
		s.over[s.at(w)], s.ways = to, append(s.ways, w)
	}
	return to
}

// at is where the end of a way is noted.
func (s *sorting) at(w way) int {
	i := 2 * (int(w.from)*s.lanes + int(w.lane))
	if w.more {
		i++
	}
	return i
}

// sort goes along all outlines: by outline and by event, the kinds left and right behind its start.
func (s *sorting) sort() (begin, after [][2]int32) {
	a := s.a
	begin, after = make([][2]int32, len(a.weight)), make([][2]int32, len(a.events))
	for o := range int32(len(a.weight)) {
		left := s.of(a.begin[o])
		begin[o] = [2]int32{left, s.step(way{left, a.lane[o], false})}
		for e := a.first[o]; e < a.first[o+1]; e++ {
			met, more := a.met(e)
			left = s.step(way{left, a.lane[met], more})
			after[e] = [2]int32{left, s.step(way{left, a.lane[o], false})}
		}
	}
	return begin, after
}

// counts are those of all kinds: each way taken from a kind whose counts are known tells those at its other end.
func (s *sorting) counts() ([][]int, error) {
	n, lanes := len(s.labels), s.lanes
	at := make([][]int32, n) // the ways that begin or end there
	for i, w := range s.ways {
		at[w.from], at[s.over[s.at(w)]] = append(at[w.from], int32(i)), append(at[s.over[s.at(w)]], int32(i))
	}
	all := make([]int, n*lanes)
	of := func(k int32) []int { return all[int(k)*lanes : int(k+1)*lanes : int(k+1)*lanes] }
	told := make([]bool, n)
	told[0] = true
	for queue := []int32{0}; len(queue) > 0; {
		k := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		for _, i := range at[k] {
			w := s.ways[i]
			other, by := w.from, -1
			if w.from == k {
				other, by = s.over[s.at(w)], 1
			}
			if !w.more {
				by = -by
			}
			if !told[other] {
				told[other] = true
				copy(of(other), of(k))
				of(other)[w.lane] += by
				queue = append(queue, other)
				continue
			}
			for lane, c := range of(other) {
				if lane == int(w.lane) {
					c -= by
				}
				if c == of(k)[lane] {
					continue
				}
				return nil, fmt.Errorf("internal: two ways to one kind of ground give the counts %v and %v, %+d in lane %d", of(other), of(k), by, w.lane)
			}
		}
	}
	out := make([][]int, n)
	for k := range out {
		if !told[k] {
			return nil, fmt.Errorf("internal: no way leads to ground of kind %d of %d", k, n)
		}
		out[k] = of(int32(k))
	}
	return out, nil
}
