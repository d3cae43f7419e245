package rival

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

func box(w, h float64) plane.Ring { return plane.Ring{{}, {X: w}, {X: w, Y: h}, {Y: h}} }

// TestShortestWays holds dubins to a table of lengths (see its head), and to where its ways end.
func TestShortestWays(t *testing.T) {
	long := func(way []arc) (l float64) {
		for _, a := range way {
			l += a.length
		}
		return l
	}
	rows := check.Rows(t, "turning/dubins_shortest.csv")
	if len(rows) < 20 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows {
		a, b, d := row.Number("a"), row.Number("b"), row.Number("d")
		if got, want := long(dubins(pose{h: a}, pose{plane.XY{X: d}, b}, 1)), row.Number("length"); math.Abs(got-want) > 1e-9 {
			t.Errorf("from %.4g to %.4g over %g: %.12g, want %s of %.12g", a, b, d, got, row.Text("word"), want)
		}
	}
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 500 {
		from := pose{plane.XY{X: rng.Float64() * 40, Y: rng.Float64() * 40}, rng.Float64() * 7}
		to := pose{plane.XY{X: rng.Float64() * 40, Y: rng.Float64() * 40}, rng.Float64() * 7}
		if end := ended(from, dubins(from, to, 5)); end.at.Dist(to.at) > 1e-6 || math.Abs(math.Remainder(end.h-to.h, 2*math.Pi)) > 1e-6 {
			t.Fatalf("seed %d: from %v: ends at %v, want %v", seed, from, end, to)
		}
	}
}

// ended is where a way ends: an arc's chord is 2/c·sin(cl/2) long and bears half its turn.
func ended(at pose, way []arc) pose {
	for _, a := range way {
		chord, turn := a.length, a.length*a.bent
		if a.bent != 0 {
			chord = 2 / a.bent * math.Sin(turn/2)
		}
		sin, cos := math.Sincos(at.h + turn/2)
		at = pose{at.at.Add(plane.XY{X: cos, Y: sin}.Scale(chord)), at.h + turn}
	}
	return at
}

// TestQuarters: the turn of a set that may reverse ends in its row, and takes (π + (2r − d)/…) as reckoned by hand: two quarters of 5.5 m and 5 m
// back, with two changes.
func TestQuarters(t *testing.T) {
	s := setOf(Sets()[0].Implement, Usual())
	from, to := pose{}, pose{plane.XY{X: -4, Y: 6}, math.Pi}
	way := s.quarters(from, to)
	if end := ended(from, way); end.at.Dist(to.at) > 1e-9 {
		t.Errorf("ends at %v", end)
	}
	trial.Near(t, "time", s.time(way), (math.Pi*5.5+4)/(6/3.6)+5/(4/3.6)+2*3, 1e-9)
	if tow := setOf(Sets()[1].Implement, Usual()); tow.quarters(from, to) != nil {
		t.Error("a trailed set reverses")
	}
}

// TestInset: rectangles by hand, an obstacle by its circle, and real fields beside the engine's insets, which are drawn another way.
func TestInset(t *testing.T) {
	trial.Near(t, "100 × 60 m, 10 m inside", areaOf(inset([]plane.Ring{box(100, 60)}, 10)), 80*40, 1e-6)
	trial.Near(t, "and 10 m out again, corners round", grown(inset([]plane.Ring{box(100, 60)}, 10), 10), 6000-(4-math.Pi)*100, 2)
	hole := plane.Ring{{X: 45, Y: 28}, {X: 45, Y: 32}, {X: 55, Y: 32}, {X: 55, Y: 28}}
	trial.Near(t, "with an obstacle of 10 × 4 m", areaOf(inset([]plane.Ring{box(100, 60), hole}, 5)), 90*50-(40+28*5+math.Pi*25), 0.5)
	if got := inset([]plane.Ring{box(100, 60)}, 31); len(got) != 0 {
		t.Errorf("deeper than half the breadth: %d rings", len(got))
	}
	for i, f := range trial.OnPlanes(t) {
		if i%4 != 0 {
			continue // all of them take half a minute
		}
		rings := ringsOf(f)
		for _, d := range []float64{4.5, 10, 15} {
			want := 0.0
			in, err := plane.Inset(t.Context(), f, d)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range in {
				want += p.Area()
			}
			if got := areaOf(inset(rings, d)); math.Abs(got-want) > 5+0.002*areaOf(rings) {
				t.Errorf("field %d, %g m inside: %.0f m², want %.0f m²", i+1, d, got, want)
			}
		}
	}
}

