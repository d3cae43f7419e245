package geo_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// rows is driving up and down: so many rows of so many metres, 6 m apart, a fix every step, 2 m/s.
func rows(n int, length, step float64) []spot {
	var out []spot
	t := aDay
	for r := range n {
		for x := 0.0; x <= length; x += step {
			at := x
			if r%2 == 1 {
				at = length - x
			}
			out = append(out, spot{x: at, y: 6 * float64(r), t: t, state: geo.Working, quality: geo.QualityFixed})
			t += step / 2
		}
		t += 10
	}
	return out
}

// reordered is a track of points with its fixes as order says.
func reordered(t geo.Track, order []int) geo.Track {
	stride := t.Line.Stride()
	var flat []float64
	out := t
	out.State, out.Width, out.Heading, out.Speed, out.Offset, out.Quality, out.HDOP = nil, nil, nil, nil, nil, nil, nil
	out.Came.Order, out.Came.Pass = nil, nil
	for _, k := range order {
		flat = append(flat, t.Line.FlatCoords()[k*stride:(k+1)*stride]...)
		out.State, out.Width, out.Heading = append(out.State, t.State[k]), append(out.Width, t.Width[k]), append(out.Heading, t.Heading[k])
		out.Speed, out.Offset, out.Quality, out.HDOP = append(out.Speed, t.Speed[k]), append(out.Offset, t.Offset[k]), append(out.Quality, t.Quality[k]), append(out.HDOP, t.HDOP[k])
		if t.Came.Order != nil {
			out.Came.Order = append(out.Came.Order, t.Came.Order[k])
		}
		if t.Came.Pass != nil {
			out.Came.Pass = append(out.Came.Pass, t.Came.Pass[k])
		}
	}
	out.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})
	return out
}

// points is a track of points, each for itself.
func points(spots []spot) geo.Track {
	t := draw(spots)
	t.Came.Points = true
	for k := range t.Heading { // draw's are no headings
		t.Heading[k] = geo.Bearing(math.NaN())
	}
	return t
}

func sameTrack(a, b geo.Track) bool {
	return reflect.DeepEqual(a.Line.FlatCoords(), b.Line.FlatCoords()) && reflect.DeepEqual(a.Line.Ends(), b.Line.Ends()) && reflect.DeepEqual(a.Speed, b.Speed) && reflect.DeepEqual(a.State, b.State)
}

// TestShuffledRowsWithTimes: whatever the order in which timed points stand, they give the same track, with all
// columns, and it is said how many stood elsewhere.
func TestShuffledRowsWithTimes(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 5))
		whole := points(rows(2+rng.IntN(5), 60, 2))
		order := upTo(whole.Fixes())
		what := "all shuffled"
		switch seed % 4 {
		case 0:
			rng.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
		case 1:
			what = "two fixes changed places"
			k := 5 + rng.IntN(20)
			order[k], order[k+1] = order[k+1], order[k]
		case 2:
			what = "backwards"
			slices.Reverse(order)
		case 3:
			what = "blocks of ten"
			var blocks [][]int
			for b := range slices.Chunk(slices.Clone(order), 10) {
				blocks = append(blocks, b)
			}
			rng.Shuffle(len(blocks), func(i, j int) { blocks[i], blocks[j] = blocks[j], blocks[i] })
			order = slices.Concat(blocks...)
		}
		got, found := geo.InOrder(reordered(whole, order), 1)
		if !sameTrack(got, whole) {
			t.Errorf("seed %d, %s: not the track as driven", seed, what)
		}
		if len(found) != 1 || found[0].Lost || !strings.Contains(found[0].What, "put in the order of time") {
			t.Errorf("seed %d, %s: said %v", seed, what, found)
		}
	}
}

func upTo(n int) []int {
	all := make([]int, n)
	for k := range all {
		all[k] = k
	}
	return all
}

