package coverage

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
)

// Open is what a log leaves open beside the receiver's error: it cannot tell it, or it says otherwise than the set's description.
type Open struct {
	Aside Aside `json:"aside,omitzero"`
	Lag   Lag   `json:"lag,omitzero"`
	Ends  Ends  `json:"ends,omitzero"`
	// Steps are the least and the most m² missed by where between two fixes rows may begin and end, where nothing is known of the receiver's
	// error; zero where something is, or where it is little.
	Steps [2]float64 `json:"steps,omitzero"`
	Frame Frame      `json:"frame,omitzero"`
	Shift Shift      `json:"shift,omitzero"`
	// Sections is how many parts of the set can be lifted alone, where the log does not say which were; 0 = none, or it does.
	Sections int `json:"sections,omitempty"`
	// Whole: neither set nor log names sections or widths, so the bar was taken as down whole wherever it was down.
	Whole bool `json:"whole,omitempty"`
}

// Shift is a constant shift between log and boundary that passes along the boundary seem to show: by the receiver's day or the
// boundary's own place, or they were driven so, which a log cannot tell. It is not applied; the best estimate takes the passes for
// driven alike on all sides, and the range has both.
type Shift struct {
	East   float64 `json:"east"`   // m, the log lies so far off
	North  float64 `json:"north"`  // m
	Doubt  float64 `json:"doubt"`  // m, 95 %
	Missed float64 `json:"missed"` // m² missed without it
	// Beyond: it is more than what such a receiver errs by. The best estimate then has it in.
	Beyond bool `json:"beyond,omitempty"`
}

// mapped is a pass-to-pass error, in metres, of a receiver that errs over the day by as much as boundaries drawn from maps and pictures lie
// off. Common practice, no source.
const mapped = 0.5

// openShift is a shift beyond its doubt that makes a difference: within what the receiver errs by, or beyond it, even at the least that the
// passes allow.
func (r *Result) openShift(ctx context.Context, rim *plane.Edges, runs []drive.Run, within ground.Shift, without float64) (Shift, error) {
	s, beyond := within, false
	if far := ground.ShiftOf(rim, runs, r.Work, max(mapped, r.Noise.PassError)); far.By.Len()-far.Doubt > ground.AgainstBoundary(r.Noise.PassError) {
		var err error
		s, beyond = far, true
		if without, _, err = ground.MissedAt(ctx, r.Layers.Field, far.Moved(runs), r.Work, 0, false); err != nil {
			return Shift{}, err
		}
	}
	if missed := r.Balance.Missed; s.By.Len() <= s.Doubt || math.Max(missed, without) < asideMore*math.Min(missed, without) {
		return Shift{}, nil
	}
	return Shift{East: s.By.X, North: s.By.Y, Doubt: s.Doubt, Missed: without, Beyond: beyond}, nil
}

// sectionsOpen are Open.Sections and Open.Whole.
func sectionsOpen(tracks []geo.Track, w drive.Work) (sections int, whole bool) {
	switch {
	case slices.ContainsFunc(tracks, func(t geo.Track) bool { return t.Width != nil }):
		return 0, false
	case len(w.Sections) < 2:
		return 0, true
	}
	return len(w.Sections), false
}

// Lag is what row ends say otherwise than the set's description, and what is missed then.
type Lag struct {
	drive.Lag
	BySeconds float64 `json:"bySeconds"` // m² missed, if the bar follows the logged state so late
	ByMetres  float64 `json:"byMetres"`  // m² missed, if it lies so much nearer to the antenna
}

// lagOf lays the ground again with the delays that row ends tell, and with the length. Neither is applied. Until it is settled
// which of the three holds, the range of missed ground has all of them.
func (r *Result) lagOf(ctx context.Context, tracks []geo.Track, of drive.Lag) (Lag, error) {
	if of == (drive.Lag{}) {
		return Lag{}, nil
	}
	lag := Lag{Lag: of}
	seconds, metres := r.Work, r.Work
	seconds.LowerDelay, seconds.LiftDelay = seconds.LowerDelay+of.Lower, seconds.LiftDelay+of.Lift
	metres.Mount.Hitch -= of.Metres
	for _, one := range []struct {
		work   drive.Work
		missed *float64
	}{{seconds, &lag.BySeconds}, {metres, &lag.ByMetres}} {
		log, err := drive.Read(ctx, r.Layers.Field, r.Local, tracks, one.work, drive.AsJudged)
		if err != nil {
			return Lag{}, fmt.Errorf("path: %w", err)
		}
		if *one.missed, _, err = ground.MissedAt(ctx, r.Layers.Field, log.Runs, one.work, 0, false); err != nil {
			return Lag{}, err
		}
	}
	r.widen(lag.BySeconds, lag.ByMetres)
	return lag, nil
}

