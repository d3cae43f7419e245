package coverage

import (
	"balk/coverage/drive"
	"balk/geo/plane"
)

// silence is a log gap that the set may have used for a way of its own.
type silence struct {
	from, to plane.XY
	way      float64 // m, what the set drives in the time of the gap
}

// reaches says whether the set could be at q and back on the log in time: q lies in
// the ellipse with the ends of the gap as foci.
//
//	from ●━━━ unknown ━━━● to        │q − from│ + │q − to│ ≤ usual speed × time of the gap
//	      ╲             ╱
//	       ╲___ q _____╱
func (s silence) reaches(q plane.XY) bool { return q.Dist(s.from)+q.Dist(s.to) <= s.way }

// beside says whether q lies within so many metres of the straight line across.
func (s silence) beside(q plane.XY, room float64) bool {
	return plane.Segment{A: s.from, B: s.to}.Dist(q) <= room
}

// silencesOf are the log gaps of stretches with what the set drives meanwhile at
// its usual working speed in m/s. One without times has no reach that could be told,
// one longer than a pause is a break, as in Effort, and breaks of the track
// itself are none, as the tool is taken as lifted there.
func silencesOf(log []drive.Stretch, speed float64) []silence {
	var out []silence
	for _, s := range log {
		if !s.Gap() {
			continue
		}
		for k := 1; k < len(s.Line); k++ {
			if dt := s.Seconds[k] - s.Seconds[k-1]; dt > 0 && dt <= drive.Pause {
				out = append(out, silence{s.Line[k-1], s.Line[k], speed * dt})
			}
		}
	}
	return out
}

// doubtGaps takes certainty from the strips that may have been worked in a log gap:
// only the straight line across a gap is unknown ground, but the set need not have
// driven that, and the pass it lost lies beside it. Such a strip
//
//   - has its middle within reach of gaps in which together the set could have driven
//     the whole of it: its length, and its area by the credited width; and
//   - has room for a pass (nearly × the credited width), or its middle within the
//     credited width of that line. Nobody leaves a row to work what is narrower.
func (r *Result) doubtGaps() {
	var tree plane.Tree[silence]
	for _, s := range silencesOf(r.Log, r.Effort.Speed.Median) {
		// The foci lie way/2 from the middle of the ellipse or nearer, its rim at most so far.
		m, half := s.from.Lerp(s.to, 0.5), s.way/2
		tree.Insert(plane.Box{Min: m, Max: m}.Grown(half), s)
	}
	credited := r.Work.Credited()
	for k := range r.Strips {
		s := &r.Strips[k]
		q, way := r.Local.XY(s.At), 0.0
		for gap := range tree.In(plane.Box{Min: q, Max: q}) {
			if gap.reaches(q) && (s.MaxWidth >= nearly*credited || gap.beside(q, credited)) {
				way += gap.way
			}
		}
		if way == 0 || way < max(s.Length, s.Area/credited) {
			continue
		}
		s.Cause = CauseGap
		s.doubt()
	}
}

// doubt takes a strip's certainty: it is likely at most.
func (s *Strip) doubt() {
	if s.Certain = 0; s.Surety == SuretyCertain {
		s.Surety = SuretyLikely
	}
}
