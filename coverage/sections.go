package coverage

import (
	"fmt"
	"math"

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

// widthSlack: widths are logged in whole centimetres or tenths of a foot, 3 cm.
const widthSlack = 0.03 // m

// otherWidth says where the widths a log has are all below the working width, or some above:
// then one of the two is wrong. They are taken as logged. Widths below it now
// and then are sections lifted, as they should be.
func (t *trail) otherWidth(w Work) []geo.Finding {
	widest, at, n := 0.0, 0, 0
	for k, width := range t.width {
		if !(width > 0) || t.state != nil && t.state[k] != geo.Working {
			continue
		}
		if n++; width > widest {
			widest, at = width, k
		}
	}
	if n == 0 || math.Abs(widest-w.Width) <= widthSlack {
		return nil
	}
	return []geo.Finding{{File: t.source, Record: t.trackOf(at) + 1,
		What: fmt.Sprintf("the widest logged width is %.2f m, the working width given is %.2f m: %d working fixes are taken as logged", widest, w.Width, n)}}
}
