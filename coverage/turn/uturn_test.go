package turn

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// turned is the path of a kind that must serve.
func turned(t *testing.T, k Kind, r Rows, s Steering) Path {
	t.Helper()
	p, err := k.Path(r, s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(got, want, limit float64) bool { return math.Abs(got-want) <= limit }

// TestTurnsOfTheCheckTable: plain U, half circle, bulb and fishtail, each to the left and to the right.
func TestTurnsOfTheCheckTable(t *testing.T) {
	for _, row := range check.Rows(t, "turning/uturns.csv") {
		w, r := row.Number("row_offset_w_m"), row.Number("min_radius_r_m")
		k := PlainU
		if row.Text("kind") == "bulb" {
			k = Bulb
		}
		for _, left := range []bool{true, false} {
			rows := Rows{From: Pose{plane.XY{X: 5, Y: 7}, 0.8}, Distance: w, Left: left}
			p := turned(t, k, rows, Steering{Radius: r})
			if err := leadsTo(p, rows.To()); err != nil {
				t.Error(err)
			}
			if !near(p.Length(), row.Number("path_length_m"), 1e-9) || !near(p.Depth(), row.Number("depth_m"), 1e-9) {
				t.Errorf("%v: length %.9f m, depth %.9f m", row, p.Length(), p.Depth())
			}
			if k == Bulb {
				if alpha := math.Abs(p.Pieces[0].Length) / r; !near(alpha, row.Number("alpha_rad"), 1e-9) {
					t.Errorf("%v: away by %.9f rad", row, alpha)
				}
				if !near(p.Spread(), 2*r, 1e-9) {
					t.Errorf("%v: spread %.9f m, want 2r", row, p.Spread())
				}
				f := turned(t, Fishtail, rows, Steering{Radius: r})
				if !near(f.Length(), row.Number("fishtail_length_m"), 1e-9) || !near(f.Depth(), r, 1e-9) || f.Changes() != 2 || !near(f.Reverse(), 2*r-w, 1e-9) {
					t.Errorf("%v: fishtail of %.9f m, depth %.9f m, %d changes, %g m back", row, f.Length(), f.Depth(), f.Changes(), f.Reverse())
				}
			}
			// Two ways to the same: rows level with each other leave nothing shorter forward.
			if d := turned(t, Forward, rows, Steering{Radius: r}); !near(d.Length(), p.Length(), 1e-8) {
				t.Errorf("%v: the shortest forward is %.9f m, %s %.9f m", row, d.Length(), k, p.Length())
			}
		}
	}
}

func TestShuntsOfTheCheckTable(t *testing.T) {
	for _, row := range check.Rows(t, "turning/three_arc_uturns.csv") {
		w, r := row.Number("w_m"), row.Number("r_m")
		rows := Rows{Distance: w, Left: true}
		p := turned(t, Shunt, rows, Steering{Radius: r})
		if err := leadsTo(p, rows.To()); err != nil {
			t.Error(err)
		}
		if !near(p.Length(), row.Number("length_m"), 1e-9) || !near(p.Depth(), row.Number("depth_m"), 1e-9) || !near(p.Pieces[0].Length/r, row.Number("alpha_rad"), 1e-9) && w < 2*r {
			t.Errorf("%v: length %.9f m, depth %.9f m", row, p.Length(), p.Depth())
		}
		if d := turned(t, Reversing, rows, Steering{Radius: r}); d.Length() > p.Length()+Exact {
			t.Errorf("%v: the shortest with reversing is %.9f m, the shunt %.9f m", row, d.Length(), p.Length())
		}
	}
}

// TestTurnsAPersonCanCheck: radius 6 m, wheels that turn at once.
//
//	╭───╮ 16.39 m      ╭───╮ 18 m
//	╰╮ ╭╯             ╭╯   │
//	 │ │              ╰─╮  │
func TestTurnsAPersonCanCheck(t *testing.T) {
	const pi = math.Pi
	for _, c := range []struct {
		name                  string
		k                     Kind
		rows                  Rows
		word                  string
		length, depth, spread float64
	}{
		{"plain U, 15 m apart", PlainU, Rows{Distance: 15}, "RSR", 6*pi + 3, 6, 15},
		{"next pass starts 4 m farther out", PlainU, Rows{Distance: 15, Stagger: 4}, "SRSR", 6*pi + 7, 10, 15},
		{"next pass starts 4 m farther in", PlainU, Rows{Distance: 15, Stagger: -4}, "RSRS", 6*pi + 7, 6, 15},
		{"bulb, same row", Bulb, Rows{Left: true}, "RLR", 7.330382858 * 6, 2.732050808 * 6, 12},
		{"hook, same row", Hook, Rows{Left: true}, "RLS", 6*2*pi + 12, 18, 12},
		{"hook from the other end, same row", HookBeyond, Rows{Left: true}, "SLR", 6*2*pi + 12, 18, 12},
		{"hook, next pass 4 m out: the straight back is shorter", Hook, Rows{Left: true, Stagger: 4}, "RLS", 6*2*pi + 8, 18, 12},
		{"hook, next pass 20 m out: straight first", Hook, Rows{Left: true, Stagger: 20}, "SRL", 6*2*pi + 8, 26, 12},
		{"hook beyond, next pass 20 m in: straight back", HookBeyond, Rows{Left: true, Stagger: -20}, "LRS", 6*2*pi + 8, 6, 12},
		{"fishtail, 4 m apart", Fishtail, Rows{Distance: 4}, "R+S-R+", 6*(pi+2) - 4, 6, 8},
		{"shunt, same row", Shunt, Rows{Left: true}, "L+R-L+", 6 * pi, 6 * math.Sqrt(0.75), 6},
	} {
		p := turned(t, c.k, c.rows, Steering{Radius: 6})
		if err := leadsTo(p, c.rows.To()); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if p.Word() != c.word || !near(p.Length(), c.length, 1e-8) || !near(p.Depth(), c.depth, 1e-8) || !near(p.Spread(), c.spread, 1e-8) {
			t.Errorf("%s: %s, %.9g m long, %.9g m deep, %.9g m wide; want %s, %.9g, %.9g, %.9g", c.name, p.Word(), p.Length(), p.Depth(), p.Spread(), c.word, c.length, c.depth, c.spread)
		}
	}
}

// TestHooksBulgeToOneSide: the hook not beyond the next pass, the other not beside the pass just left.
func TestHooksBulgeToOneSide(t *testing.T) {
	for _, s := range []Steering{{Radius: 6}, {Radius: 6, Sharpness: 0.05}, {Radius: 6, Sharpness: 0.005}} {
		for w := 0.0; w < 11; w += 0.7 {
			rows := Rows{Distance: w, Left: true}
			_, most := turned(t, Hook, rows, s).Extent(math.Pi / 2)
			least, _ := turned(t, HookBeyond, rows, s).Extent(math.Pi / 2)
			if !near(most, w, 1e-9) || !near(least, 0, 1e-9) {
				t.Errorf("%g m apart, %+v: the hook reaches to %g m, the one beyond from %g m", w, s, most, least)
			}
		}
	}
}

func TestTurnsRefuse(t *testing.T) {
	six, slow := Steering{Radius: 6}, Steering{Radius: 6, Sharpness: 0.1}
	for _, c := range []struct {
		name  string
		k     Kind
		rows  Rows
		s     Steering
		unfit bool
		say   string
	}{
		{"plain U too near", PlainU, Rows{Distance: 11.9}, six, true, "plain U: row distance 11.9 m: must be 12 m at least"},
		{"bulb not needed", Bulb, Rows{Distance: 12}, six, true, "bulb: row distance 12 m: must be below 12 m"},
		{"hook not needed", Hook, Rows{Distance: 12}, six, true, "hook: row distance 12 m: must be below 12 m"},
		{"nothing to reverse", Fishtail, Rows{Distance: 12}, six, true, "fishtail: row distance 12 m: must be below 12 m"},
		{"shunt too far", Shunt, Rows{Distance: 12.5}, six, true, "three-arc shunt: row distance 12.5 m: must be 12 m at most"},
		{"the shortest jumps in curvature", Forward, Rows{Distance: 5}, slow, true, "shortest forward: sharpness 0.1 per m²: must be 0"},
		{"with reversing it does, too", Reversing, Rows{Distance: 5}, slow, true, "shortest with reversing: sharpness 0.1 per m²: must be 0"},
		{"no such kind", Kind("pirouette"), Rows{Distance: 5}, six, false, `kind of turn "pirouette": must be one of`},
		{"radius 0", Bulb, Rows{}, Steering{}, false, "least radius 0 m: must be"},
		{"sharpness below 0", Bulb, Rows{}, Steering{Radius: 6, Sharpness: -1}, false, "sharpness -1 per m²: must be"},
		{"sharpness no number", Bulb, Rows{}, Steering{Radius: 6, Sharpness: math.NaN()}, false, "sharpness NaN per m²: must be"},
		{"distance below 0", Bulb, Rows{Distance: -3}, six, false, "row distance -3 m: must be from 0"},
		{"distance no number", PlainU, Rows{Distance: math.NaN()}, six, false, "row distance NaN m: must be"},
		{"stagger endless", PlainU, Rows{Distance: 15, Stagger: math.Inf(1)}, six, false, "stagger +Inf m: must be"},
		{"end of the pass no number", Bulb, Rows{From: Pose{Heading: geo.Heading(math.NaN())}}, six, false, "end of the pass: pose, heading NaN rad"},
	} {
		p, err := c.k.Path(c.rows, c.s)
		if err == nil || !strings.HasPrefix(err.Error(), c.say) || len(p.Pieces) > 0 {
			t.Errorf("%s: error %v, want %s", c.name, err, c.say)
		}
		if _, unfit := errors.AsType[*Unfit](err); unfit != c.unfit {
			t.Errorf("%s: %T, want Unfit %v", c.name, err, c.unfit)
		}
	}
}

func TestAll(t *testing.T) {
	for _, c := range []struct {
		name      string
		rows      Rows
		s         Steering
		reversing bool
		want      []Kind
	}{
		{"far apart", Rows{Distance: 20}, Steering{Radius: 6}, true, []Kind{PlainU, Forward, Reversing}},
		{"near, trailed", Rows{Distance: 5}, Steering{Radius: 6}, false, []Kind{Bulb, Hook, HookBeyond, Forward}},
		{"near, mounted", Rows{Distance: 5}, Steering{Radius: 6}, true, []Kind{Bulb, Hook, HookBeyond, Forward, Fishtail, Shunt, Reversing}},
		{"near, mounted, steering takes time", Rows{Distance: 5}, Steering{Radius: 6, Sharpness: 0.1}, true, []Kind{Bulb, Hook, HookBeyond, Fishtail, Shunt}},
	} {
		paths, err := all(c.rows, c.s, c.reversing)
		if err != nil {
			t.Fatal(err)
		}
		var got []Kind
		for _, p := range paths {
			got = append(got, p.Kind)
			if p.Changes() > 0 && !p.Kind.Reverses() {
				t.Errorf("%s: %s reverses", c.name, p.Kind)
			}
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %q, want %q", c.name, got, c.want)
			}
		}
	}
	if _, err := all(Rows{}, Steering{}, true); err == nil {
		t.Error("a radius of 0 m is taken")
	}
}

// TestBetween brings back the rows from their two poses.
func TestBetween(t *testing.T) {
	const seed = 21
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 1000 {
		want := Rows{From: anyPose(rng, 1000), Distance: 30 * rng.Float64(), Left: rng.IntN(2) == 0, Stagger: 10 * rng.NormFloat64()}
		got, err := Between(want.From, want.To())
		if err != nil {
			t.Fatal(err)
		}
		if got.From != want.From || got.Left != want.Left || !near(got.Distance, want.Distance, 1e-9) || !near(got.Stagger, want.Stagger, 1e-9) {
			t.Fatalf("%+v, want %+v", got, want)
		}
	}
	for name, to := range map[string]Pose{
		"same way": {plane.XY{X: 5}, 0}, "same way, a turn later": {plane.XY{X: 5}, 2 * math.Pi}, "at an angle": {plane.XY{X: 5}, 3}, "no number": {plane.XY{X: math.NaN()}, math.Pi},
	} {
		if r, err := Between(Pose{}, to); err == nil || r != (Rows{}) || !strings.Contains(err.Error(), "must be") {
			t.Errorf("%s: %+v, error %v", name, r, err)
		}
	}
}

func TestRowDistance(t *testing.T) {
	for _, c := range []struct {
		spacing float64
		skip    int
		want    float64 // below 0: an error
	}{{5.6, 0, 5.6}, {5, 1, 10}, {6, 3, 24}, {0, 1, -1}, {-5, 1, -1}, {math.NaN(), 0, -1}, {math.Inf(1), 0, -1}, {5, -1, -1}, {5, 1e6, -1}} {
		got, err := RowDistance(c.spacing, c.skip)
		if (err != nil) != (c.want < 0) || err == nil && !near(got, c.want, 1e-12) {
			t.Errorf("spacing %g m, skip %d: %g m, error %v, want %g m", c.spacing, c.skip, got, err, c.want)
		}
	}
}

// all are the paths of all kinds that serve, in the order of Kinds.
func all(r Rows, s Steering, reversing bool) ([]Path, error) {
	var out []Path
	for _, k := range Kinds() {
		if k.Reverses() && !reversing {
			continue
		}
		p, err := k.Path(r, s)
		if err == nil {
			out = append(out, p)
		} else if _, unfit := errors.AsType[*Unfit](err); !unfit {
			return nil, err
		}
	}
	return out, nil
}