// TestRowsCover: every point of some ground lies in a row, rows of a strip are apart, and the rows of a rectangle are those counted by hand.
func TestRowsCover(t *testing.T) {
	rows, pitch := rowsOf([]plane.Ring{box(100, 61)}, 6)
	if len(rows) != 11 || math.Abs(pitch-61.0/11) > 1e-9 || rows[3][0].long() != 100 {
		t.Errorf("%d rows, %g m apart: want 11 of 100 m", len(rows), pitch)
	}
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 2))
	shape := plane.Polygon{{{}, {X: 80}, {X: 80, Y: 90}, {X: 50, Y: 90}, {X: 45, Y: 30}, {X: 30, Y: 85}, {Y: 70}}, {{X: 60, Y: 40}, {X: 60, Y: 50}, {X: 70, Y: 50}, {X: 70, Y: 40}}}
	for range 20 {
		sin, cos := math.Sincos(rng.Float64() * 2 * math.Pi)
		f := frame{plane.XY{X: cos, Y: sin}}
		var rings []plane.Ring
		for _, r := range shape {
			one := plane.Ring{}
			for _, p := range r {
				one = append(one, f.to(p))
			}
			rings = append(rings, one)
		}
		rows, pitch := rowsOf(rings, 5)
		for range 300 {
			p := plane.XY{X: rng.Float64() * 80, Y: rng.Float64() * 90}
			if q := f.to(p); shape.Holds(p) && !slices.ContainsFunc(slices.Concat(rows...), func(r row) bool {
				return math.Abs(q.Y-r.v) <= pitch/2+1e-9 && q.X >= r.u0-1e-9 && q.X <= r.u1+1e-9
			}) {
				t.Fatalf("seed %d: %v lies in no row", seed, p)
			}
		}
		count := 0
		for _, b := range blocksOf(rows) {
			count += len(b)
		}
		if count != len(slices.Concat(rows...)) {
			t.Errorf("seed %d: %d rows in blocks of %d", seed, count, len(slices.Concat(rows...)))
		}
	}
}

// TestPatterns: each drives every row once.
func TestPatterns(t *testing.T) {
	for n := 1; n < 40; n++ {
		for name, order := range patterns(n, 6) {
			sorted := slices.Sorted(slices.Values(order))
			if !slices.Equal(sorted, upTo(n)) {
				t.Errorf("%s of %d: %v", name, n, order)
			}
		}
	}
	if got := patterns(9, 2)["lands of 4"]; !slices.Equal(got, []int{0, 2, 1, 3, 4, 6, 5, 7, 8}) {
		t.Errorf("lands of 4: %v", got)
	}
}