// TestInOrderLeavesAlone: what is in order, and what is another fault, comes back as it is and without a word.
func TestInOrderLeavesAlone(t *testing.T) {
	block := slices.Concat(straight(200)[:101], straight(200)[80:])
	back := with(straight(200), 100, 200, func(k int, s *spot) { s.t -= 3600 })
	loop := straight(200) // ends where it began
	for k := range loop {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 200)
		loop[k].x, loop[k].y = 60*cos, 60*sin
		if k >= 100 {
			loop[k].t -= 3600
		}
	}
	for _, c := range []struct {
		name  string
		track geo.Track
	}{
		{"driven up and down", points(rows(6, 100, 2))},
		{"records sent again", points(block)},
		{"the clock set back by an hour", points(back)},
		{"the clock set back by an hour, the drive ends where it began", points(loop)},
		{"ten fixes a day behind", points(with(straight(200), 90, 100, func(k int, s *spot) { s.t -= 86400 }))},
		{"points without times", points(untimed(rows(6, 100, 2)))},
		{"points without times, two in a row", points(untimed(rows(30, 200, 200)))},
		{"points without times, three in a row", points(untimed(rows(30, 100, 50)))},
		{"points without times, five in a row", points(untimed(rows(30, 200, 50)))},
		{"points without times of three fields far apart", points(untimed(slices.Concat(rows(6, 100, 2), with(rows(6, 100, 2), 0, 306, func(_ int, s *spot) { s.x += 5000 }), with(rows(6, 100, 2), 0, 306, func(_ int, s *spot) { s.y += 9000 }))))},
		{"a line without times, drawn across", draw(untimed(rows(30, 3, 200)))},
	} {
		for k := range c.track.Speed { // draw's are no speeds
			c.track.Speed[k] = 2
		}
		got, found := geo.InOrder(c.track, 1)
		if !sameTrack(got, c.track) || len(found) > 0 {
			t.Errorf("%s: changed, or said %v", c.name, found)
		}
	}
}

// TestInOrderByNumber: a column that numbers the fixes says their order; those without a number are left out.
func TestInOrderByNumber(t *testing.T) {
	whole := points(untimed(rows(5, 60, 3)))
	n := whole.Fixes()
	for k := range n {
		whole.Came.Order = append(whole.Came.Order, 10*float64(k)+7)
		whole.Came.Pass = append(whole.Came.Pass, int32(k/21))
	}
	rng := rand.New(rand.NewPCG(3, 5))
	order := rng.Perm(n)
	got, found := geo.InOrder(reordered(whole, order), 1)
	if !reflect.DeepEqual(got.Line.FlatCoords()[0:2], whole.Line.FlatCoords()[0:2]) || len(got.Line.Ends()) != 5 || got.Fixes() != n {
		t.Errorf("%d fixes in parts %v: %d in 5 parts are wanted", got.Fixes(), got.Line.Ends(), n)
	}
	for k, v := range got.Speed {
		if v != float64(k) {
			t.Fatalf("fix %d is number %g of the drive", k, v)
		}
	}
	if len(found) != 1 || found[0].Lost {
		t.Errorf("said %v", found)
	}
	shuffled := reordered(whole, order)
	shuffled.Came.Order[7] = math.NaN()
	got, found = geo.InOrder(shuffled, 1)
	if got.Fixes() != n-1 || len(found) != 2 || !found[0].Lost || !strings.Contains(found[0].What, fmt.Sprintf("1 of %d fixes have no number", n)) {
		t.Errorf("%d fixes, said %v", got.Fixes(), found)
	}
}

// TestPassesAreKeptInOrder: a pass column makes parts where its value changes in the order of time, not in
// that of the file.
func TestPassesAreKeptInOrder(t *testing.T) {
	whole := points(rows(5, 60, 3))
	for k := range whole.Fixes() {
		whole.Came.Pass = append(whole.Came.Pass, int32(k/21))
	}
	shuffled := reordered(whole, rand.New(rand.NewPCG(1, 1)).Perm(whole.Fixes()))
	got, _ := geo.InOrder(shuffled, 1)
	if ends := got.Line.Ends(); len(ends) != 5 || ends[0] != 3*21 || got.Came.Pass != nil {
		t.Errorf("parts end at %v", ends)
	}
}

