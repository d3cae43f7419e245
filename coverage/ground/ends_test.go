package ground

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"

	"balk/geo"
)

// begins is how far inside the boundary the rows of rowsToPass begin, m: 210 m² are missed there.
const begins = 2.0

// rowsToPass are 21 rows of 5 m that end some way before a pass which lies across them, m, or below 0 in it, as far as open has it, and what is missed, m².
func rowsToPass(t *testing.T, before float64, open drive.Switch) (field []plane.Polygon, runs []drive.Run, w drive.Work, missed float64) {
	const rows, width = 21, 5.0
	w = drive.Work{Width: width, PassError: 1e-4, Workers: 1}
	end := 130 + max(0, before)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-begins, 0, end+width, rows*width)}}
	for k := range rows {
		y := (float64(k) + 0.5) * width
		s.Lines = append(s.Lines, trial.Straight(plane.XY{Y: y}, plane.XY{X: 130 + max(0, -before), Y: y}, 2))
	}
	s.Lines = append(s.Lines, trial.Straight(plane.XY{X: end + width/2, Y: -10}, plane.XY{X: end + width/2, Y: rows*width + 10}, 2))
	f := s.Field()
	field, runs = f.OnPlane(f.Local()), runsOf(t, f, []geo.Track{s.Track()}, w)
	if len(runs) != rows+1 {
		t.Fatalf("%d runs", len(runs))
	}
	for k := range rows {
		runs[k].Ends = open
	}
	missed, _, err := MissedAt(t.Context(), field, runs, w, 0, false)
	if err != nil {
		t.Fatal(err)
	}
	return field, runs, w, missed
}

// TestEndsInWorkedGround: 21 rows of 5 m end about a place within 30 cm, each on its own. Two metres before worked ground each metre counts alike both ways: 5·0.3·√21 m² is what they
// err by, up and down. Thirty centimetres within it an end farther out adds nothing: Var max(0, e − 0.3) with e ~ N(0, 0.3²) is 0.09·(2·Φ(−1) − φ(1)) − m², m = 0.3·(φ(1) − Φ(−1)),
// so that they err by 5·0.0785·√21 m², upwards, and what draws have more in the mean, 105·m, leaves nothing of it downwards.
func TestEndsInWorkedGround(t *testing.T) {
	const own = 0.3
	for _, c := range []struct{ before, up, down float64 }{{2, drive.In95 * 5 * own * math.Sqrt(21), drive.In95 * 5 * own * math.Sqrt(21)}, {-own, drive.In95 * 5 * 0.0785 * math.Sqrt(21), 0}} {
		field, runs, w, missed := rowsToPass(t, c.before, drive.Switch{From: -1.5, To: 1.5, Spread: own})
		d, err := Drawn(t.Context(), field, runs, w, ShiftOf(rimOf(field), runs, w, w.PassError), missed)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%g m before: %.1f m² missed, best %.1f (%.1f to %.1f)", c.before, missed, d.Best, d.Least, d.Most)
		if up, down := d.Most-d.Best, d.Best-d.Least; math.Abs(up-c.up) > 0.3*c.up || math.Abs(down-c.down) > 0.3*c.up {
			t.Errorf("%g m before: %.1f m² up, %.1f down, want %.1f and %.1f", c.before, up, down, c.up, c.down)
		}
	}
}

