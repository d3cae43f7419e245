package turn

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// snake is a path with a piece of every kind in both gears.
func snake() Path {
	return Path{From: Pose{plane.XY{X: 10, Y: -5}, 0.3}, Pieces: []Arc{
		{3, 0, 0.2}, {4, 0.2, 0.2}, {2, 0.2, -0.1}, {-5, -0.1, -0.1}, {-3, 0, 0}, {6, 0.25, 0}, {7, 0, 0}, {-4, 0.1, -0.2},
	}}
}

// anyPath has up to eight pieces.
func anyPath(rng *rand.Rand) Path {
	p := Path{From: anyPose(rng, 50)}
	for range 1 + rng.IntN(8) {
		p.Pieces = append(p.Pieces, anyArc(rng))
	}
	return p
}

// Curvature is that after s metres, 1/m, positive: steering to the left. Where
// it jumps it is that of the piece that ends there; 0 on an empty path.
func (p Path) Curvature(s float64) float64 {
	var k float64
	for _, a := range p.Pieces {
		whole := math.Abs(a.Length)
		if s <= whole {
			if s <= 0 {
				return a.From
			}
			return a.first(s).To
		}
		k = a.To
		s -= whole
	}
	return k
}

// Spread is how wide p is, square to its first heading, m.
func (p Path) Spread() float64 {
	least, most := p.Extent(p.From.Heading + math.Pi/2)
	return most - least
}

func TestPathNumbers(t *testing.T) {
	p := snake()
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"length", p.Length(), 34},
		{"reverse", p.Reverse(), 12},
		{"changes", float64(p.Changes()), 3},
		{"curvature before the start", p.Curvature(-1), 0},
		{"curvature at half of the ramp in", p.Curvature(1.5), 0.1},
		{"curvature where it jumps", p.Curvature(14), -0.1},
		{"curvature after it jumped", p.Curvature(14.001), 0},
		{"curvature at the end", p.Curvature(34), -0.2},
		{"curvature beyond the end", p.Curvature(99), -0.2},
		{"curvature of an empty path", Path{}.Curvature(1), 0},
	} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%s: %g, want %g", c.name, c.got, c.want)
		}
	}
	for s := range 34 {
		if d := p.At(float64(s)).At.Dist(p.At(float64(s) + 1e-7).At); math.Abs(d-1e-7) > 1e-13 {
			t.Errorf("the first 0.1 µm after %d m are %g m", s, d)
		}
	}
	if p.At(-1) != p.From || p.At(0) != p.From || p.At(34) != p.End() || p.At(99) != p.End() {
		t.Error("the path does not keep to its ends")
	}
	if got := p.Word(); got != "L+R-S-L+S+R-" {
		t.Errorf("word %s", got)
	}
	if got := (Path{Pieces: []Arc{{1, 0, 0.1}, {1, 0.1, 0}, {2, 0, 0}, {1, -0.1, -0.1}}}).Word(); got != "LSR" {
		t.Errorf("word %s", got)
	}
}

func TestAddJoinsWhatContinues(t *testing.T) {
	var pieces []Arc
	for _, a := range []Arc{{1, 0, 0}, {2, 0, 0}, {-2, 0, 0}, {3, 0.1, 0.1}, {1e-13, 0, 0}, {1e-14, 0.1, 0.1}, {4, 0.1, 0.1}, {1, 0.1, 0}, {5, -0.1, -0.1}, {1, -0.2, -0.2}} {
		pieces = add(pieces, a)
	}
	want := []Arc{{3, 0, 0}, {-2, 0, 0}, {7, 0.1, 0.1}, {1, 0.1, 0}, {5, -0.1, -0.1}, {1, -0.2, -0.2}}
	if !slices.Equal(pieces, want) {
		t.Errorf("%v, want %v", pieces, want)
	}
}

func TestTime(t *testing.T) {
	v := Speeds{Turning: 2, Reversing: 1, Change: 4}
	for _, c := range []struct {
		name string
		p    Path
		v    Speeds
		want float64 // s; below 0: an error
	}{
		{"22 m forward, 12 m back, 3 changes", snake(), v, 11 + 12 + 12},
		{"forward only needs no speed in reverse", Path{Pieces: []Arc{{30, 0, 0}}}, Speeds{Turning: 1.5}, 20},
		{"no speed in reverse", snake(), Speeds{Turning: 2}, -1},
		{"speed 0", snake(), Speeds{}, -1},
		{"speed no number", snake(), Speeds{Turning: math.NaN()}, -1},
		{"speed in km/h by mistake of units", snake(), Speeds{Turning: 36}, -1},
		{"in reverse below 0", snake(), Speeds{Turning: 2, Reversing: -1}, -1},
		{"change below 0", snake(), Speeds{Turning: 2, Reversing: 1, Change: -1}, -1},
	} {
		got, err := c.p.Time(c.v)
		if c.want < 0 {
			if err == nil || got != 0 || !strings.Contains(err.Error(), "must be") {
				t.Errorf("%s: %g s, error %v", c.name, got, err)
			}
		} else if err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g s, error %v, want %g s", c.name, got, err, c.want)
		}
	}
}