// TestRectangle is a field that a person can reckon: 300 × 200 m, 6 m, two rounds: 30 rows of 276 m and rounds of 976 and 928 m.
func TestRectangle(t *testing.T) {
	l := plannerOf([]plane.Polygon{{box(300, 200)}}, Sets()[0].Implement, Usual())
	p := l.plan(2, 0, true)
	if p.Rows != 30 || p.Unfit != 0 {
		t.Errorf("%+v", p)
	}
	trial.Near(t, "missed", p.Missed, 4*8.5*8.5*(1-math.Pi/4), 1)
	driven := (30*276 + 976 + 928) / (8 / 3.6) / 3600.0
	// The first round's corners are rounded, which leaves 8.5²·(1 − π/4) m² of each: to back into one takes 26 s, and leaves as much as 19 s are worth, for
	// nose and tail meet the boundary. At the second round's corners they do not: 4.7 m back, round, and 6.3 m back.
	corners := 4 * ((math.Pi/2*5.5-11)/(8/3.6) + math.Pi/2*5.5/(6/3.6) + (4.7+6.3)/(4/3.6) + 4*3) / 3600
	turns := (p.Hours - driven - corners) * 3600 / 29
	// no turn is quicker than half a circle at 6 km/h; a quarter, back and a quarter over one row takes the longest
	if quickest, slowest := math.Pi*5.5/(6/3.6), (math.Pi*5.5+4.4)/(6/3.6)+5/(4/3.6)+6; turns < quickest || turns > slowest {
		t.Errorf("%.1f s a turn: want from %.1f to %.1f", turns, quickest, slowest)
	}
	if b, q := l.bound(), l.best(); b > q.Value || b < 0.85*q.Value {
		t.Errorf("bound %.3f h of %.3f h", b, q.Value)
	}
	for _, c := range []struct{ set, want int }{{0, 2}, {1, 4}, {2, 4}} { // (2.2 + 5.5 + 3 + 0.3)/6, (6.2 + 6.5 + 2.5 + 0.3)/5, (2.2 + 5.5 + 1.5 + 0.3)/3
		if got := Needed(Sets()[c.set].Implement); got != c.want {
			t.Errorf("%s: %d rounds needed, want %d", Sets()[c.set].Name, got, c.want)
		}
	}
}

// TestStays: a way along a boundary keeps its margin or does not, and a drawbar cuts in.
func TestStays(t *testing.T) {
	s := setOf(Sets()[1].Implement, Usual())
	wall := func(p plane.XY) bool { return p.Y <= 3-0.3 }
	if !s.stays(pose{}, []arc{{20, 0}}, wall) || s.stays(pose{at: plane.XY{Y: 0.3}}, []arc{{20, 0}}, wall) {
		t.Error("a bar of 5 m needs 2.5 m and a margin of 0.3 m")
	}
}

// TestPlansBeside holds plans of balk to those of the other planner on a few fields; all fields and sets are counted by .ci/plans. What plans are to
// reach stands in table.go. Here a pair may be twice as good or bad, which some are, elsewhere.
func TestPlansBeside(t *testing.T) {
	if testing.Short() || trial.UnderRaceDetector() {
		t.Skip("some seconds of planning")
	}
	const (
		pairs   = 6
		largest = 8e4 // m²
	)
	fields := trial.OnPlanes(t)
	// The same pairs in every gate: .ci/plans counts all, and says where either planner is far from the other.
	rng := rand.New(rand.NewPCG(7, 3))
	var ratios []float64
	for len(ratios) < pairs {
		n := rng.IntN(len(fields))
		if a := areaOf(ringsOf(fields[n])); a > largest || a < 1e4 {
			continue
		}
		s := Sets()[len(ratios)%len(Sets())]
		r := Alone(fmt.Sprint(n+1), fields[n], s)
		if err := r.Beside(t.Context(), fields[n], s); err != nil {
			t.Fatal(err)
		}
		t.Logf("field %s, %s: %.3f, gap %.2f: %+v, other %+v", r.Field, r.Set, r.Ratio(), r.Gap(), r.Balk, r.Rival)
		if !(r.Ratio() < 2) || !(r.Ratio() > 0.4) || !(r.Bound > 0) {
			t.Errorf("field %s, %s: %.3f of the other planner's hours", r.Field, r.Set, r.Ratio())
		}
		if min(r.Balk.Value, r.Rival.Value) < r.Bound {
			t.Errorf("field %s, %s: plans of %.4f and %.4f h below the bound of all, %.4f h", r.Field, r.Set, r.Balk.Value, r.Rival.Value, r.Bound)
		}
		if !(r.Order > 0 && r.Order < 0.5) {
			t.Errorf("field %s, %s: %.3f above the least that its rows and rounds take in any order", r.Field, r.Set, r.Order)
		}
		ratios = append(ratios, r.Ratio())
	}
	slices.Sort(ratios)
	if m := ratios[pairs/2]; m > 1.1 {
		t.Errorf("median %.3f of the other planner's hours", m)
	}
}

