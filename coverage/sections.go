package coverage

import (
	"fmt"

	"balk/geo"
)

// oddWidths says where a log's widths are none that the implement's sections can
// make; they are taken as logged all the same.
func (t *trail) oddWidths(w Work) []geo.Finding {
	if len(w.Sections) == 0 || t.width == nil {
		return nil
	}
	im := w.implement()
	makes := map[float64]bool{}
	odd, first := 0, 0
	for k, width := range t.width {
		if !(width > 0) || t.state != nil && t.state[k] != geo.Working {
			continue
		}
		ok, seen := makes[width]
		if !seen {
			ok = im.Adds(width)
			makes[width] = ok
		}
		if !ok {
			if odd++; odd == 1 {
				first = k
			}
		}
	}
	if odd == 0 {
		return nil
	}
	return []geo.Finding{{File: t.source, Record: t.trackOf(first) + 1,
		What: fmt.Sprintf("%d working fixes have a width that no sections side by side have together: first %.2f m at fix %d; taken as logged", odd, t.width[first], first+1)}}
}