// TestPointsWithoutTimesOutOfOrder: random order is left out, with the column that may help; blocks are
// broken where they jump, and no step longer than a log gap is left.
func TestPointsWithoutTimesOutOfOrder(t *testing.T) {
	for seed := range uint64(10) {
		rng := rand.New(rand.NewPCG(seed, 9))
		whole := points(untimed(rows(40, 300, 4)))
		n := whole.Fixes()
		random := reordered(whole, rng.Perm(n))
		random.Came.Numbered = "seq"
		got, found := geo.InOrder(random, 1)
		if got.Fixes() != 0 || len(found) != 1 || !found[0].Lost || !strings.Contains(found[0].What, `--column order=seq`) {
			t.Errorf("seed %d: random order: %d of %d fixes are left, said %v", seed, got.Fixes(), n, found)
		}
		var blocks [][]int
		for b := range slices.Chunk(upTo(n), 12) {
			blocks = append(blocks, b)
		}
		rng.Shuffle(len(blocks), func(i, j int) { blocks[i], blocks[j] = blocks[j], blocks[i] })
		got, found = geo.InOrder(reordered(whole, slices.Concat(blocks...)), 1)
		if got.Fixes() != n || len(found) != 1 || !strings.Contains(found[0].What, "do not stand in the order driven") {
			t.Fatalf("seed %d: blocks: %d of %d fixes are left, said %v", seed, got.Fixes(), n, found)
		}
		if longest := longestStep(got); longest > 25 {
			t.Errorf("seed %d: blocks: a step of %.0f m is left", seed, longest)
		}
	}
}

// longestStep is the longest step within a part, m.
func longestStep(t geo.Track) (longest float64) {
	flat, from := t.Line.FlatCoords(), 0
	for _, end := range t.Line.Ends() {
		for i := from + 3; i < end; i += 3 {
			x, y := (flat[i]-flat[i-3])*math.Cos(54*math.Pi/180)/metre, (flat[i+1]-flat[i-2])/metre
			longest = max(longest, math.Hypot(x, y))
		}
		from = end
	}
	return longest
}

// TestRealLogsAreInOrder: nothing of them is put elsewhere by more than the two steps back of the combine's
// clock; without times nothing seems out of order; shuffled they come back, or are left out.
func TestRealLogsAreInOrder(t *testing.T) {
	for _, name := range []string{"seeding_ca_2019_1hz.csv", "combine_us_corn_3s.csv", "isobus/TLG00004.csv", "isobus/TLG00009.csv", "isobus/TLG00021.csv", "isobus"} {
		_, tracks := openTracks(t, name)
		for i, whole := range tracks {
			got, found := geo.InOrder(whole, i+1)
			if got.Fixes() != whole.Fixes() || len(found) > 0 && name != "combine_us_corn_3s.csv" {
				t.Errorf("%s, track %d: %d of %d fixes, said %v", name, i+1, got.Fixes(), whole.Fixes(), found)
			}
			bare := whole
			bare.Came.Points = true
			flat := slices.Clone(whole.Line.FlatCoords())
			for k := 2; k < len(flat); k += 3 {
				flat[k] = math.NaN()
			}
			bare.Line = geom.NewMultiLineStringFlat(geom.XYM, flat, whole.Line.Ends())
			if _, found := geo.InOrder(bare, 1); len(found) > 0 {
				t.Errorf("%s, track %d, without times: %v", name, i+1, found)
			}
			if whole.Fixes() < 100 {
				continue
			}
			order := rand.New(rand.NewPCG(7, 7)).Perm(bare.Fixes())
			if left, found := geo.InOrder(shuffledPlaces(bare, order), 1); left.Fixes() > 0 || len(found) != 1 {
				t.Errorf("%s, track %d, without times, in random order: %d fixes left, %v", name, i+1, left.Fixes(), found)
			}
		}
	}
}

// shuffledPlaces is a track with nothing but its places, in another order.
func shuffledPlaces(t geo.Track, order []int) geo.Track {
	var flat []float64
	for _, k := range order {
		flat = append(flat, t.Line.FlatCoords()[3*k:3*k+3]...)
	}
	return geo.Track{Source: t.Source, Came: geo.Came{Points: true}, Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})}
}

