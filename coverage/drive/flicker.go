package drive

import (
	"fmt"

	"balk/geo"
)

// flickFor: no tool is lifted and lowered again, or lowered and lifted, within less; a valve of sections is. Common practice, no source.
const flickFor = 2.0 // s, from the fix before to the fix behind

// flickers says how often the logged work state is another one at a single fix than just before and behind it, and how much ground that leaves. It changes nothing:
// a bar of which all sections are shut for a moment leaves that ground too.
func (t *trail) flickers(w Work) []geo.Finding {
	if !t.timed || t.State == nil || t.assumed || w.Working == EvidenceInferred || w.Working == EvidenceAll {
		return nil
	}
	up, down, first, way := 0, 0, -1, 0.0
	for _, p := range byBreaks(t) {
		for k := p.from + 1; k < p.to; k++ {
			was, is := t.State[k-1], t.State[k]
			if is == was || is == geo.StateUnknown || was == geo.StateUnknown || t.State[k+1] != was || !(t.seconds[k+1]-t.seconds[k-1] <= flickFor) {
				continue
			}
			if first < 0 {
				first = k
			}
			if is == geo.Working {
				down++
				continue
			}
			up++
			way += (t.at[k].Dist(t.at[k-1]) + t.at[k+1].Dist(t.at[k])) / 2 // halfway to halfway, as switches are settled
		}
	}
	if first < 0 {
		return nil
	}
	what := fmt.Sprintf("the work state is another one at single fixes, up at %d of them and down at %d (first: %s UTC): no tool moves so fast, but sections are shut so; taken as logged, which leaves up to %.0f m² that a tool at work throughout did not miss",
		up, down, geo.Moment(geo.Instant(t.seconds[first])), way*w.Credited())
	return []geo.Finding{{File: t.source, Record: t.recordOf(first), What: what}}
}
