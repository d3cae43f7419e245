package turn

import (
	"math"

	"balk/geo/plane"
)

// run is a stretch of a row that is worked without lifting, m along.
type run struct{ from, to float64 }

// row is one row over the field's core: its middle, m across, and its runs.
type row struct {
	middle float64
	runs   []run
}

// leastRun: shorter runs are a touch of the row's edge by a corner, m.
const leastRun = 1e-3

// rowsOver are the rows over the core, spacing metres apart, from left to right. A run goes
// from the first to the last of the core under the row's whole width, so that a slanted end
// is worked to its last corner. The last row reaches beyond the core, over the headland beside it.
func rowsOver(core []plane.Polygon, f plane.Frame, spacing float64) []row {
	var along plane.Polygon // X along the rows, Y across them to the right
	box := plane.EmptyBox()
	for _, poly := range core {
		for _, ring := range poly {
			seen := make(plane.Ring, len(ring))
			for i, p := range ring {
				q := f.To(p)
				seen[i] = plane.XY{X: q.X, Y: -q.Y}
			}
			along, box = append(along, seen), box.Extend(seen...)
		}
	}
	all := make([]row, max(1, int(math.Ceil((box.Max.Y-box.Min.Y)/spacing-1e-9))))
	rows := make([]plane.Span, len(all))
	for i := range rows {
		left := box.Min.Y + float64(i)*spacing
		rows[i] = plane.Span{From: left, To: left + spacing}
		all[i].middle = left + spacing/2
	}
	var bands plane.Bands
	for i, spans := range bands.Cut(along, rows) {
		for _, s := range spans {
			if s.To-s.From >= leastRun {
				all[i].runs = append(all[i].runs, run{s.From, s.To})
			}
		}
	}
	return all
}