// TestLinesThatFewStepsTell: the same rows end 60 cm in worked ground, and nothing is missed there. Their side's line is taken to lie off by an error of 1.2 m, here at the quantiles of that in turn: 105·1.2·(φ(½) −
// Φ(−½)/2) = 24.9 m² are said in the mean. Drawn once more, and taken out, less than half of that is left, and four ranges in five and more hold the truth: it is one number that is open.
func TestLinesThatFewStepsTell(t *testing.T) {
	const times, doubt, inside = 24, 1.2, 0.6
	var said, best, held float64
	for n := range times {
		off := doubt * math.Sqrt2 * math.Erfinv(2*(float64(n)+0.5)/times-1)
		field, runs, w, missed := rowsToPass(t, off-inside, drive.Switch{From: -10, To: 10, Spread: 0.1, Doubt: doubt})
		d, err := Drawn(t.Context(), field, runs, w, ShiftOf(rimOf(field), runs, w, w.PassError), missed)
		if err != nil {
			t.Fatal(err)
		}
		said, best = said+(missed-105*begins)/times, best+(d.Best-105*begins)/times
		if d.Least <= 105*begins && 105*begins <= d.Most {
			held += 1.0 / times
		}
	}
	t.Logf("%.1f m² said too much, %.1f at the best estimate, %.0f %% hold the truth", said, best, 100*held)
	trial.Near(t, "said", said, 24.9, 2)
	if best > said/2 || held < 0.8 {
		t.Errorf("%.1f m² said too much, %.1f at the best estimate, %.0f %% hold the truth", said, best, 100*held)
	}
}

// TestMostOfAnyReceiver: what may be missed at most with any receiver up to a bound is what the greatest of many of them has, each by draws of its own.
func TestMostOfAnyReceiver(t *testing.T) {
	const bound, good = 0.16, 0.028
	s := trial.BigOperation(15000)
	f := s.Field()
	field := f.OnPlane(f.Local())
	of := func(passError float64) (d Draws, most float64) {
		w := drive.Work{Width: 5, Overlap: 0.1, PassError: passError, Workers: 1}
		runs := runsOf(t, f, []geo.Track{s.Track()}, w)
		missed, _, err := MissedAt(t.Context(), field, runs, w, 0, false)
		if err != nil {
			t.Fatal(err)
		}
		if d, err = Drawn(t.Context(), field, runs, w, ShiftOf(rimOf(field), runs, w, passError), missed); err != nil {
			t.Fatal(err)
		}
		if most, err = MostOfAny(t.Context(), field, rimOf(field), runs, w, passError, good, missed); err != nil {
			t.Fatal(err)
		}
		return d, most - missed
	}
	_, got := of(bound)
	want := 0.0
	for e := bound; e > 0.004; e /= math.Sqrt2 {
		d, _ := of(e)
		want = max(want, d.Most-d.Unshifted)
	}
	t.Logf("%.2f m² above the log, by receivers one by one %.2f", got, want)
	if !(want > 0.5) || math.Abs(got-want) > 0.35*want {
		t.Errorf("%.2f m² above the log, by receivers one by one %.2f", got, want)
	}
}

// TestShareOfAnError: drawn with a share of the error of its runs, a log says what it says where the runs have so much less.
func TestShareOfAnError(t *testing.T) {
	const passError, share = 0.16, 0.25
	s := trial.BigOperation(3000)
	f := s.Field()
	field := f.OnPlane(f.Local())
	w := drive.Work{Width: 5, Overlap: 0.1, PassError: passError, Workers: 1}
	runs := runsOf(t, f, []geo.Track{s.Track()}, w)
	shift := ShiftOf(rimOf(field), runs, w, share*passError)
	of := func(share float64) drawing {
		d, err := drawn(t.Context(), field, runs, w, shift, share, 100)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	got := of(share)
	for k := range runs {
		runs[k].Slow *= share
		for p := range runs[k].Parts {
			runs[k].Parts[p].Slow *= share
		}
	}
	want := of(1)
	t.Logf("%.3f %.3f %.3f m², %.3f to either side", want.at[0], want.at[1], want.at[2], want.half)
	for i := range got.at {
		trial.Near(t, "missed", got.at[i], want.at[i], 1e-6)
	}
	trial.Near(t, "half", got.half, want.half, 1e-6)
	if all := of(1 / share); !(want.at[2] > want.at[0]+1 && all.half > 2*want.half) {
		t.Errorf("the error makes nothing: %+v, the whole of it %+v", want, all)
	}
}
