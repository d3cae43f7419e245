package coverage

import (
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
)

const (
	// topClass: working speeds from here on share the last, open class. Nothing
	// works the ground so fast (common practice, no source).
	topClass = 60 // km/h
)

// Effort is the way and the time an operation took, and how much ground it
// worked in it. Times need a logged clock: without one the seconds, speeds and
// capacities are zero and Timed is false.
//
//   - Metres stay with the activity the log gives them. Seconds too, but for a
//     silence: a time without fixes longer than a log gap's (Work.GapTime) and than five
//     usual steps of the clock. If the set moved by no more than twice its usual step
//     meanwhile, it is standing; else unknown.
//   - Standing for more than an hour on end, and a silence of more than an hour
//     wherever it led, is a break: no time on the field.
//   - Where the clock does not go on (several fixes in one second) or is not
//     logged, the way is joined to that up to the next fix with a later time. Where it
//     goes back, or by more than a year, the metres have no time (Unclocked).
//   - Time between parts of one track is unknown too, or standing if the set did not
//     move. Time between tracks belongs to nobody: they may be of several sets.
type Effort struct {
	Timed    bool  `json:"timed"`
	Working  Spent `json:"working"`
	Turning  Spent `json:"turning"`
	Standing Spent `json:"standing"`
	Road     Spent `json:"road"` // no time on the field
	Unknown  Spent `json:"unknown"`

	OnField    float64 `json:"onField,omitempty"`    // s, working + turning + standing + unknown
	Break      float64 `json:"break,omitempty"`      // s, longer than an hour each; no time on the field
	ClockFault int     `json:"clockFault,omitempty"` // times the clock went back, or on by more than a year

	Speed   WorkSpeed    `json:"speed,omitzero"`    // while working; zero: no working step has a time
	Classes []SpeedClass `json:"classes,omitempty"` // working speed by classes of 1 km/h, ascending, empty ones left out

	// Ground worked at least once per time on the field, and the full working width
	// times the mean working speed (ASABE EP496), both m²/s; their quotient
	// is the field efficiency. Ground that was worked without a clock is taken off by its share
	// of the working metres. Zero: no working step has a time. The working width is
	// Work.Width, whatever the log says of single sections.
	EffectiveCapacity   float64 `json:"effectiveCapacity,omitempty"`
	TheoreticalCapacity float64 `json:"theoreticalCapacity,omitempty"`
	FieldEfficiency     float64 `json:"fieldEfficiency,omitempty"`
}

// Spent is what one activity took.
type Spent struct {
	Metres    float64 `json:"metres"`              // m, along the antenna's way
	Unclocked float64 `json:"unclocked,omitempty"` // m, part of Metres without a time of their own
	Seconds   float64 `json:"seconds,omitempty"`   // s
	Share     float64 `json:"share,omitempty"`     // of the time on the field; 0 for the road
}

// WorkSpeed is the working speed in m/s, weighted by time: for half of the working
// time the set was not faster than the median.
type WorkSpeed struct {
	Mean   float64 `json:"mean"` // way by time
	Q05    float64 `json:"q05"`  // for a twentieth of the time not faster
	Q25    float64 `json:"q25"`
	Median float64 `json:"median"`
	Q75    float64 `json:"q75"`
	Q95    float64 `json:"q95"`
}

// SpeedClass is what was worked at From to below From + 1 km/h; the class from
// 60 km/h is open.
type SpeedClass struct {
	From    float64 `json:"from"` // m/s
	Metres  float64 `json:"metres"`
	Seconds float64 `json:"seconds"`
}

// Capacity is the field capacity in m²/s at a speed in m/s, a working width in m
// and a field efficiency as a share: C = s·w·Ef (ASABE EP496, which has
// C = s·w·Ef/10 in ha/h for km/h, m and a share).
func Capacity(speed, width, efficiency float64) float64 { return speed * width * efficiency }

// effortOf sums a log by activity. It satisfies
//
//  1. Σ metres is the length of all stretches;
//  2. Σ seconds and breaks is the time the clock went on in each track, from its
//     first to its last timed fix;
//  3. cutting a stretch in two at a fix with a later time than the one before
//     changes nothing.
func effortOf(log []drive.Stretch, b ground.Balance, w drive.Work) Effort {
	e := effortSum{classes: make([]SpeedClass, topClass+1)}
	for from := 0; from < len(log); {
		to := from + 1
		for to < len(log) && log[to].Track == log[from].Track {
			to++
		}
		e.track(log[from:to], w)
		from = to
	}
	return e.result(b, w)
}

// effortSum is an Effort on its way.
type effortSum struct {
	Effort
	standing float64 // s of the stop that is going on
	speeds   []weighted
	classes  []SpeedClass
}

func (e *effortSum) of(a drive.Activity) *Spent {
	switch a {
	case drive.ActivityWork:
		return &e.Working
	case drive.ActivityTurn:
		return &e.Turning
	case drive.ActivityIdle:
		return &e.Standing
	case drive.ActivityRoad:
		return &e.Road
	}
	return &e.Unknown
}

