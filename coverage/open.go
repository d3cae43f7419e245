package coverage

import (
	"context"
	"fmt"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
)

// Open is what a log leaves open beside the receiver's error: it cannot tell it, or it says otherwise than the set's description.
type Open struct {
	Aside Aside `json:"aside,omitzero"`
	Lag   Lag   `json:"lag,omitzero"`
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

// widen has the range of missed ground hold other readings of the log, with the receiver's error about each as about what is said.
func (r *Result) widen(readings ...float64) {
	n := &r.Noise
	if n.PassErrorFrom == "" {
		return
	}
	below, above := r.Balance.Missed-n.MissedLeast, n.MissedMost-r.Balance.Missed
	for _, missed := range readings {
		n.MissedLeast = max(0, min(n.MissedLeast, missed-below))
		n.MissedMost = max(n.MissedMost, missed+above)
	}
}