// TestRanks: Spearman's correlation of orders that a person can reckon: the same, the reverse, and one with a pair swapped, 1 − 6·2/(4·15).
func TestRanks(t *testing.T) {
	for _, c := range []struct {
		a, b []float64
		want float64
	}{{[]float64{1, 5, 9, 20}, []float64{2, 3, 4, 5}, 1}, {[]float64{1, 5, 9, 20}, []float64{9, 8, 7, 6}, -1}, {[]float64{1, 5, 9, 20}, []float64{3, 2, 4, 5}, 0.8}, {[]float64{1, 1, 2}, []float64{4, 4, 9}, 1}} {
		trial.Near(t, fmt.Sprint(c.a, c.b), correlation(ranks(c.a), ranks(c.b)), c.want, 1e-12)
	}
}

// TestGamma: pairs apart that a person can count. Of 10, 10.05, 12 and 20 all but the first two are more than 1 % apart: five pairs. An order that swaps the last two has
// four of them right and one wrong, one with a tie two right, two wrong and one neither.
func TestGamma(t *testing.T) {
	laid := []float64{10, 10.05, 12, 20}
	for _, c := range []struct {
		first []float64
		pairs int
		want  float64
	}{{[]float64{1, 2, 3, 4}, 5, 1}, {[]float64{2, 1, 3, 4}, 5, 1}, {[]float64{1, 2, 4, 3}, 5, 0.6}, {[]float64{1, 3, 3, 2}, 5, 0}, {[]float64{4, 3, 2, 1}, 5, -1}} {
		pairs, got := gamma(c.first, laid, 0.01)
		if pairs != c.pairs {
			t.Errorf("%v: %d pairs, want %d", c.first, pairs, c.pairs)
		}
		trial.Near(t, fmt.Sprint(c.first), got, c.want, 1e-12)
	}
	if pairs, got := gamma([]float64{1, 2}, []float64{1, 1.01}, 0.01); pairs != 0 || got != 1 {
		t.Errorf("alike: %d pairs, %g", pairs, got)
	}
}

// TestDirections holds the estimate that chooses among directions to plans laid out, on a field with slanting ends; all fields are counted by
// .ci/plans -directions.
func TestDirections(t *testing.T) {
	if testing.Short() || trial.UnderRaceDetector() {
		t.Skip("some seconds of planning")
	}
	field := []plane.Polygon{{{{}, {X: 260, Y: 20}, {X: 230, Y: 170}, {X: 40, Y: 150}}}}
	for _, s := range Sets() {
		o, err := Directions(t.Context(), "slanting", field, s, 12)
		if err != nil {
			t.Fatal(err)
		}
		if o.Correlation < 0.6 || o.Lost > 0.01 {
			t.Errorf("%s: correlation %.2f, %.1f %% lost: want 0.6 or more of so few, 1 %% at most", s.Name, o.Correlation, 100*o.Lost)
		}
		t.Logf("%+v", o)
	}
}

// TestEnters: from the end of a row a set gets into the round beside it in a field, and not on a strip that it has no room to turn on.
func TestEnters(t *testing.T) {
	for _, c := range []struct {
		breadth float64
		want    bool
	}{{80, true}, {18, false}} {
		l := plannerOf([]plane.Polygon{{box(200, c.breadth)}}, Sets()[0].Implement, Usual())
		end := pose{plane.XY{X: 194 + l.lead - 8, Y: c.breadth / 2}, 0}
		if got := l.enters(end, l.laps[0].rings[0]); got != c.want {
			t.Errorf("%g m broad: %v", c.breadth, got)
		}
	}
}