// track adds the stretches of one track.
func (e *effortSum) track(log []drive.Stretch, w drive.Work) {
	working := 0
	for _, s := range log {
		if s.Activity == drive.ActivityWork {
			working += len(s.Line)
		}
	}
	e.speeds = slices.Grow(e.speeds, working)
	drive.ClockSteps(log, w, func(c drive.ClockStep) {
		spent := e.of(c.Activity)
		spent.Metres += c.Metres
		if c.Fault {
			e.ClockFault++
		}
		if c.Seconds == 0 {
			spent.Unclocked += c.Metres
			return
		}
		e.Timed = true
		if c.Silent {
			spent.Unclocked += c.Metres
		}
		if c.Activity == drive.ActivityIdle || c.Still && c.Activity != drive.ActivityRoad {
			e.standing += c.Seconds
			return
		}
		e.stopOver()
		switch {
		case c.Seconds > drive.Pause:
			e.Break += c.Seconds
		case c.Silent && c.Activity != drive.ActivityRoad:
			e.Unknown.Seconds += c.Seconds
		default:
			spent.Seconds += c.Seconds
			if c.Activity == drive.ActivityWork {
				e.worked(c.Metres, c.Seconds)
			}
		}
	})
	e.stopOver()
}

// stopOver ends a stop.
func (e *effortSum) stopOver() {
	if e.standing > drive.Pause {
		e.Break += e.standing
	} else {
		e.Standing.Seconds += e.standing
	}
	e.standing = 0
}

// worked adds a step of work with a time of its own.
func (e *effortSum) worked(metres, seconds float64) {
	v := metres / seconds
	e.speeds = append(e.speeds, weighted{v, seconds})
	c := &e.classes[int(min(v*geo.Kmh, topClass))]
	c.Metres += metres
	c.Seconds += seconds
}

func (e *effortSum) result(b ground.Balance, w drive.Work) Effort {
	r := e.Effort
	r.OnField = r.Working.Seconds + r.Turning.Seconds + r.Standing.Seconds + r.Unknown.Seconds
	if r.OnField > 0 {
		for _, s := range []*Spent{&r.Working, &r.Turning, &r.Standing, &r.Unknown} {
			s.Share = s.Seconds / r.OnField
		}
	}
	if len(e.speeds) == 0 {
		return r
	}
	clocked := r.Working.Metres - r.Working.Unclocked
	r.Speed = speedOf(e.speeds, clocked/r.Working.Seconds)
	for k, c := range e.classes {
		if c.Seconds > 0 {
			c.From = float64(k) / geo.Kmh
			r.Classes = append(r.Classes, c)
		}
	}
	if clocked > 0 {
		r.EffectiveCapacity = (b.Once + b.Twice + b.More) * clocked / r.Working.Metres / r.OnField
		r.TheoreticalCapacity = Capacity(r.Speed.Mean, w.Width, 1)
		r.FieldEfficiency = r.EffectiveCapacity / r.TheoreticalCapacity
	}
	return r
}

// weighted is a value that counts for so much.
type weighted struct{ value, weight float64 }

// speedOf reorders v, which must not be empty.
func speedOf(v []weighted, mean float64) WorkSpeed {
	var all float64
	for _, t := range v {
		all += t.weight
	}
	q := []float64{0.05 * all, 0.25 * all, 0.5 * all, 0.75 * all, 0.95 * all}
	quantiles(v, q)
	return WorkSpeed{Mean: mean, Q05: q[0], Q25: q[1], Median: q[2], Q75: q[3], Q95: q[4]}
}

// quantiles puts in the place of each weight in q (ascending) the lowest value
// up to which v has that much: by halving, without sorting. It reorders v,
// which must not be empty.
func quantiles(v []weighted, q []float64) {
	fill := func(q []float64, value float64) {
		for k := range q {
			q[k] = value
		}
	}
	for len(q) > 0 && len(v) > 1 {
		pivot := v[len(v)/2].value
		i, j := parted(v, pivot)
		// v[:j+1] ≤ pivot ≤ v[i:], and what lies between is the pivot
		var less, mid float64
		for _, t := range v[:j+1] {
			less += t.weight
		}
		for _, t := range v[j+1 : i] {
			mid += t.weight
		}
		below, upTo := 0, 0
		for upTo < len(q) && (i == len(v) || q[upTo] <= less+mid) {
			if upTo++; j >= 0 && q[upTo-1] <= less {
				below = upTo
			}
		}
		quantiles(v[:j+1], q[:below])
		fill(q[below:upTo], pivot)
		q, v = q[upTo:], v[i:]
		for k := range q {
			q[k] -= less + mid
		}
	}
	if len(q) > 0 {
		fill(q, v[0].value)
	}
}

// parted reorders v so that nothing in v[:j+1] is above the pivot, nothing in v[i:] below it, and what lies between is it.
func parted(v []weighted, pivot float64) (i, j int) {
	i, j = 0, len(v)-1
	for i <= j {
		for v[i].value < pivot {
			i++
		}
		for v[j].value > pivot {
			j--
		}
		if i <= j {
			v[i], v[j] = v[j], v[i]
			i, j = i+1, j-1
		}
	}
	return i, j
}
