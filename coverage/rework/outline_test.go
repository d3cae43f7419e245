package rework

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"
	"balk/testdata/check"
)

// pulled is a trailed set of 5 m that cannot reverse, lifted is one that can; their outlines are invented.
var (
	pulled = rig.Implement{Width: 5, Overlap: 0.1,
		Mount:   rig.Mount{Trailed: true, AntennaAhead: 0.4, Hitch: 1.4, Drawbar: 4.2, BarBehind: 1.3, MaxAngle: 65, DrawbarRadius: 6.5, AntennaUp: 2.9},
		Tractor: rig.Tractor{Ahead: 4.3, Behind: 0.9, Width: 2.5}, Body: rig.Body{Ahead: 2.2, Behind: 1, Width: 5.1},
		Turning: rig.Turning{Radius: 5.5, Speed: 6, Margin: 0.5}}
	lifted = rig.Implement{Width: 5, Overlap: 0.1,
		Mount:   rig.Mount{AntennaAhead: 0.4, Hitch: 1.5, BarBehind: 1, AntennaUp: 2.9},
		Tractor: rig.Tractor{Ahead: 4.3, Behind: 0.9, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 1.1, Width: 5.1},
		Turning: rig.Turning{Radius: 5.5, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.5}}
)

// TestDetours: out along the straight asked for, in along the other, from pose to pose, and as much longer than the word between.
func TestDetours(t *testing.T) {
	w := &works{im: pulled}
	from, to := turn.Pose{}, turn.Pose{At: plane.XY{X: -3, Y: 14}, Heading: math.Pi}
	got, err := w.detours(from, to, 4, 2, false)
	if err != nil || len(got) == 0 {
		t.Fatal(len(got), err)
	}
	words, err := turn.Words(turn.Pose{At: plane.XY{X: 4}}, turn.Pose{At: plane.XY{X: -1, Y: 14}, Heading: math.Pi}, 6.5, false)
	if err != nil || len(words) != len(got) {
		t.Fatal(len(words), len(got), err)
	}
	for i, p := range got {
		if p.Length() < 6 || math.Abs(p.Length()-words[i].Length()-6) > 1e-9 {
			t.Errorf("%s is %.3f m, want %.3f and 6 m straight", p.Word(), p.Length(), words[i].Length())
		}
		if d := p.At(4).At.Dist(plane.XY{X: 4}); d > 1e-9 {
			t.Errorf("%s: %.3g m off after the first straight", p.Word(), d)
		}
		if d := p.At(p.Length() - 2).At.Dist(plane.XY{X: -1, Y: 14}); d > 1e-6 {
			t.Errorf("%s: %.3g m off before the last straight", p.Word(), d)
		}
		if d := p.End().At.Dist(to.At); d > 1e-6 {
			t.Errorf("%s: ends %.3g m off", p.Word(), d)
		}
	}
}

// TestLinksFit: a way for the whole set that is not named leads from pass to line-up inside the field, its room measured once more
// by how much; and longer straights, or a shorter line-up, find some where no word fits.
func TestLinksFit(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 14))
	field := []plane.Polygon{{rectangle(0, 0, 120, 60), rectangle(50, 25, 60, 35)}}
	slices.Reverse(field[0][1])
	for _, im := range []rig.Implement{pulled, lifted} {
		g, err := terrainOf(field, im)
		if err != nil {
			t.Fatal(err)
		}
		w := &works{im: im, ground: g, width: 4.9, o: Options{LineUp: settled * im.Mount.Drawbar, Speeds: Speeds{Work: 2, Way: 2}}}
		pass := func() oneWay {
			at := plane.XY{X: 10 + 100*rng.Float64(), Y: 8 + 44*rng.Float64()}
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			return w.driveOf([]plane.XY{at, at.Add(plane.XY{X: cos, Y: sin}.Scale(3 + 10*rng.Float64()))})
		}
		unfit, more, shorter, fit := 0, 0, 0, 0
		for k := range 600 {
			a, b := pass(), pass()
			l, err := w.link(a, b)
			if err != nil {
				t.Fatal(err)
			}
			if l.unfit != "" {
				unfit++
				if l, err = w.longer(a, b, l); err != nil {
					t.Fatal(err)
				}
				if l.unfit != "" {
					continue
				}
				if more++; l.lineUp < b.lineUp {
					shorter++
				}
			}
			fit++
			end := l.paths[len(l.paths)-1].End().At
			if want := b.entry.Moved(b.lineUp-l.lineUp, 0, 0).At; b.entry.back == 0 && end.Dist(want) > 1e-6 {
				t.Errorf("case %d: the way ends %.3g m off", k, end.Dist(want))
			}
			if l.lineUp < 0 || l.lineUp > b.lineUp || b.entry.back+a.exit.back > 0 {
				continue // backed: what is driven out of the field is not measured
			}
			for _, p := range l.paths {
				d, err := turn.Drive(p, im, fineOutline)
				if err != nil {
					t.Fatal(err)
				}
				if f := g.room.Fit(d, im.Turning.Margin); f.Spare < -w.mostEver()-1e-9 {
					t.Errorf("case %d: not named, and comes %.3f m too near", k, -f.Spare)
				}
				if limit := im.Mount.AngleLimit(); limit > 0 && d.Angle > limit {
					t.Errorf("case %d: not named, and bends the drawbar by %.0f°", k, d.Angle)
				}
			}
		}
		if t.Logf("trailed %v: %d of 600 ways fit; of %d that did not by words %d do on longer straights, %d of them to a shorter line-up", im.Mount.Trailed, fit, unfit, more, shorter); more == 0 {
			t.Error("no way found by longer straights")
		}
	}
}

