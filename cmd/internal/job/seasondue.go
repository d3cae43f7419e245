package job

import (
	"errors"
	"fmt"
	"time"

	"balk/export/words"
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
	Operation int64     `json:"operation"`        // the last that cuts
	Cut       time.Time `json:"cut"`              // when it was done
	Days      float64   `json:"days"`             // since, on the day asked for
	From      time.Time `json:"from,omitzero"`    // from when on it is due by days; zero: no days wanted
	Warmth    *float64  `json:"warmth,omitempty"` // degree days since; absent: no weather was read
	Until     time.Time `json:"until,omitzero"`   // to which warmth is summed
	Base      float64   `json:"base,omitempty"`   // °C
	Wanted    DueWanted `json:"wanted,omitzero"`
}

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
	if s := r.station; s.file != "" && d.Cut.Unix() < s.end {
		sum := s.After(d.Cut.Unix(), min(s.end, r.Spec.Day.Unix()), s.least)
		d.Warmth, d.Base, d.Until = &sum.Warmth, s.least.Base, time.Unix(sum.Until, 0).UTC()
	}
	r.Due = d
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
	return text
}
