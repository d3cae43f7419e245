package plane

import (
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"balk/testdata/check"
)

// Shortest lines round a square, with lengths a person can check; and none where a wall has no end.
func TestDetour(t *testing.T) {
	var e Edges
	e.Add(Ring{{40, 40}, {40, 60}, {60, 60}, {60, 40}})
	clear := func(a, b XY) bool { return !e.Cross(Segment{a, b}) }
	places := []XY{{39, 39}, {61, 39}, {61, 61}, {39, 61}}
	var corners []Corner
	for _, p := range places {
		corners = append(corners, Bare(p))
	}
	for _, c := range []struct {
		name string
		a, b XY
		over []XY
	}{
		{"nothing between", XY{10, 10}, XY{90, 10}, nil},
		{"past one corner", XY{39, 10}, XY{62, 58}, places[1:2]},
		{"below it", XY{20, 42}, XY{80, 42}, places[:2]},
		{"as far either way: over the earlier corners", XY{20, 50}, XY{80, 50}, places[:2]},
	} {
		want := append(append([]XY{c.a}, c.over...), c.b)
		got := NewDetours(corners, clear).Way(c.a, c.b)
		if len(got) != len(want) || math.Abs(Length(got)-Length(want)) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.name, got, want)
		}
	}
	if got := NewDetours(corners, clear).Way(XY{20, 50}, XY{50, 50}); got != nil {
		t.Errorf("into the square: %v", got)
	}
	if got := NewDetours(nil, clear).Way(XY{20, 50}, XY{80, 50}); got != nil {
		t.Errorf("without corners: %v", got)
	}
}

// obstacles are what a search goes round; a line may touch them.
type obstacles struct {
	each    []*Edges
	boxes   []Box // around each
	corners []Corner
	places  []XY // of the corners
}

func edgesOf(all []*Edges) iter.Seq[Edge] {
	return func(yield func(Edge) bool) {
		for _, of := range all {
			for _, e := range of.list {
				if !yield(e) {
					return
				}
			}
		}
	}
}

// clear cuts a straight wherever a rim meets it, and asks of the middle of each piece whether it is inside an obstacle.
func (o *obstacles) clear(a, b XY) bool {
	const touch = 1e-7 // m
	d := b.Sub(a)
	long := d.Len()
	cuts := []float64{0, long}
	straight := Segment{a, b}.Box().Grown(touch)
	var near []*Edges
	for i, of := range o.each {
		if o.boxes[i].Meets(straight) {
			near = append(near, of)
		}
	}
	for e := range edgesOf(near) {
		from, to := d.Cross(e.A.Sub(a))/long, d.Cross(e.B.Sub(a))/long
		if min(from, to) < touch && max(from, to) > -touch {
			share := 0.0
			if from != to {
				share = min(1, max(0, from/(from-to)))
			}
			if along := e.At(share).Sub(a).Dot(d) / long; along > 0 && along < long {
				cuts = append(cuts, along)
			}
		}
	}
	slices.Sort(cuts)
	for i := 1; i < len(cuts); i++ {
		p := a.Lerp(b, (cuts[i-1]+cuts[i])/2/long)
		if cuts[i]-cuts[i-1] > 2*touch && slices.ContainsFunc(near, func(e *Edges) bool { return e.Holds(p) && !e.Near(p, touch) }) {
			return false
		}
	}
	return true
}

// add adds an obstacle round a place, by its corners as seen from there, counter-clockwise. Corners that stand into the obstacle are none.
func (o *obstacles) add(at XY, out ...XY) {
	var rim Ring
	for _, p := range slices.Backward(out) { // open ground on the left
		rim = append(rim, at.Add(p))
	}
	e := new(Edges)
	e.Add(rim)
	o.each, o.boxes = append(o.each, e), append(o.boxes, rim.Bounds())
	for i, p := range rim {
		before, after := rim[(i+len(rim)-1)%len(rim)], rim[(i+1)%len(rim)]
		if p.Sub(before).Cross(after.Sub(p)) < 0 {
			o.corners, o.places = append(o.corners, Corner{p, before, after}), append(o.places, p)
		}
	}
}

