package geo

import (
	"cmp"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"
)

const (
	// nightBreak: a longer time without a fix ends a session; meals and repairs are shorter (common
	// practice, no source).
	nightBreak = 4 * 3600.0 // s
	// FarApart: an operation goes on after nights and wet days, but not after so long a break: by then the ground is another,
	// and so is what is done there (common practice, no source).
	FarApart = 7 * 24 * time.Hour
	// coveredAgain: a session over so much of the ground worked before it, of all that either worked, is another
	// operation: the field was done, and the set came back. Going over what was missed, or over the
	// headland at the end, is far less.
	coveredAgain = 0.5
	// passingBy: a session with less ground than this part of the greatest one's went past the field.
	passingBy = 0.02
	// The ground of a swath is told by cells a quarter of its width wide, three side by side: the fourth is
	// left out, so that rows beside each other share none.
	cellsWide, cellsAcross = 4, 3
)

// Session is driving without a break longer than a night's.
type Session struct {
	From, To time.Time
	Fixes    int
	Way      float64 // m, with the implement not known to be lifted
	Again    float64 // of the ground that this one or the operation before it worked, what both did, 0 to 1
	ground   map[cell]struct{}
}

// cell is a square of ground.
type cell struct{ x, y int32 }

// Sessions cuts tracks by their times. of says for each track and fix in which session it lies; -1: none, nothing
// says when it was. width is that of the implement, m; ground counts within the bound only, which is the field's.
func Sessions(tracks []Track, width float64, within orb.Bound) (sessions []Session, of [][]int) {
	stays := staysOf(tracks)
	for _, s := range stays {
		sessions = append(sessions, Session{From: Instant(s.from), To: Instant(s.to), ground: map[cell]struct{}{}})
	}
	of = make([][]int, len(tracks))
	for i, t := range tracks {
		of[i] = sessionsOf(t.fixes(), stays)
		for _, s := range of[i] {
			if s >= 0 {
				sessions[s].Fixes++
			}
		}
	}
	if len(sessions) > 1 {
		p := painter{width: width, within: within, sessions: sessions}
		for i, t := range tracks {
			p.paint(t, of[i])
		}
	}
	return sessions, of
}

// stay is a time without a break longer than a night's, s.
type stay struct{ from, to float64 }

// staysOf are the stays of all tracks, one after the other.
func staysOf(tracks []Track) (joined []stay) {
	var stays []stay
	for _, t := range tracks {
		f := t.fixes()
		for from, to := range f.parts() {
			last := math.NaN()
			for _, s := range f.timed(from, to) {
				if s >= last && s-last <= nightBreak {
					stays[len(stays)-1].to = s
				} else {
					stays = append(stays, stay{s, s})
				}
				last = s
			}
		}
	}
	slices.SortFunc(stays, func(a, b stay) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	for _, s := range stays {
		if n := len(joined); n > 0 && s.from-joined[n-1].to <= nightBreak {
			joined[n-1].to = max(joined[n-1].to, s.to)
			continue
		}
		joined = append(joined, s)
	}
	return joined
}

// sessionsOf says of each fix of a track in which stay it lies. Those without a time go with those before them in
// their part, else with those behind them; -1: nothing says it.
func sessionsOf(f *fixes, stays []stay) []int {
	of := make([]int, f.len())
	for start, end := range f.parts() {
		now := -1
		for k := start; k < end; k++ {
			if s := f.seconds(k); !math.IsNaN(s) {
				now, _ = slices.BinarySearchFunc(stays, s, func(one stay, s float64) int { return cmp.Compare(one.to, s) })
			}
			of[k] = now
		}
		for k := end - 2; k >= start; k-- {
			if of[k] < 0 {
				of[k] = of[k+1]
			}
		}
	}
	return of
}

// painter puts the ground of swaths into sessions.
type painter struct {
	width    float64
	within   orb.Bound
	sessions []Session
}

func (p *painter) paint(t Track, of []int) {
	c := t.fixes()
	const rad = math.Pi / 180
	home := patch{p.within.Min[0], p.within.Min[1], math.Cos(p.within.Center()[1] * rad)}
	size := p.width / cellsWide
	reach := max(jumpLeast, jumpSteps*c.usualStep(0, c.len()))
	for k := range c.steps() {
		if of[k] < 0 || of[k] != of[k-1] || len(t.State) > 0 && (t.State[k] == Lifted || t.State[k-1] == Lifted) {
			continue
		}
		lon1, lat1 := c.lonLat(k - 1)
		lon2, lat2 := c.lonLat(k)
		x, y := home.xy(lon1, lat1)
		dx, dy := patch{lon1, lat1, home.cos}.xy(lon2, lat2)
		l := math.Hypot(dx, dy)
		if !(l > 0 && l <= reach) { // a jump or a gap is no swath
			continue
		}
		s := &p.sessions[of[k]]
		s.Way += l
		if !p.within.Contains(orb.Point{lon1, lat1}) && !p.within.Contains(orb.Point{lon2, lat2}) {
			continue
		}
		for along := 0.0; along < l; along += size {
			for across := 0; across < cellsAcross; across++ {
				side := (float64(across) - (cellsAcross-1)/2.0) * size
				at := cell{int32(math.Floor((x + dx*along/l - dy*side/l) / size)), int32(math.Floor((y + dy*along/l + dx*side/l) / size))}
				s.ground[at] = struct{}{}
			}
		}
	}
}

// Operations puts sessions, in the order of time, into operations: another one begins after FarApart, or
// where a session goes again over the ground of the operation at hand (coveredAgain). Sessions that went past the
// field are no reason. They are numbered from 0; of says that of each session.
func Operations(sessions []Session) (of []int) {
	of = make([]int, len(sessions))
	var ground map[cell]struct{} // of the operation at hand
	now, most := 0, 0
	for _, s := range sessions {
		most = max(most, len(s.ground))
	}
	before := -1 // session on the field
	for i := range sessions {
		s := &sessions[i]
		if of[i] = now; float64(len(s.ground)) < passingBy*float64(most) {
			continue
		}
		if before >= 0 {
			both := 0
			for c := range s.ground {
				if _, there := ground[c]; there {
					both++
				}
			}
			if all := max(len(s.ground), len(ground)); all > 0 {
				s.Again = float64(both) / float64(all)
			}
			if s.From.Sub(sessions[before].To) > FarApart || s.Again >= coveredAgain {
				now, ground = now+1, nil
			}
		}
		if ground == nil {
			ground = map[cell]struct{}{}
		}
		for c := range s.ground {
			ground[c] = struct{}{}
		}
		of[i], before = now, i
	}
	return of
}
