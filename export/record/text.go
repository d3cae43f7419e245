package record

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"balk/export/figures"
	"balk/geo"
)

// label is how wide the left column is, in letters.
const label = 34

// Text writes the record for people. Lines are at most 100 letters wide, but for
// long names.
func (r Record) Text(w io.Writer, l Language) error {
	t, ok := lexicon[l]
	if !ok {
		return fmt.Errorf("language %q: must be one of %v", l, Languages())
	}
	b := page{words: t, language: l}
	line := b.line
	b.begin(t.title, r.Details, r.Field, r.Number)
	if r.From.IsZero() {
		line(t.from, t.notLogged)
	} else {
		line(t.from, l.instant(r.From, r.Zone))
		line(t.to, l.instant(r.To, r.Zone))
	}
	line(t.width, l.number(r.Width, 2)+" m ("+t.sources[r.WidthFrom]+")")
	if r.WidthMost-r.WidthLeast > 0.03 { // beyond what widths are rounded to in logs
		line("", fmt.Sprintf(t.mixed, l.number(r.WidthLeast, 2), l.number(r.WidthMost, 2), l.number(math.Floor(100*r.WidthWhole), 0)))
	}
	line(t.overlap, l.number(r.Overlap, 2)+" m")

	b.head(t.areas)
	b.area(t.area, r.Area, r.Area)
	twice := r.shown.Twice.Plus(r.shown.More)
	b.part(t.credited, r.shown.Once.Plus(twice))
	b.part(t.double, twice)
	b.part(t.missed, r.shown.Missed)
	if r.MissedMost > 0 {
		line("", fmt.Sprintf(t.between, l.digits(figures.Hectares(r.MissedLeast))+" ha", l.digits(figures.Hectares(r.MissedMost))+" ha"))
		line("  "+t.error95, l.number(r.PassError, 3)+" m")
	}
	b.part(t.unknown, r.shown.Unknown)
	b.area(t.outside, r.Outside, r.Area)
	line("  "+t.strips, fmt.Sprint(r.Strips))

	b.head(t.work)
	line("  "+t.passes, fmt.Sprint(r.Passes))
	line("  "+t.way, l.number(r.Way/1000, 2)+" km")
	hours := func(name string, s float64) {
		if r.OnField == 0 {
			line("  "+name, t.notLogged)
			return
		}
		line("  "+name, clock(s))
	}
	hours(t.working, r.Working)
	hours(t.turning, r.Turning)
	hours(t.standing, r.Standing)
	hours(t.onField, r.OnField)
	if r.Speed > 0 {
		b.pace(r.Speed, r.Capacity, r.Efficiency)
	}
	if r.Fuel > 0 {
		by := ""
		if r.FuelCounted {
			by = " (" + t.counted + ")"
		}
		line("  "+t.fuel, fmt.Sprintf("%s l, %s l %s%s", l.number(r.Fuel, 1), l.number(r.PerHectare, 1), t.perHectare, by))
	} else {
		line("  "+t.fuel, t.notGiven)
	}

	if r.Depth > 0 {
		line("  "+t.depth, l.number(100*r.Depth, 1)+" cm")
	}

	b.end(r.Remarks, t.caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// page is a text that is read and signed.
type page struct {
	strings.Builder
	words    words
	language Language
}

// begin writes the title, and what is done where, with what and by whom.
func (b *page) begin(title string, d Details, field string, number int) {
	t := b.words
	b.WriteString(title + "\n" + strings.Repeat("=", utf8.RuneCountInString(title)) + "\n\n")
	b.line(t.field, fmt.Sprintf("%s (%s %d)", b.given(field), t.number, number))
	b.line(t.operation, b.given(d.Operation))
	b.line(t.implement, b.given(d.Implement))
	b.line(t.driver, b.given(d.Driver))
	b.line(t.client, b.given(d.Client))
}

// area writes m² of a field of so many.
func (b *page) area(name string, m2, field float64) {
	b.shares(name, figures.Hectares(m2), figures.Percent(m2, field))
}

// part writes a part of a field.
func (b *page) part(name string, p figures.Part) { b.shares(name, p.Ha(), p.Percent()) }

func (b *page) shares(name, ha, percent string) {
	l := b.language
	b.line("  "+name, fmt.Sprintf("%s ha   %s %% %s", l.digits(ha), l.digits(percent), b.words.ofField))
}

// pace writes a speed in m/s, a capacity in m²/s and a field efficiency.
func (b *page) pace(speed, capacity, efficiency float64) {
	l, t := b.language, b.words
	b.line("  "+t.speed, l.number(speed*3.6, 1)+" km/h")
	b.line("  "+t.capacity, l.number(capacity*0.36, 2)+" ha/h")
	b.line("  "+t.efficiency, l.number(100*efficiency, 0)+" %")
}

// clock is so many seconds in hours and minutes.
func clock(s float64) string {
	m := int(math.Round(s / 60))
	return fmt.Sprintf("%d:%02d h", m/60, m%60)
}

func (b *page) head(s string) { b.WriteString("\n" + s + "\n") }

// line writes a name and its value in a column of their own.
func (b *page) line(name, value string) {
	pad := max(1, label-utf8.RuneCountInString(name))
	fmt.Fprintf(b, "%s%s%s\n", name, strings.Repeat(" ", pad), geo.Shown(value))
}

func (b *page) given(s string) string {
	if s == "" {
		return b.words.notGiven
	}
	return s
}

// end writes remarks, lines to write on, and cautions.
func (b *page) end(remarks, caution string) {
	b.head(b.words.remarks)
	if remarks != "" {
		b.WriteString(wrapped(remarks, "  ") + "\n")
	}
	rule := "  " + strings.Repeat("_", 70)
	fmt.Fprintf(b, "\n%s\n\n%s\n\n%s\n%s\n\n%s\n%s\n", rule, rule, b.words.signature, rule, b.words.cautionHead, wrapped(caution, "  "))
}

// wrapped breaks s into lines of some 90 letters, each with an indent.
func wrapped(s, indent string) string {
	var b strings.Builder
	n := 0
	for _, word := range strings.Fields(geo.Shown(s)) {
		long := utf8.RuneCountInString(word)
		switch {
		case n == 0:
			b.WriteString(indent)
		case n+1+long > 90:
			b.WriteString("\n" + indent)
			n = 0
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += long
	}
	return b.String()
}