// drawnObstacles are squares, stars with four points, and long walls, drawn or in rows and columns, where many lines are as short.
func drawnObstacles(rng *rand.Rand, n int) *obstacles {
	o := new(obstacles)
	rows := rng.IntN(3) == 0
	side := int(math.Ceil(math.Sqrt(float64(n))))
	for i := range n {
		at, r, turned := XY{rng.Float64() * 100, rng.Float64() * 100}, (0.3+rng.Float64())*60/float64(side), rng.Float64()
		if rows {
			at, r, turned = XY{float64(i%side) + 0.5, float64(i/side) + 0.5}.Scale(100/float64(side)), 30/float64(side), 0.125*2*math.Pi
		}
		radii := [][]float64{{1, 1, 1, 1}, {1, 0.4, 1, 0.4, 1, 0.4, 1, 0.4}, {1, 0.1, 1, 0.1}, {1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}}[rng.IntN(4)]
		if rows {
			radii = []float64{1, 1, 1, 1}
		}
		var out []XY
		for k, far := range radii {
			out = append(out, rotate(XY{r * far, 0}, turned+2*math.Pi*float64(k)/float64(len(radii))))
		}
		o.add(at, out...)
	}
	return o
}

// All straights are open, and no line over corners that see each other is shorter: all ways by Floyd and Warshall (1962).
func TestDetourIsTheShortest(t *testing.T) {
	const seed = 4
	rng := rand.New(rand.NewPCG(seed, 0))
	bent, none := 0, 0
	for range 60 {
		o := drawnObstacles(rng, 12)
		places := append(o.places, XY{rng.Float64() * 100, rng.Float64() * 100}, XY{rng.Float64() * 100, rng.Float64() * 100})
		n := len(places)
		far := make([][]float64, n)
		for i := range far {
			far[i] = make([]float64, n)
			for k := range far[i] {
				if far[i][k] = math.Inf(1); o.clear(places[i], places[k]) {
					far[i][k] = places[i].Dist(places[k])
				}
			}
		}
		for m := range n {
			for i := range n {
				for k := range n {
					far[i][k] = min(far[i][k], far[i][m]+far[m][k])
				}
			}
		}
		a, b := places[n-2], places[n-1]
		want := far[n-2][n-1]
		got := NewDetours(o.corners, o.clear).Way(a, b)
		if got == nil {
			if none++; !math.IsInf(want, 1) {
				t.Errorf("seed %d: no way found, one is %.6f m", seed, want)
			}
			continue
		}
		if l := Length(got); math.Abs(l-want) > 20*asShort {
			t.Errorf("seed %d: %.6f m, the shortest is %.6f m", seed, l, want)
		}
		if len(got) > 2 {
			bent++
		}
		if got[0] != a || got[len(got)-1] != b {
			t.Errorf("seed %d: from %v to %v, want %v to %v", seed, got[0], got[len(got)-1], a, b)
		}
		for i := 1; i < len(got); i++ {
			if !o.clear(got[i-1], got[i]) {
				t.Errorf("seed %d: %v to %v crosses a wall", seed, got[i-1], got[i])
			}
		}
	}
	if bent < 20 || none == 60 {
		t.Errorf("%d of 60 ways bend, %d are shut: the cases say little", bent, none)
	}
}

// The same lines as by looking at all corners from all (detourBySight), corner for corner where nothing is known of rims, and as long where their
// sides spare looking; so too where many lines are as short.
func TestDetoursAreThoseOfAllCorners(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	bends, most := 0, 0.0
	for i := range 25 {
		o := drawnObstacles(rng, 10+rng.IntN(60))
		bare := make([]Corner, len(o.corners))
		for k, p := range o.places {
			bare[k] = Bare(p)
		}
		all, spared := NewDetours(bare, o.clear), NewDetours(o.corners, o.clear)
		for range 5 {
			a, b := XY{rng.Float64() * 100, rng.Float64() * 100}, XY{rng.Float64() * 100, rng.Float64() * 100}
			want := detourBySight(a, b, o.places, o.clear)
			if got := all.Way(a, b); !slices.Equal(got, want) {
				t.Fatalf("seed %d, obstacles %d: %v, want %v", seed, i, got, want)
			}
			got := spared.Way(a, b)
			if (got == nil) != (want == nil) {
				t.Fatalf("seed %d, obstacles %d: with sides %v, want %v", seed, i, got, want)
			}
			off := math.Abs(Length(got) - Length(want))
			if most = max(most, off); off > float64(len(want))*asShort {
				t.Errorf("seed %d, obstacles %d: with sides %.9f m, want %.9f m", seed, i, Length(got), Length(want))
			}
			bends += max(0, len(want)-2)
		}
	}
	if bends < 50 {
		t.Errorf("seed %d: %d bends in 125 lines: the cases say little", seed, bends)
	}
	t.Logf("seed %d: %d bends, at most %.1e m apart", seed, bends, most)
}

