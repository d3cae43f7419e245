package fieldday

import (
	"math"

	"balk/coverage"
	"balk/coverage/rig"
	"balk/geo"
)

// Situation is a row of the table: how a set drives, what is logged of it, and what is told of the set.
type Situation struct {
	Name      string
	Driving   Driving
	Receiver  Receiver
	Wrong     rig.Mount // m, so much more stands in the file of the set than there is
	PassError float64   // m, given with the call; 0: not
	Fault     Fault
}

// Fault is what of a situation is to be found, or to be named. No name: nothing is wrong.
type Fault struct {
	Name   string
	Off    float64 // m, what the bar lies to the right of where the file has it, or so much farther behind the file has it; s, a delay
	Hidden bool    // no log shows that
}

// Band is the class of receivers and logs by which a row is judged.
type Band int

const (
	Fixed        Band = iota // fixed quality, an honest file, the state of the bar logged
	Differential             // quality differential, else as Fixed
	Other                    // a phone, a file that is wrong, no state, a button: held to less
)

// Band is that of a situation.
func (s Situation) Band() Band {
	r := s.Receiver
	switch {
	case s.Wrong != (rig.Mount{}) || !r.Working || r.Button || s.Driving.Section > 0:
		return Other
	case r.Quality == geo.QualityFixed:
		return Fixed
	case r.Quality == geo.QualityDifferential:
		return Differential
	}
	return Other
}

// with is a receiver at a rate, with the state of the bar.
func with(r Receiver, hertz float64) Receiver {
	r.Hertz, r.Working = hertz, true
	return r
}

// The faults of the table.
const (
	late          = 2.5  // m
	hangs         = 0.15 // m
	antennaOff    = 0.20 // m
	lengthOff     = 1.0  // m
	lower, lift   = 1.2, 0.6
	phoneError    = 3.0 // m
	omittedRow    = 13
	asideRow      = 10
	asideBy       = 0.30 // m
	sectionRow    = 12
	sectionFrom   = 30.0 // m
	sectionOver   = 60.0 // m
	sectionLifted = 1.5  // m
)

