package coverage

import (
	"context"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo/plane"
)

// Frame is what is missed if the log lies in another frame than the boundary: all of it is then off by one and the same
// way, which no join of two passes shows.
type Frame struct {
	drive.Frames
	Missed float64 `json:"missed"`         // m² missed then; of both ways about the one that has more
	Most   bool    `json:"most,omitempty"` // that is more than the range has anyway
}

// frameOf lays the ground again on the field as it lies in the log's frame: off by the frames' distance, and the other way
// about where it is not known which of both is in which frame. Where the boundary's file names its frame the range
// has that too, and no strip along the boundary that is narrower than the distance is certain.
func (r *Result) frameOf(ctx context.Context, rim *plane.Edges, runs []drive.Run) (Frame, error) {
	f := Frame{Frames: r.Work.Frames, Missed: -1}
	if f.Frames == (drive.Frames{}) {
		return Frame{}, nil
	}
	by := plane.XY{X: f.East, Y: f.North}
	ways := []plane.XY{by, by.Scale(-1)}
	if f.Told {
		ways = ways[:1]
	}
	for _, way := range ways {
		missed, err := ground.MissedMoved(ctx, r.Layers.Field, rim, runs, r.Work, way, r.Balance.Missed)
		if err != nil {
			return Frame{}, err
		}
		f.Missed = max(f.Missed, missed)
	}
	f.Most = f.Missed > asideMore*max(r.Balance.Missed, r.Telling.Missed[1])
	if !f.Told {
		return f, nil
	}
	r.widen(f.Missed)
	for k := range r.Strips {
		if s := &r.Strips[k]; s.Cause == CauseEdge && s.MaxWidth < by.Len() && s.Surety == SuretyCertain {
			s.Surety, s.Certain = SuretyLikely, 0
		}
	}
	return f, nil
}