// Whether two corners see each other is asked once, however many ways are looked for, and by several at once; each way is that of corners asked anew.
func TestDetoursAskOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	over := 0
	for range 5 {
		o := drawnObstacles(rng, 30)
		place := map[XY]bool{}
		for _, p := range o.places {
			place[p] = true
		}
		asked := map[[2]XY]int{}
		counted := NewDetours(o.corners, func(a, b XY) bool {
			if place[a] && place[b] {
				asked[[2]XY{a, b}]++
			}
			return o.clear(a, b)
		})
		shared := NewDetours(o.corners, o.clear)
		var ends [][2]XY
		for range 40 {
			ends = append(ends, [2]XY{{rng.Float64() * 100, rng.Float64() * 100}, {rng.Float64() * 100, rng.Float64() * 100}})
		}
		var all sync.WaitGroup
		ways := make([][]XY, len(ends))
		for i, e := range ends {
			all.Go(func() { ways[i] = shared.Way(e[0], e[1]) })
		}
		all.Wait()
		for i, e := range ends {
			want := NewDetours(o.corners, o.clear).Way(e[0], e[1])
			for range 2 {
				if got := counted.Way(e[0], e[1]); !slices.Equal(got, want) || !slices.Equal(ways[i], want) {
					t.Fatalf("from %v to %v: %v, and by several at once %v, want %v", e[0], e[1], got, ways[i], want)
				}
			}
			if len(want) > 3 {
				over++
			}
		}
		for pair, n := range asked {
			if n > 1 {
				t.Errorf("%v asked %d times", pair, n)
			}
		}
	}
	if over < 20 {
		t.Errorf("%d of 200 ways over two corners or more: the cases say little", over)
	}
}

// detourBySight is the search that keeps every straight between two corners: slow, and needs a place for each pair.
func detourBySight(a, b XY, corners []XY, sees func(a, b XY) bool) []XY {
	if sees(a, b) {
		return []XY{a, b}
	}
	const start = -1
	places := append(slices.Clone(corners), b)
	goal := len(corners)
	reached := make([]int, len(places)) // the place before, once the shortest line to one is known
	known := make([]bool, len(places))
	untried := make([]strideList, len(places)) // to each place
	leave := func(from int, at XY, driven float64) {
		for k, to := range places {
			if !known[k] && !(from == start && k == goal) {
				next := driven + at.Dist(to)
				untried[k].add(sightStride{from, next, math.Round((next + to.Dist(b)) / asShort)})
			}
		}
	}
	leave(start, a, 0)
	for !known[goal] {
		to, next := -1, sightStride{least: math.Inf(1)}
		for k := range untried {
			if one := &untried[k]; len(one.list) > 0 && !known[k] && one.list[one.best].least < next.least {
				to, next = k, one.list[one.best]
			}
		}
		if to < 0 {
			return nil
		}
		untried[to].drop()
		at := a
		if next.from != start {
			at = places[next.from]
		}
		if sees(at, places[to]) {
			reached[to], known[to] = next.from, true
			leave(to, places[to], next.driven)
		}
	}
	var line []XY
	for k := goal; k != start; k = reached[k] {
		line = append(line, places[k])
	}
	line = append(line, a)
	slices.Reverse(line)
	return line
}

// sightStride is a straight to a place, at the end of a line.
type sightStride struct {
	from   int     // the place where it begins
	driven float64 // m, from the start of the line to the end of the straight
	least  float64 // no line over it is shorter, in steps of asShort
}

// strideList are those to one place, in the order in which they were found, and which of them may lead to the shortest line.
type strideList struct {
	list []sightStride
	best int // of several the first
}

func (s *strideList) add(one sightStride) {
	if s.list = append(s.list, one); one.least < s.list[s.best].least {
		s.best = len(s.list) - 1
	}
}

// drop leaves out the best.
func (s *strideList) drop() {
	s.list, s.best = slices.Delete(s.list, s.best, s.best+1), 0
	for i, one := range s.list {
		if one.least < s.list[s.best].least {
			s.best = i
		}
	}
}