// Situations are the rows of the table. Those that drive alike stand together: one drive serves them.
func Situations() []Situation {
	var all []Situation
	add := func(name string, d Driving, r Receiver) *Situation {
		all = append(all, Situation{Name: name, Driving: d, Receiver: r})
		return &all[len(all)-1]
	}
	sets := []struct {
		name    string
		trailed bool
	}{{"mounted", false}, {"trailed", true}}
	silent := func(r Receiver) Receiver { r.Working = false; return r }
	only := func(r Receiver) Receiver { r.Only = true; return r }
	stray := func(r Receiver) Receiver { r.Stray = 300; return r }
	unsaid := func(r Receiver) Receiver { r.Quality = geo.QualityUnknown; return r }
	for _, s := range sets {
		d := Driving{Trailed: s.trailed}
		add("exact log, 10 Hz, "+s.name, d, with(exact, 10))
		for _, hertz := range []float64{1, 5, 10} {
			add("fixed, "+hertzOf(hertz)+", "+s.name, d, with(fixed, hertz))
		}
		add("fixed, 2 cm white, 5 Hz, "+s.name, d, with(noisy, 5))
		add("fixed, 2 cm white, 10 Hz, "+s.name, d, with(noisy, 10))
		add("fixed, logged only at work, 1 Hz, "+s.name, d, only(with(fixed, 1)))
		add("fixed, logged only at work, no state, 1 Hz, "+s.name, d, only(silent(with(fixed, 1))))
		add("fixed, a fix in 5 s, "+s.name, d, with(fixed, 0.2))
		add("fixed, one fix in 300 off, 1 Hz, "+s.name, d, stray(with(fixed, 1)))
		add("fixed, one fix in 300 off, 5 Hz, "+s.name, d, stray(with(fixed, 5)))
		add("fixed, a fix in 10 s, "+s.name, d, with(fixed, 0.1))
		add("quality not logged, only at work, 1 Hz, "+s.name, d, only(unsaid(with(fixed, 1))))
		add("quality not logged, only at work, 5 Hz, "+s.name, d, only(unsaid(with(fixed, 5))))
		add("differential, 1 Hz, "+s.name, d, with(differential, 1))
		add("differential, 5 Hz, "+s.name, d, with(differential, 5))
		if !s.trailed {
			add("phone with state, 1 Hz, "+s.name, d, with(phone, 1)).PassError = phoneError
		}
		add("no fault, no state, 1 Hz, "+s.name, d, silent(with(fixed, 1)))
		one := add("antenna 20 cm right in the file, "+s.name, d, with(fixed, 1))
		one.Wrong.AntennaRight, one.Fault = antennaOff, Fault{Name: "offset", Off: antennaOff}
		one = add("hitch 1 m longer in the file, "+s.name, d, with(fixed, 1))
		one.Wrong.Hitch, one.Fault = lengthOff, Fault{Name: "length", Off: lengthOff}
		one = add("hitch 1 m shorter in the file, "+s.name, d, with(fixed, 1))
		one.Wrong.Hitch, one.Fault = -lengthOff, Fault{Name: "length", Off: -lengthOff}
		if s.trailed {
			one = add("drawbar 1 m longer in the file", d, with(fixed, 1))
			one.Wrong.Drawbar, one.Fault = lengthOff, Fault{Name: "length", Off: lengthOff}
			one = add("drawbar 1 m shorter in the file", d, with(fixed, 1))
			one.Wrong.Drawbar, one.Fault = -lengthOff, Fault{Name: "length", Off: -lengthOff}
		}
	}
	for _, s := range sets {
		d := Driving{Trailed: s.trailed, Late: late}
		found := Fault{Name: "late"}
		add("2.5 m late in the north, 1 Hz, "+s.name, d, with(fixed, 1)).Fault = found
		add("2.5 m late in the north, no state, "+s.name, d, silent(with(fixed, 1))).Fault = Fault{Name: "late", Hidden: true}
		d = Driving{Trailed: s.trailed, Side: hangs}
		one := add("bar 15 cm aside, file says 0, "+s.name, d, with(fixed, 1))
		one.Wrong.BarRight, one.Fault = -hangs, Fault{Name: "offset", Off: hangs, Hidden: true}
		add("bar 15 cm aside, as the file says, "+s.name, d, with(fixed, 1))
		d = Driving{Trailed: s.trailed, Lower: lower, Lift: lift}
		button := with(fixed, 1)
		button.Button = true
		add("state at the button, "+s.name, d, button).Fault = Fault{Name: "delay", Off: (lower + lift) / 2}
		d.Late = late
		add("state at the button, 2.5 m late in the north, "+s.name, d, button).Fault = found
		d = Driving{Trailed: s.trailed, Omitted: omittedRow}
		found.Name = "omitted"
		add("pass left out, "+s.name, d, with(fixed, 1)).Fault = found
		add("pass left out, no state, "+s.name, d, silent(with(fixed, 1))).Fault = found
		d = Driving{Trailed: s.trailed, Aside: asideRow, AsideBy: asideBy}
		found.Name = "aside"
		add("pass 30 cm aside, "+s.name, d, with(fixed, 1)).Fault = found
		d = Driving{Trailed: s.trailed, Section: sectionRow, SectionFrom: sectionFrom, SectionOver: sectionOver, SectionWidth: sectionLifted}
		add("section lifted for 60 m, not logged, "+s.name, d, with(fixed, 1)).Fault = Fault{Name: "section", Hidden: true}
	}
	add("curved passes and a pond, 1 Hz, mounted", Driving{Bent: true}, with(fixed, 1))
	add("curved passes and a pond, 5 Hz, mounted", Driving{Bent: true}, with(fixed, 5))
	add("curved passes and a pond, 5 Hz, trailed", Driving{Bent: true, Trailed: true}, with(fixed, 5))
	return all
}

func hertzOf(h float64) string {
	return map[float64]string{1: "1 Hz", 5: "5 Hz", 10: "10 Hz"}[h]
}

// named says whether the result tells of a fault by its figure, to a third of it; or, where no log shows the fault, that it cannot tell it.
func (f Fault) named(r coverage.Result) bool {
	near := func(got, want float64) bool { return math.Abs(got-want) < math.Abs(want)/3 }
	lag := r.Open.Lag
	switch {
	case f.Name == "offset" && f.Hidden: // guidance holds the antenna to its lines
		return r.Open.Aside.By != 0 && !r.Open.Aside.Joins
	case f.Name == "offset":
		return r.Open.Aside.Joins && near(r.Open.Aside.By, f.Off)
	case f.Name == "length":
		return lag.Ends > 0 && near(lag.Metres, f.Off)
	case f.Name == "delay":
		return lag.Ends > 0 && near((lag.Lower+lag.Lift)/2, f.Off)
	case f.Name == "section" && f.Hidden:
		return r.Open.Sections > 0
	case f.Name == "late" && f.Hidden: // the log is the one without the fault
		return r.Open.Ends.Rows > 0
	case f.Name == "late":
		return lag.Ends > 0 && near(lag.Late, late)
	}
	return false
}
