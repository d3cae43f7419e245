package job

import (
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
)

// Counters is what the machine counted itself, beside what the log says by our count: a second
// opinion that costs nothing. Both are of the tracks that have counters. A zero is not logged.
type Counters struct {
	Tracks      int     `json:"tracks"`          // that have counters
	Of          int     `json:"of"`              // tracks in all
	Working     Counted `json:"working"`         // m
	Idle        Counted `json:"idle"`            // m with the tool lifted, of what is known
	Area        Counted `json:"area"`            // m²: the machine's is way by width, ours the swath at credited width
	WorkingTime Counted `json:"workingTime"`     // s
	Fuel        float64 `json:"fuel,omitempty"`  // l
	Depth       float64 `json:"depth,omitempty"` // m, mean at work, as below
	Mass        float64 `json:"mass,omitempty"`  // kg/m² put out
	Count       float64 `json:"count,omitempty"` // pieces/m² put out
}

// Counted is one number twice.
type Counted struct {
	Machine float64 `json:"machine"`
	Ours    float64 `json:"ours"`
}

// Off is by how much the machine's is above ours, as a share of ours; NaN where one is not known.
func (c Counted) Off() float64 {
	if !(c.Machine > 0 && c.Ours > 0) {
		return math.NaN()
	}
	return c.Machine/c.Ours - 1
}

// counting is what the machine counted, before what became of its tracks is known.
type counting struct {
	Counters
	with map[int]bool // tracks that have counters, by index
}

// countersOf are the counters of tracks.
func countersOf(tracks []geo.Track) counting {
	c := counting{Counters{Of: len(tracks)}, map[int]bool{}}
	var depth, mass, count mean
	for i, t := range tracks {
		m := t.Counted
		if m == nil {
			continue
		}
		c.Tracks++
		c.with[i] = true
		for _, add := range []struct {
			to *float64
			v  float64
		}{{&c.Working.Machine, m.Working}, {&c.Idle.Machine, m.Idle}, {&c.Area.Machine, m.Area}, {&c.WorkingTime.Machine, m.WorkingTime}, {&c.Fuel, m.Fuel}} {
			if !math.IsNaN(add.v) {
				*add.to += add.v
			}
		}
		fixes := float64(t.Fixes())
		depth.take(m.Depth, fixes)
		mass.take(m.Mass, fixes)
		count.take(m.Count, fixes)
	}
	c.Depth, c.Mass, c.Count = depth.value(), mass.value(), count.value()
	return c
}

// beside puts what became of the tracks with counters beside these; nil: none has any.
func (c counting) beside(r coverage.Result) *Counters {
	if c.Tracks == 0 {
		return nil
	}
	for _, s := range r.Log {
		if !c.with[s.Track] {
			continue
		}
		switch s.Activity {
		case drive.ActivityWork:
			c.Working.Ours += s.Length
			if !s.From.IsZero() && !s.To.IsZero() {
				c.WorkingTime.Ours += s.To.Sub(s.From).Seconds()
			}
		case drive.ActivityUnknown:
		default:
			c.Idle.Ours += s.Length
		}
	}
	for _, p := range r.Passes {
		if c.with[p.Track] {
			c.Area.Ours += p.Area
		}
	}
	return &c.Counters
}

// mean of what is known, by weight.
type mean struct{ sum, weight float64 }

func (m *mean) take(v, weight float64) {
	if !math.IsNaN(v) {
		m.sum, m.weight = m.sum+v*weight, m.weight+weight
	}
}

func (m mean) value() float64 {
	if m.weight == 0 {
		return 0
	}
	return m.sum / m.weight
}
