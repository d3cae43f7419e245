package sheet

import (
	"fmt"
	"time"
	"unicode/utf8"

	"balk/coverage/drive"
	"balk/coverage/rework"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
)

// Page is the paper a sheet is printed on and what people want to read on it
// beside the result.
type Page struct {
	Paper       string         `json:"paper,omitempty"`       // "A4" or "A3"; "" = A4
	Orientation string         `json:"orientation,omitempty"` // "portrait" or "landscape"; "" = whichever shows the field larger
	Language    words.Language `json:"language,omitempty"`    // of the words on the paper; "" = English
	Operation   string         `json:"operation,omitempty"`   // what was done, as "loosening"; "" = left blank
	Implement   string         `json:"implement,omitempty"`   // its name; "" = its widths only
	Driver      string         `json:"driver,omitempty"`      // "" = a line to write on
	Remarks     string         `json:"remarks,omitempty"`     // printed before the lines to write on
	Zone        *time.Location `json:"-"`                     // of the times on the paper; nil = UTC
	Rework      *rework.Plan   `json:"-"`                     // what is to be worked again; nil = no page of it
	Sweeps      *SweepsPlan    `json:"-"`                     // the layout of the set's sweeps; nil = no page of it
	PerHour     float64        `json:"-"`                     // money for an hour of the set; 0 = not known
	PerMissed   float64        `json:"-"`                     // money that a m² missed costs; 0 = not known
	FontFolders []string       `json:"-"`                     // where fonts are sought for letters that those of the sheet lack; nil = nowhere
}

// Longer texts are no names but something pasted by mistake; remarks of this
// length still fit the last page.
const (
	maxName    = 200  // letters
	maxRemarks = 2000 // letters
)

// Sizes of paper in millimetres, upright (ISO 216).
var papers = map[string][2]float64{"": {210, 297}, "A4": {210, 297}, "A3": {297, 420}}

// Validate says what is wrong with p: the first limit that is broken.
func (p Page) Validate() error {
	if _, ok := papers[p.Paper]; !ok {
		return fmt.Errorf("paper %q: must be A4 or A3", p.Paper)
	}
	if err := p.Language.Validate(); err != nil {
		return err
	}
	switch p.Orientation {
	case "", "portrait", "landscape":
	default:
		return fmt.Errorf("orientation %q: must be portrait or landscape", p.Orientation)
	}
	for _, c := range []struct {
		name, text string
		max        int
	}{{"operation", p.Operation, maxName}, {"implement", p.Implement, maxName}, {"driver", p.Driver, maxName}, {"remarks", p.Remarks, maxRemarks}} {
		if n := utf8.RuneCountInString(c.text); n > c.max {
			return fmt.Errorf("%s of %d letters: must be at most %d", c.name, n, c.max)
		}
	}
	return nil
}

// open says what is wrong with p, or gives the fonts for it and for texts that are not the sheet's own.
func (p Page) open(texts ...string) (*paper.Fonts, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	f, err := paper.LoadFonts()
	if err != nil {
		return nil, err
	}
	f.Seek(p.FontFolders, append(texts, p.Operation, p.Implement, p.Driver, p.Remarks, p.zone().String()))
	return f, nil
}

// zone is where the paper's clock stands.
func (p Page) zone() *time.Location {
	if p.Zone == nil {
		return time.UTC
	}
	return p.Zone
}

// worked says when passes were driven.
func (p Page) worked(passes []drive.Pass) string {
	var from, to time.Time
	for _, one := range passes {
		if !one.From.IsZero() && (from.IsZero() || one.From.Before(from)) {
			from = one.From
		}
		if one.To.After(to) {
			to = one.To
		}
	}
	switch w := p.span(from, to); {
	case w != "":
		return w
	case len(passes) == 0:
		return "" // still to be done
	}
	return p.Language.Word("no time logged")
}

// span says from when to when in local time, with the zone; "" if not known.
func (p Page) span(from, to time.Time) string {
	if from.IsZero() || to.IsZero() {
		return ""
	}
	if !geo.Dated(from) {
		return from.Format("15:04") + p.Language.Word(" to ") + to.Format("15:04") + ", " + p.Language.Word("no date logged")
	}
	a, b := from.In(p.zone()), to.In(p.zone())
	day, clock := p.Language.Day(), "15:04"
	s := a.Format(day+" "+clock) + p.Language.Word(" to ")
	if a.Format(day) != b.Format(day) {
		s += b.Format(day + " ")
	}
	return s + b.Format(clock) + " " + zoneWords(p.Language, b)
}

// zoneWords names the zone in force at t, with its hours from UTC.
func zoneWords(l words.Language, t time.Time) string {
	name, _ := t.Zone()
	if name == "UTC" {
		return name
	}
	hours := "UTC" + t.Format("-07:00")
	if name == "" || name[0] == '+' || name[0] == '-' {
		return hours
	}
	return l.Zone(name) + " (" + hours + ")"
}