// TestExtentIsThatOfManySamples: never inside of any sample, and with samples h apart
// beyond them by h²/8·|κ| at most.
func TestExtentIsThatOfManySamples(t *testing.T) {
	const seed, step = 5, 0.01
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 150 {
		p, towards := anyPath(rng), geo.Heading(20*rng.NormFloat64())
		sin, cos := math.Sincos(float64(towards))
		var low, high, bent float64
		if err := p.Walk(step, func(_ float64, at Pose, k float64, _ bool) {
			x := at.At.Sub(p.From.At).Dot(plane.XY{X: cos, Y: sin})
			low, high, bent = math.Min(low, x), math.Max(high, x), math.Max(bent, math.Abs(k))
		}); err != nil {
			t.Fatal(err)
		}
		least, most := p.Extent(towards)
		slack := step * step / 8 * bent * 1.01
		if !(least <= low+1e-11 && least >= low-slack-1e-11 && most >= high-1e-11 && most <= high+slack+1e-11) {
			t.Fatalf("%+v towards %g: %.9g to %.9g, samples %.9g to %.9g", p, towards, least, most, low, high)
		}
	}
	full := Path{Pieces: []Arc{{7 * math.Pi, 1, 1}}}
	if d, s := full.Depth(), full.Spread(); math.Abs(d-1) > 1e-12 || math.Abs(s-2) > 1e-12 {
		t.Errorf("three and a half circles of 1 m: depth %g m, spread %g m, want 1 m, 2 m", d, s)
	}
	bad := Path{Pieces: []Arc{{math.Inf(1), 0, 1}}}
	if d := bad.Depth(); !math.IsNaN(d) {
		t.Errorf("a path that is not valid has the depth %g m, want NaN", d)
	}
}

func TestWalkHitsEveryEndOfAPiece(t *testing.T) {
	p := snake()
	var ends []float64
	for s, i := 0.0, 0; i <= len(p.Pieces); i++ {
		ends = append(ends, s)
		if i < len(p.Pieces) {
			s += math.Abs(p.Pieces[i].Length)
		}
	}
	before, seen, reversed := 0.0, 0, 0.0
	err := p.Walk(0.7, func(s float64, at Pose, k float64, reverse bool) {
		if want := p.At(s); furthest(at.At.Dist(want.At), float64(at.Heading-want.Heading)) > 1e-12 {
			t.Errorf("at %g m: %+v, want %+v", s, at, want)
		}
		if want := p.Curvature(s); math.Abs(k-want) > 1e-12 {
			t.Errorf("at %g m: curvature %g, want %g", s, k, want)
		}
		if s > 0 && (s-before > 0.7+1e-12 || s <= before) {
			t.Errorf("from %g m to %g m: steps must be above 0 and 0.7 m at most", before, s)
		}
		if reverse {
			reversed += s - before
		}
		if seen < len(ends) && s == ends[seen] {
			seen++
		}
		before = s
	})
	if err == nil && seen != len(ends) {
		t.Errorf("%d of %d ends of pieces were visited", seen, len(ends))
	}
	if err != nil || math.Abs(reversed-p.Reverse()) > 1e-12 {
		t.Errorf("error %v, %g m in reverse, want %g m", err, reversed, p.Reverse())
	}
	calls := 0
	if err := (Path{}).Walk(1, func(float64, Pose, float64, bool) { calls++ }); err != nil || calls != 1 {
		t.Errorf("an empty path: %d calls, error %v, want its start alone", calls, err)
	}
}

func TestWalkRefuses(t *testing.T) {
	none := func(float64, Pose, float64, bool) { t.Error("called in spite of the error") }
	endless := Path{Pieces: []Arc{{math.Inf(1), 0, 0}}}
	far := Path{Pieces: []Arc{{1e5, 0, 0}}}
	for name, err := range map[string]error{
		"step 0":               snake().Walk(0, none),
		"step no number":       snake().Walk(math.NaN(), none),
		"path not valid":       endless.Walk(1, none),
		"too many samples":     far.Walk(1e-3, none),
		"start not valid":      Path{From: Pose{At: plane.XY{X: math.NaN()}}}.Walk(1, none),
		"line, bow 0":          second(snake().Line(0)),
		"line, path not valid": second(endless.Line(0.01)),
	} {
		if err == nil || !strings.Contains(err.Error(), "must be") {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

func second[A any](_ A, err error) error { return err }

// TestLineBow measures how far the path gets from its line, from samples at a
// fraction of the chords.
func TestLineBow(t *testing.T) {
	const seed = 6
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 100 {
		p, bow := anyPath(rng), math.Pow(10, -1-3*rng.Float64())
		line, err := p.Line(bow)
		if err != nil {
			t.Fatal(err)
		}
		if place := line[len(line)-1].Dist(p.End().At); place > 1e-11 || line[0] != p.From.At {
			t.Fatal("the line does not keep to the ends of its path")
		}
		// Both are visited in the order driven: the chord at hand is the one that the sample falls into.
		k, worst := 0, 0.0
		var lengths []float64
		if err := p.walk(func(a Arc) float64 { return math.Sqrt(8 * bow / a.bent()) }, func(s float64, _ Pose, _ float64, _ bool) { lengths = append(lengths, s) }); err != nil {
			t.Fatal(err)
		}
		if err := p.Walk(0.02, func(s float64, at Pose, _ float64, _ bool) {
			for k+2 < len(line) && lengths[k+1] < s {
				k++
			}
			u := (s - lengths[k]) / (lengths[k+1] - lengths[k])
			worst = math.Max(worst, at.At.Dist(line[k].Lerp(line[k+1], u)))
		}); err != nil {
			t.Fatal(err)
		}
		if worst > bow*(1+1e-9) {
			t.Fatalf("%+v leaves its line by %g m, limit %g m", p, worst, bow)
		}
	}
}
