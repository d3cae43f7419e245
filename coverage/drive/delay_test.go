package drive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestDelay: a row of 100 m at 2 m/s with a fix a second, work logged from 21 to 79 m on the way. So it was switched between fixes, in
// their middle at 20 and 80 m, and the bar follows by 2 m for each second of delay. Reversed in space it is the same.
func TestDelay(t *testing.T) {
	at := func(k int) float64 { return float64(2*k) - 1 } // -1, 1, 3 ... 101
	for _, c := range []struct {
		name        string
		lower, lift float64 // s
		from, to    float64 // m; NaN: no work
	}{
		{"none", 0, 0, 20, 80},
		{"a part of a step", 0.3, 0.2, 20.6, 80.4},
		{"a step", 1, 1, 22, 82},
		{"some steps", 2.7, 3.4, 25.4, 86.8},
		{"before what is logged", -0.8, -2.5, 18.4, 75},
		{"lowering alone", 1.5, 0, 23, 80},
		{"lifting alone", 0, 1.5, 20, 83},
		{"lifted before it is in", 20, -15, math.NaN(), 0},
	} {
		for _, way := range []float64{1, -1} {
			s := trial.Sketch{Lines: [][]plane.XY{nil}, Times: [][]float64{nil}, State: [][]geo.WorkState{nil}}
			for k := range 52 {
				state := geo.Lifted
				if x := at(k); x >= 21 && x <= 79 {
					state = geo.Working
				}
				s.Lines[0] = append(s.Lines[0], plane.XY{X: way * at(k)})
				s.Times[0], s.State[0] = append(s.Times[0], 1.7e9+float64(k)), append(s.State[0], state)
			}
			field := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-120, -50, 120, 50)}}.Field()
			w := Work{Width: 6, LowerDelay: c.lower, LiftDelay: c.lift}
			log, err := Read(t.Context(), field.OnPlane(field.Local()), field.Local(), []geo.Track{s.Track()}, w, AsJudged)
			if err != nil {
				t.Fatal(err)
			}
			if math.IsNaN(c.from) {
				if len(log.Runs) != 0 {
					t.Errorf("%s: %d passes", c.name, len(log.Runs))
				}
				continue
			}
			if len(log.Runs) != 1 {
				t.Fatalf("%s: %d passes", c.name, len(log.Runs))
			}
			line := log.Runs[0].Pass.Line
			trial.Near(t, c.name+": where it begins", way*line[0].X, c.from, 1e-6)
			trial.Near(t, c.name+": where it ends", way*line[len(line)-1].X, c.to, 1e-6)
			if got := log.Stretches[0].State; got[11] != geo.Working && got[10] != geo.Lifted {
				t.Errorf("%s: the log has states other than logged: %v", c.name, got)
			}
			// Without times nothing is moved, and that is said.
			s.Times = nil
			if log, err = Read(t.Context(), field.OnPlane(field.Local()), field.Local(), []geo.Track{s.Track()}, w, AsJudged); err != nil {
				t.Fatal(err)
			}
			trial.Near(t, c.name+", no times: where it begins", way*log.Runs[0].Pass.Line[0].X, 20, 1e-6)
			if said := strings.Contains(trial.Say(log.Findings), "no times are logged: the bar"); said != (c.lower != 0 || c.lift != 0) {
				t.Errorf("%s, no times: said %v", c.name, said)
			}
		}
	}
}

// TestDelayOverAShortLift: a tool that is lowered again before it is out stays in.
func TestDelayOverAShortLift(t *testing.T) {
	tr := &trail{source: "row", timed: true, tracks: []trackStart{{0, 0, 0}}}
	for k := range 30 {
		state := geo.Working
		if k < 5 || k == 15 || k > 24 {
			state = geo.Lifted
		}
		tr.at, tr.seconds, tr.State = append(tr.at, plane.XY{X: 2 * float64(k)}), append(tr.seconds, float64(k)), append(tr.State, state)
	}
	tr.delay(Work{Width: 6, LowerDelay: 1, LiftDelay: 3}, false)
	if got := byState(tr); len(got) != 1 || got[0] != (span{6, 27}) {
		t.Errorf("work over fixes %v, want 6 to 27", got)
	}
}

// TestSpreadBesideALag: row ends lie about their lines by 0.8 m. In one direction lowerings lie 2 m beyond liftings, as m = 2 − 1 and
// 0.5 have it in two, and what these differ by is no part of the spread: with one m for both it would be √(0.8² + 0.75²·72/59), of 72 ends
// less six lines and an m.
func TestSpreadBesideALag(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 4))
	var within, whole []float64
	for range 200 {
		var of []lagSums
		var both lagSums
		for _, m := range []float64{2, 0.5} {
			var sums lagSums
			for range 3 {
				var block []rowEnd
				for k := range lagBlock {
					e := rowEnd{aside: 6 * float64(k), speed: 2, lowering: k%2 == 0}
					if e.out = -m; e.lowering {
						e.out = m
					}
					e.out += 0.8 * rng.NormFloat64()
					block = append(block, e)
				}
				sums.add(block, 2)
			}
			of = append(of, sums)
			both.plus(sums)
		}
		f, ok := both.fit(math.NaN())
		if !ok {
			t.Fatal("no fit")
		}
		within, whole = append(within, spreadWithin(of)), append(whole, f.spread)
	}
	mean, _ := MeanOf(within)
	trial.Near(t, "in directions", mean, 0.8, 0.02)
	mean, _ = MeanOf(whole)
	trial.Near(t, "with one m", mean, math.Sqrt(0.8*0.8+0.75*0.75*72/59), 0.03)
}
