package job

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"balk/export/words"
	"balk/geo"
)

// DueWanted says from when on the next cut is due; the user's, none by itself.
type DueWanted struct {
	Days   float64 `json:"days,omitempty"`   // since the last cut; 0 = not said
	Warmth float64 `json:"warmth,omitempty"` // degree days above the station's base since then; 0 = not said
}

func (d DueWanted) validate(s Station) error {
	if !(d.Days >= 0 && d.Days <= 3660 && d.Warmth >= 0 && d.Warmth <= 1e5) {
		return fmt.Errorf("due after %g days and %g degree days: must be from 0 to 3660 and to 100000", d.Days, d.Warmth)
	}
	if d.Warmth > 0 && s.File == "" {
		return errors.New("due by warmth: no weather is named (--weather)")
	}
	return nil
}

// Due is when the next cut is, counted from the last one.
type Due struct {
	Operation int64     `json:"operation"`         // the last that cuts
	Cut       time.Time `json:"cut"`               // when it was done
	Days      float64   `json:"days"`              // since, on the day asked for
	From      time.Time `json:"from,omitzero"`     // from when on it is due by days; zero: no days wanted
	Warmth    *float64  `json:"warmth,omitempty"`  // degree days since; absent: no weather was read
	Until     time.Time `json:"until,omitzero"`    // to which warmth is summed
	Base      float64   `json:"base,omitempty"`    // °C
	Emerged   *Emerged  `json:"emerged,omitempty"` // absent: no spot check tells of it
	Wanted    DueWanted `json:"wanted,omitzero"`
}

// Emerged is what spot checks saw come up since the last cut: plants from emergence to their leaves (BBCH 9 to 19). It makes the next cut due.
type Emerged struct {
	Seen   time.Time `json:"seen"`             // first
	Places int       `json:"places"`           // at which it was seen, at any time since
	Days   float64   `json:"days"`             // from the cut to then
	Warmth *float64  `json:"warmth,omitempty"` // degree days from the cut to then
}

// BBCH stages from emergence to the unfolding of leaves (Meier 2018, Growth stages of mono- and dicotyledonous plants).
const emerging, leaves = 9, 19

// due tells when the next cut is.
func (r *SeasonReport) due() {
	if r.Across == nil || r.Across.Cut == nil || len(r.Across.Cut.Last) == 0 {
		return
	}
	last := r.Across.Cut.Last[0]
	d := &Due{Operation: r.Across.Numbers[last.Operation], Cut: r.Across.Operations[last.Operation].When, Days: last.Days, Wanted: r.Spec.Due}
	if d.Wanted.Days > 0 {
		d.From = d.Cut.Add(time.Duration(d.Wanted.Days * 24 * float64(time.Hour)))
	}
	s := r.station
	told := s.file != "" && s.begin <= d.Cut.Unix()+lateBegin && d.Cut.Unix() < s.end
	if told {
		sum := s.After(d.Cut.Unix(), min(s.end, r.Spec.Day.Unix()), s.least)
		d.Warmth, d.Base, d.Until = &sum.Warmth, s.least.Base, time.Unix(sum.Until, 0).UTC()
	}
	r.Due = d
	e := Emerged{}
	for _, of := range r.Spots {
		for _, c := range of.Checks {
			if !c.Time.After(d.Cut) || c.Time.After(r.Spec.Day.AddDate(0, 0, 1)) || !slices.ContainsFunc(c.Plants, func(p geo.SpotPlants) bool { return p.Amount > 0 && p.Stage >= emerging && p.Stage <= leaves }) {
				continue
			}
			if e.Places++; e.Seen.IsZero() || c.Time.Before(e.Seen) {
				e.Seen = c.Time
			}
		}
	}
	if e.Places == 0 {
		return
	}
	e.Days = e.Seen.Sub(d.Cut).Hours() / 24
	if told && e.Seen.Unix() <= s.end {
		sum := s.After(d.Cut.Unix(), e.Seen.Unix(), s.least)
		e.Warmth = &sum.Warmth
	}
	d.Emerged = &e
}

// Words are what is due in sentences.
func (d Due) Words(l words.Language) (text []string) {
	text = append(text, l.Say("Last cut: operation %d on %s, %.0f days ago.", d.Operation, d.Cut.Format(l.Day()), d.Days))
	if w := d.Wanted.Days; w > 0 && d.Days >= w {
		text = append(text, l.Say("The next one is due since %s, by %g days.", d.From.Format(l.Day()), w))
	} else if w > 0 {
		text = append(text, l.Say("The next one is due on %s, by %g days.", d.From.Format(l.Day()), w))
	}
	if d.Warmth != nil {
		s := l.Say("Warmth above %g °C since then, until %s: %.0f degree days", d.Base, d.Until.Format(l.Day()), *d.Warmth)
		switch w := d.Wanted.Warmth; {
		case w > 0 && *d.Warmth >= w:
			s += l.Say(", more than the %.0f after which the next one is due", w)
		case w > 0:
			s += l.Say(", of %.0f after which the next one is due", w)
		}
		text = append(text, s+".")
	}
	if e := d.Emerged; e != nil {
		s := l.Say("Young plants (BBCH 9 to 19) were seen first on %s, %.0f days after that cut", e.Seen.Format(l.Day()), e.Days)
		if e.Warmth != nil {
			s += l.Say(" and %.0f degree days", *e.Warmth)
		}
		text = append(text, s+l.Say(", at %s since.", l.Count(e.Places, "place")))
	}
	return text
}
