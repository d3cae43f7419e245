package answer

import (
	"fmt"
	"math"

	"balk/coverage/spots"
	"balk/export/words"
)

// SpotWalk says how far it is to the places to kneel.
func SpotWalk(l words.Language, places int, length float64) string {
	return l.Say("%s to kneel, %.1f km on foot from the gate and back.", l.Count(places, "place"), length/1000)
}

// Provable says before a walk what it can prove at best, and what walks of usual numbers can.
func Provable(l words.Language, s spots.Share) string {
	out := l.Say("%s without a fault prove at 95 %% that at least %.0f %% of all places are cut clean", l.Count(s.Places, "drawn place"), percent(s.Alone))
	if s.Effective < float64(s.Places)-0.5 {
		out += l.Say("; as they lie on %s, whose faults they share, at least %.0f %%", l.Count(s.Passes, "pass"), percent(s.AtLeast))
	}
	return out + l.Say(" (10 places prove %.0f %%, 20 %.0f %%, 30 %.0f %%).", percent(spots.Provable(10)), percent(spots.Provable(20)), percent(spots.Provable(30)))
}

// percent is a lower bound, rounded down so that no more is said than was proved.
func percent(share float64) float64 { return math.Floor(100*share + touch) }

// touch: a bound that is a whole number but for rounding is it.
const touch = 1e-9 // %

// Spots are the sentences on what spot checks prove, the most important first.
func Spots(f spots.Found, l words.Language) []string {
	out := []string{cutClean(f, l)}
	if f.Depth != nil {
		out = append(out, depth(l, *f.Depth, l.Word("Depth of the cut")))
	}
	for _, d := range f.Seed {
		out = append(out, depth(l, d, l.Say("Depth of the seed %q", d.What)))
	}
	if s := f.Smeared; s != nil && s.Have > 0 {
		out = append(out, l.Say("At %d of %d places the ground is smeared: %.0f to %.0f %% of all.", s.Have, s.Places, 100*s.Lower, 100*s.Upper))
	}
	for _, s := range f.Sections {
		if s.Stands {
			format := "Section %d of the bar works %.1f cm deeper than the others (%.1f to %.1f cm; by chance in %s): look at its wheel and frame."
			d := s.Deeper
			if d.Mean < 0 {
				format = "Section %d of the bar works %.1f cm shallower than the others (%.1f to %.1f cm; by chance in %s): look at its wheel and frame."
				d.Mean, d.Low, d.High = -d.Mean, -d.High, -d.Low
			}
			out = append(out, l.Say(format, s.Section, 100*d.Mean, 100*d.Low, 100*d.High, chance(l, s.Chance)))
		}
	}
	for _, r := range f.Ribs {
		out = append(out, l.Say("A rib stands %.2f m from the bar's left end on %d of %d passes that were brushed free there (by chance in %s): look for a lost or worn sweep.", r.At, r.Passes, r.Looked, chance(l, r.Chance)))
	}
	if j := f.Joins; j != nil && j.Known {
		out = append(out, joins(l, *j))
	}
	for _, e := range f.Effects {
		out = append(out, effect(l, e))
	}
	if n := len(f.Against); n > 0 {
		sure := 0
		for _, a := range f.Against {
			if a.Sure {
				sure++
			}
		}
		out = append(out, l.Say("Against the map: %s, %d of them beyond the error of their places.", l.Count(n, "spot check"), sure))
	}
	return out
}

// cutClean says how much was proved.
func cutClean(f spots.Found, l words.Language) string {
	c := f.Cut
	if c.Places == 0 {
		return l.Word("No spot check that counts says whether the ground is cut.")
	}
	s := l.Say("Of %s %d are cut clean: at 95 %% that proves at least %.0f %% of all places", l.Count(c.Places, "place"), c.Have, percent(c.AtLeast))
	if c.Effective < float64(c.Places)-0.5 {
		s += l.Say(" (they lie on %s and share its fault, so that they count as %.1f; each on its own they would prove %.0f %%)", l.Count(c.Passes, "pass"), c.Effective, percent(c.Alone))
	}
	s += "."
	if !f.Chosen.ByChance {
		s += " " + l.Word("The places were not drawn: that holds only if they were chosen as by chance.")
	}
	return s
}

func depth(l words.Language, d spots.Depth, of string) string {
	s := l.Say("%s: %.1f cm on average", of, 100*d.Mean.Mean)
	if d.Mean.Limited() {
		s += l.Say(" (%.1f to %.1f cm)", 100*d.Mean.Low, 100*d.Mean.High)
	}
	if d.In != nil {
		s += l.Say(", %d of %d places within %s cm: at least %.0f %% of all", d.In.Have, d.In.Places, span(l, d.Band.Least, d.Band.Most), percent(d.In.AtLeast))
	}
	if d.Mean.Passes > 2 {
		s += l.Say("; nine tenths of all places lie within %s cm", span(l, max(0, d.HeldLow), d.HeldHigh))
	}
	return s + "."
}

// span is a range of depths in cm.
func span(l words.Language, from, to float64) string { return l.Say("%.1f to %.1f", 100*from, 100*to) }

// chance is a chance in words.
func chance(l words.Language, p float64) string {
	if p < 0.001 {
		return l.Say("less than %g %%", 0.1)
	}
	return l.Say("%.1f %%", 100*p)
}

func joins(l words.Language, j spots.Joins) string {
	side, by := l.Word("right"), j.BarRight
	if by.Value < 0 {
		side, by = l.Word("left"), spots.Estimate{Value: -by.Value, Low: -by.High, High: -by.Low}
	}
	s := l.Say("By %d joins the bar works %.1f cm farther %s than described (%.1f to %.1f cm)", j.Left+j.Right+j.Same, 100*by.Value, side, 100*by.Low, 100*by.High)
	if j.BarRight.Not(0) {
		s += l.Say(": %s added to barRight under [mount] in the implement file would say so", l.Digits(fmt.Sprintf("%+.3f m", j.BarRight.Value)))
	} else {
		s += l.Word(", which may be nothing")
	}
	return s + l.Say("; laps vary by %.1f cm (%.1f to %.1f), which --pass-error takes. Nothing was changed.", 100*j.PassError.Value, 100*j.PassError.Low, 100*j.PassError.High)
}

func effect(l words.Language, e spots.Effect) string {
	s := l.Say("%s, visit %d: %.0f %% gone at %s", e.Kind, e.Visit, 100*e.Mean.Mean, l.Count(e.Mean.Places, "place"))
	if e.Mean.Limited() {
		s += l.Say(" (%.0f to %.0f %%)", 100*e.Mean.Low, 100*e.Mean.High)
	}
	switch e.Rule {
	case spots.RuleBefore:
		s += l.Word("; no untreated ground stands beside it, so that what would have come of itself is in it")
	case spots.RuleAbbott:
		s += l.Word("; against untreated ground (Abbott)")
	case spots.RuleHenderson:
		s += l.Word("; against untreated ground (Henderson and Tilton)")
	}
	return s + "."
}