// endsBy is how far the ends of rows that rules tell may well lie off, all alike: two standard deviations of drive.Run.EndsLean.
const endsBy = 1.0 // m

// Ends is what is missed if the ends of rows lie elsewhere than rules have them, where no work state is logged. How late
// a tool was lowered is not in such a log: the set drives the same way.
type Ends struct {
	Rows  int     `json:"rows"`  // ends of passes that rules tell; 0 = none
	By    float64 `json:"by"`    // m
	Later float64 `json:"later"` // m² missed, were all lowered so much later and lifted so much earlier
	Early float64 `json:"early"` // m² missed, were all lowered so much earlier and lifted so much later
}

// endsOf lays the ground twice more where rules tell the ends of rows. The range has what is missed with later ends, which stands beside it.
func (r *Result) endsOf(ctx context.Context, runs []drive.Run) (e Ends, err error) {
	for _, one := range runs {
		if one.EndsLean > 0 {
			for _, end := range [2]drive.Switch{one.Begins, one.Ends} {
				if end != (drive.Switch{}) {
					e.Rows++
				}
			}
		}
	}
	if e.Rows == 0 {
		return Ends{}, nil
	}
	e.By = endsBy
	byRules := func(by float64) func(*drive.Run, drive.Switch) float64 {
		return func(run *drive.Run, _ drive.Switch) float64 {
			if run.EndsLean > 0 {
				return by
			}
			return 0
		}
	}
	if e.Later, err = ground.MissedWithEnds(ctx, r.Layers.Field, runs, r.Work, byRules(-endsBy)); err != nil {
		return Ends{}, err
	}
	if r.judged() {
		r.Telling.Missed[1] = max(r.Telling.Missed[1], e.Later)
	}
	e.Early, err = ground.MissedWithEnds(ctx, r.Layers.Field, runs, r.Work, byRules(endsBy))
	return e, err
}

// stepsMatter: row ends that leave less than so much of the missed ground open are not worth a word.
const stepsMatter = 0.05

// stepsOf draws where logged rows may begin and end between two fixes, with all else as logged. So few rows tell each other little of that, and a
// driver lifts where ground is worked: the least is that of all of them as far out as their fixes allow, if that is less.
func (r *Result) stepsOf(ctx context.Context, runs []drive.Run) (steps [2]float64, err error) {
	between := slices.ContainsFunc(runs, func(one drive.Run) bool { return one.Begins != (drive.Switch{}) || one.Ends != (drive.Switch{}) })
	if r.Noise.PassErrorFrom != "" || r.Telling.Error > 0 || r.Open.Ends.Rows > 0 || !between {
		return steps, nil
	}
	d, err := ground.Drawn(ctx, r.Layers.Field, runs, r.Work, ground.Shift{}, r.Balance.Missed)
	if err != nil {
		return steps, err
	}
	farthest, err := ground.MissedWithEnds(ctx, r.Layers.Field, runs, r.Work, func(_ *drive.Run, end drive.Switch) float64 { return end.To })
	if least := min(d.Least, farthest); err == nil && d.Most-least > stepsMatter*d.Most {
		steps = [2]float64{least, d.Most}
	}
	return steps, err
}

// widen has the range of missed ground hold other readings of the log, with the receiver's error about each as about what is said.
func (r *Result) widen(readings ...float64) {
	if r.Noise.PassErrorFrom == "" {
		return
	}
	t := &r.Telling.Missed
	below, above := r.Balance.Missed-t[0], t[1]-r.Balance.Missed
	for _, missed := range readings {
		t[0] = max(0, min(t[0], missed-below))
		t[1] = max(t[1], missed+above)
	}
}