// TestLoggedWayTellsOrder: points that turn at every step seem out of order, but not if the logged way, in whatever
// unit, is as long as the steps.
func TestLoggedWayTellsOrder(t *testing.T) {
	var star []spot // every step turns by 100°, and misses the nearest point
	x, y, course := 0.0, 0.0, 0.0
	for k := range 300 {
		star = append(star, spot{x: x, y: y})
		course += 100 * math.Pi / 180
		l := 10 + float64(k*7%20)
		x, y = x+l*math.Cos(course)+0.3, y+l*math.Sin(course)
	}
	track := points(untimed(star))
	track.Speed = nil
	if got, found := geo.InOrder(track, 1); got.Fixes() == 300 || len(found) != 1 {
		t.Errorf("nothing logged: %d fixes left, %v", got.Fixes(), found)
	}
	for k := range star {
		l := 10 + float64((k+299)%300*7%20)
		track.Came.Apart = append(track.Came.Apart, l/0.0254) // inches
	}
	if got, found := geo.InOrder(track, 1); got.Fixes() != 300 || len(found) != 0 {
		t.Errorf("the way logged: %d fixes left, %v", got.Fixes(), found)
	}
}

// TestLoggedHeadingTellsOrder: stairs of 20 m, two steps to the east and two to the north by turns, in five files 4 m apart, so
// that no step leads to a point near. They turn at every other point, as rows do too: only what is logged tells.
func TestLoggedHeadingTellsOrder(t *testing.T) {
	stairs := func(log func(track *geo.Track, east bool, k int)) geo.Track {
		var spots []spot
		var easts []bool
		for file := range 5 {
			x, y := 0.0, 4*float64(file)
			for k := range 40 {
				spots, easts = append(spots, spot{x: x, y: y}), append(easts, k > 0 && (k-1)%4 < 2)
				if k%4 < 2 {
					x += 20
				} else {
					y += 20
				}
			}
		}
		track := points(untimed(spots))
		track.Speed = nil
		for k, east := range easts {
			log(&track, east, k)
		}
		return track
	}
	along := func(track *geo.Track, east bool, k int) {
		if track.Heading[k] = 0; east {
			track.Heading[k] = 90
		}
	}
	for _, c := range []struct {
		name string
		log  func(track *geo.Track, east bool, k int)
		left int
	}{
		{"nothing logged", func(track *geo.Track, _ bool, _ int) { track.Heading = nil }, 200},
		{"the heading driven", along, 200},
		{"the heading driven in reverse", func(track *geo.Track, east bool, k int) { along(track, east, k); track.Heading[k] += 180 }, 200},
		{"another heading at every other step", func(track *geo.Track, _ bool, k int) { track.Heading[k] = 0 }, 0},
		{"the way driven", func(track *geo.Track, _ bool, k int) { track.Came.Apart = append(track.Came.Apart, 20) }, 200},
		{"another way at every other step", func(track *geo.Track, _ bool, k int) {
			track.Came.Apart = append(track.Came.Apart, 20+80*float64(k%2))
		}, 0},
	} {
		got, found := geo.InOrder(stairs(c.log), 1)
		if got.Fixes() != c.left || (len(found) == 0) != (c.left > 0) {
			t.Errorf("%s: %d of 200 fixes left, want %d; said %v", c.name, got.Fixes(), c.left, found)
		}
	}
}

// TestTracksByTime: files of one drive in any order come in that of time, also if the clock of one began in 1980; those
// without times keep their places.
func TestTracksByTime(t *testing.T) {
	drive := rows(4, 100, 2)
	file := func(i int) geo.Track {
		part := drive[51*i : 51*(i+1)]
		if i == 2 {
			part = with(part, 0, 3, func(k int, s *spot) { s.t = 3e8 + float64(k) })
		}
		track := draw(part)
		track.Source = fmt.Sprint(i)
		return track
	}
	bare := draw(untimed(drive))
	bare.Source = "bare"
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {2, 0, 3, 1}} {
		var files []geo.Track
		for _, i := range order {
			files = append(files, file(i))
		}
		files = slices.Insert(files, 2, bare)
		got, moved := geo.ByTime(files)
		var names []string
		for _, g := range got {
			names = append(names, g.Source)
		}
		if !slices.Equal(names, []string{"0", "1", "bare", "2", "3"}) || moved != (order[0] != 0) {
			t.Errorf("given %v: %v, moved %v", order, names, moved)
		}
	}
}