// TestBacked: corners by hand. A right angle of the second round, 9 m deep, has room for all of the set; of the first the tail ends 0.8 m before the
// boundary, and on a bend of 5.5 m it swings out √(8.5² + 3²) − 8.5 m, of which 0.1 m are loose; the nose of a narrow set swings out too.
func TestBacked(t *testing.T) {
	wide, narrow := setOf(Sets()[0].Implement, Usual()), setOf(Sets()[2].Implement, Usual())
	wedge := func(swing, far float64) float64 {
		off := swing - 0.1
		return off * math.Sqrt(off*(4*far*far/0.2-off)) / 2
	}
	for _, c := range []struct {
		name            string
		s               set
		k               int
		seconds, missed float64
	}{
		{"6 m, second round", wide, 2, math.Pi/2*5.5/(6/3.6) + (4.7+6.3)/(4/3.6) + 12, 0},
		{"6 m, first round", wide, 1, math.Pi/2*5.5/(6/3.6) + (4.7+5.5)/(4/3.6) + 12, 0.8*6 + wedge(math.Hypot(8.5, 3)-8.5, 3)},
		{"3 m, first round: its nose ends the pass 4.5 m before the corner", narrow, 1, math.Pi/2*5.5/(6/3.6) + (3.2+4)/(4/3.6) + 12,
			3*(3+0.8) + wedge(math.Hypot(7, 3)-7, 3) + wedge(math.Hypot(6.75, 3.8)-7, 3.8)},
	} {
		seconds, missed, wedges := c.s.backed(math.Pi/2, c.k)
		trial.Near(t, c.name+", s", seconds, c.seconds, 1e-9)
		trial.Near(t, c.name+", m²", missed+wedges, c.missed, 1e-9)
	}
	if seconds, missed, _ := setOf(Sets()[1].Implement, Usual()).backed(math.Pi/2, 1); !math.IsInf(seconds, 1) || math.Abs(missed-5*(5+0.8)) > 1e-9 { // its nose is 10 m before its bar
		t.Errorf("trailed: %g s and %g m²", seconds, missed)
	}
}

// A varied field is the same shape: its area grows with the square of its scale, and each number has a field of its own.
func TestVariedFieldsKeepTheirShape(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 100}, {X: 0, Y: 100}}, {{X: 50, Y: 50}, {X: 50, Y: 60}, {X: 60, Y: 50}}}}
	seen := map[plane.XY]bool{}
	for n := range 100 {
		varied, scale := Varied(field, n)
		if scale < leastScale || scale > mostScale {
			t.Errorf("%d: scale %g", n, scale)
		}
		trial.Near(t, fmt.Sprintf("%d: m²", n), varied[0].Area(), scale*scale*field[0].Area(), 1e-3)
		seen[varied[0][0][0]] = true
	}
	if len(seen) != 100 {
		t.Errorf("%d of 100 fields differ", len(seen))
	}
	again, _ := Varied(field, 7)
	if once, _ := Varied(field, 7); once[0][0][0] != again[0][0][0] {
		t.Error("one number gives two fields")
	}
}

// Two squares of 40 m joined by a passage of 4 m: a set of 5 m has no way from one to the other, one of 3 m has; nor is a part of the field beside another in its way.
func TestSeparate(t *testing.T) {
	ground := plane.Ring{{}, {X: 40}, {X: 40, Y: 18}, {X: 50, Y: 18}, {X: 50}, {X: 90}, {X: 90, Y: 40}, {X: 50, Y: 40}, {X: 50, Y: 22}, {X: 40, Y: 22}, {X: 40, Y: 40}, {Y: 40}}
	left, right := plane.XY{X: 20, Y: 20}, plane.XY{X: 70, Y: 20}
	one := []plane.Polygon{{ground}}
	two := []plane.Polygon{{box(40, 40)}, {{{X: 50}, {X: 90}, {X: 90, Y: 40}, {X: 50, Y: 40}}}}
	for _, c := range []struct {
		what  string
		field []plane.Polygon
		half  float64
		want  bool
	}{{"set of 5 m", one, 2.5, true}, {"set of 3 m", one, 1.5, false}, {"two parts", two, 2.5, false}} {
		if got := separate(roomsOf(c.field, c.half), left, right); got != c.want {
			t.Errorf("%s: apart %v, want %v", c.what, got, c.want)
		}
		if rooms := roomsOf(c.field, c.half); separate(rooms, left, left.Add(plane.XY{X: 1})) || separate(rooms, plane.XY{X: 0.1, Y: 0.1}, right) {
			t.Errorf("%s: apart from itself, or from a place where it cannot stand", c.what)
		}
	}
}
