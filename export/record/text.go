package record

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"balk/export/answer"
	"balk/export/figures"
	"balk/export/words"
	"balk/geo"
)

// label is how wide the left column is, in letters.
const label = 34

// Text writes the record for people. Lines are at most 100 letters wide, but for
// long names.
func (r Record) Text(w io.Writer, l words.Language) error {
	if err := l.Validate(); err != nil {
		return err
	}
	b := page{Language: l}
	b.begin("Record of work", r.Details, r.Field, r.Number)
	if r.From.IsZero() {
		b.line("From", l.Word("not logged"))
	} else {
		b.line("From", l.Instant(r.From, r.Zone))
		b.line("To", l.Instant(r.To, r.Zone))
	}
	b.line("Working width", l.Say("%.2f m (%s)", r.Width, l.Word(r.WidthFrom)))
	if r.WidthMost-r.WidthLeast > 0.03 { // beyond what widths are rounded to in logs
		b.line("", l.Say("%.2f to %.2f m, the whole bar on %.0f %% of the way", r.WidthLeast, r.WidthMost, math.Floor(100*r.WidthWhole)))
	}
	b.line("Planned overlap", l.Say("%.2f m", r.Overlap))
	b.sentences(answer.First(l, r.Open, r.Missed))

	b.head("Areas at credited width")
	b.area("Field", r.Area, r.Area)
	twice := r.shown.Twice.Plus(r.shown.More)
	b.part("Worked", r.shown.Once.Plus(twice))
	b.part("of it twice or more", twice)
	b.part("Missed", r.shown.Missed)
	if r.MissedMost > 0 {
		b.line("", l.Say("between %s m² and %s m², given the receiver", figures.SquareMetres(round(r.MissedLeast)), figures.SquareMetres(round(r.MissedMost))))
		b.item("Pass-to-pass error (95 %)", l.Say("%.3f m", r.PassError))
	}
	b.sentences(answer.Holds(l, r.Open))
	b.part("Unknown (log gap)", r.shown.Unknown)
	b.area("Worked outside the boundary", r.Outside, r.Area)
	if r.Ribbons > 0 {
		b.area("Uncut between sweeps", r.Ribbons, r.Area)
	}
	if r.Trodden > 0 {
		b.area("Under tyres after the cut", r.Trodden, r.Area)
	}
	if s := r.Slope; s != nil {
		b.item("Area along the slope", b.Say("%s ha, of %s ha on the map", b.Digits(figures.Hectares(s.Ground)), b.Digits(figures.Hectares(s.Map))))
		b.item("Slope at work", b.Say("%.0f %% in the mean, %.0f %% at the most, up to %.0f %% across", 100*s.Mean, 100*s.Most, 100*s.Across))
	}
	b.item("Missed strips listed", fmt.Sprint(r.Strips))

	b.head("Work")
	b.item("Passes", fmt.Sprint(r.Passes))
	b.item("Way of work", l.Say("%.2f km", r.Way/1000))
	hours := func(s float64) string {
		if r.OnField == 0 {
			return l.Word("not logged")
		}
		return words.Clock(s)
	}
	b.item("Working time", hours(r.Working))
	b.item("Turning", hours(r.Turning))
	b.item("Standing", hours(r.Standing))
	b.item("Time on the field", hours(r.OnField))
	if r.Speed > 0 {
		b.pace(r.Speed, r.Capacity, r.Efficiency)
	}
	if r.Fuel > 0 {
		fuel := l.Say("%.1f l, %.1f l per hectare", r.Fuel, r.PerHectare)
		if r.FuelCounted {
			fuel += " (" + l.Word("by the machine's counter") + ")"
		}
		b.item("Fuel", fuel)
	} else {
		b.item("Fuel", l.Word("not given"))
	}

	if r.Depth > 0 {
		b.item("Working depth (logged, mean)", l.Say("%.1f cm", 100*r.Depth))
	}

	b.end(r.Remarks, l.AfterWork())
	_, err := io.WriteString(w, b.String())
	return err
}

// page is a text that is read and signed.
type page struct {
	strings.Builder
	words.Language
}

// begin writes the title, and what is done where, with what and by whom.
func (b *page) begin(title string, d Details, field string, number int) {
	title = b.Word(title)
	b.WriteString(title + "\n" + strings.Repeat("=", utf8.RuneCountInString(title)) + "\n\n")
	b.line("Field", b.Say("%s (number in the boundary file %d)", b.given(field), number))
	b.line("Operation", b.given(d.Operation))
	b.line("Implement", b.given(d.Implement))
	b.line("Driver", b.given(d.Driver))
	b.line("For", b.given(d.Client))
}

// area writes m² of a field of so many.
func (b *page) area(name string, m2, field float64) {
	b.shares(name, round(m2), figures.Percent(m2, field))
}

func round(m2 float64) int64 { return int64(math.Round(m2)) }

// part writes a part of a field.
func (b *page) part(name string, p figures.Part) { b.shares(name, p.M2, p.Percent()) }

func (b *page) shares(name string, m2 int64, percent string) {
	b.item(name, b.Say("%s m²   %s %% of the field", figures.SquareMetres(m2), b.Digits(percent)))
}

// pace writes a speed in m/s, a capacity in m²/s and a field efficiency.
func (b *page) pace(speed, capacity, efficiency float64) {
	b.item("Mean working speed", b.Say("%.1f km/h", speed*geo.Kmh))
	b.item("Effective field capacity", b.Say("%.2f ha/h", words.HaPerHour(capacity)))
	b.item("Field efficiency", b.Say("%.0f %%", 100*efficiency))
}

func (b *page) head(s string) { b.WriteString("\n" + b.Word(s) + "\n") }

// line writes a name and its value in a column of their own.
func (b *page) line(name, value string) { b.columns(b.Word(name), value) }

// sentences stand below a line.
func (b *page) sentences(list []string) {
	for _, s := range list {
		b.WriteString(words.Wrap(answer.OnPaper(s), "  ") + "\n")
	}
}

// item is a line below a head.
func (b *page) item(name, value string) { b.columns("  "+b.Word(name), value) }

func (b *page) columns(name, value string) {
	pad := max(1, label-utf8.RuneCountInString(name))
	fmt.Fprintf(b, "%s%s%s\n", name, strings.Repeat(" ", pad), geo.Shown(value))
}

func (b *page) given(s string) string {
	if s == "" {
		return b.Word("not given")
	}
	return s
}

// end writes remarks, lines to write on, and cautions.
func (b *page) end(remarks, caution string) {
	b.head("Remarks")
	if remarks != "" {
		b.WriteString(words.Wrap(remarks, "  ") + "\n")
	}
	rule := "  " + strings.Repeat("_", 70)
	fmt.Fprintf(b, "\n%s\n\n%s\n\n%s\n%s\n\n%s\n%s\n", rule, rule, b.Word("Date, signature"), rule, b.Word("Cautions"), words.Wrap(caution, "  "))
}