// TestHoldsIsWhatFitSays: the fast answer is that of Fit, whatever may be lacking.
func TestHoldsIsWhatFitSays(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 15))
	g, err := terrainOf([]plane.Polygon{{rectangle(0, 0, 60, 40)}}, pulled)
	if err != nil {
		t.Fatal(err)
	}
	w := &works{im: pulled, ground: g, width: 4.9}
	yes := 0
	for range 500 {
		bend := (rng.Float64() - 0.5) / 4
		from := turn.Pose{At: plane.XY{X: 60 * rng.Float64(), Y: 40 * rng.Float64()}}
		d, err := turn.Drive(turn.Path{From: from, Pieces: []turn.Arc{{Length: 20 * rng.Float64(), From: bend, To: bend}}}, w.im, fineOutline)
		if err != nil {
			t.Fatal(err)
		}
		lacks := 1.2 * rng.Float64()
		want := g.room.Fit(d, w.im.Turning.Margin).Spare >= -lacks
		if want {
			yes++
		}
		if got := w.holds(d, lacks); got != want {
			t.Errorf("lacking %.2f m: %v, by Fit %v", lacks, got, want)
		}
	}
	if yes == 0 || yes == 500 {
		t.Errorf("%d of 500 hold", yes)
	}
}

// TestWholeSetChoosesEnds: the tour for the whole set costs no more than the one for its axle, ways measured for the whole set in
// both, and on some field less; over some fields fewer pieces do not fit, and it does not depend on the workers.
func TestWholeSetChoosesEnds(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 16))
	cheaper := 0
	for _, im := range []rig.Implement{pulled, lifted} {
		before, after := 0, 0
		for range 6 {
			r := tattered(rng, 14).check(t, drive.Work{Width: 5})
			w, err := worksOf(r, im, Options{LeastArea: 1})
			if err != nil {
				t.Fatal(err)
			}
			jobs, err := w.jobsOf(t.Context(), w.choose(&Plan{}))
			if err != nil {
				t.Fatal(err)
			}
			gate := w.gate(jobs)
			drives, strips := w.drivesOf(jobs)
			var tours []tour
			for _, workers := range []int{1, 3} {
				w.r.Work.Workers = workers
				d, err := w.distances(t.Context(), drives, gate)
				if err != nil {
					t.Fatal(err)
				}
				first, err := d.order(t.Context(), upTo(len(strips)))
				if err != nil {
					t.Fatal(err)
				}
				got, ways, err := w.fitted(t.Context(), d, slices.Clone(first), drives)
				if err != nil {
					t.Fatal(err)
				}
				tours = append(tours, got)
				if workers > 1 {
					continue
				}
				measured := func(t tour) (cost float64, unfit int) {
					for i := 1; i < len(t); i++ {
						l := ways[[2]int{t[i-1], t[i]}]
						cost += l.cost() - drives[t[i]].lineUp + l.lineUp
						if l.unfit != "" {
							unfit++
						}
					}
					return cost + d.between(d.n, t[0]) + d.between(t[len(t)-1], d.n), unfit
				}
				was, n := measured(first)
				is, m := measured(got)
				if before, after = before+n, after+m; is > was+touch {
					t.Errorf("%.2f m, by the axle's tour %.2f", is, was)
				} else if is < was-touch {
					cheaper++
				}
			}
			if !slices.Equal(tours[0], tours[1]) {
				t.Error("another number of workers gives another tour")
			}
		}
		if t.Logf("trailed %v: %d pieces do not fit, on the axle's tours %d", im.Mount.Trailed, after, before); after > before {
			t.Errorf("%d pieces do not fit, on the axle's tours %d", after, before)
		}
	}
	if cheaper == 0 {
		t.Error("on none of 12 fields a tour that costs less than the axle's")
	}
}
