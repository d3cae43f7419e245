package coverage

import (
	"context"
	"fmt"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
)

// Doubt is what the doubtful stretches of inferred work leave open: missed and double-worked ground if all of them were
// work, or all driven with the tool lifted, beside what is said.
type Doubt struct {
	Metres float64    `json:"metres"` // of way with a doubtful verdict
	Missed [2]float64 `json:"missed"` // m², least and most
	Double [2]float64 `json:"double"` // m² worked twice or more, least and most
}

// doubtOf works the balance out twice more where work was inferred and stretches are doubtful; nil elsewhere.
//
//  1. What is said of missed and double-worked ground lies in its range.
//  2. The field, and what is not doubtful, is the same in both.
func (r *Result) doubtOf(ctx context.Context, tracks []geo.Track) (*Doubt, error) {
	d := Doubt{Missed: [2]float64{r.Balance.Missed, r.Balance.Missed}}
	double := r.Balance.Twice + r.Balance.More
	d.Double = [2]float64{double, double}
	for _, s := range r.Log {
		if s.Doubtful {
			d.Metres += s.Length
		}
	}
	if d.Metres == 0 {
		return nil, nil
	}
	plain := r.Work
	plain.Headland, plain.Rounds = 0, 0
	for _, lean := range []drive.Lean{drive.AsWork, drive.AsLifted} {
		log, err := drive.Read(ctx, r.Layers.Field, r.Local, tracks, r.Work, lean)
		if err != nil {
			return nil, fmt.Errorf("path: %w", err)
		}
		laid, err := ground.Lay(ctx, r.Layers.Field, r.Layers.Field, log.Runs, nil, plain, false)
		if err != nil {
			return nil, err
		}
		b := laid.Balance
		double := b.Twice + b.More
		d.Missed = [2]float64{min(d.Missed[0], b.Missed), max(d.Missed[1], b.Missed)}
		d.Double = [2]float64{min(d.Double[0], double), max(d.Double[1], double)}
	}
	return &d, nil
}
