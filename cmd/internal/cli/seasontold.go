package cli

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"balk/cmd/internal/job"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"
)

func printAdded(w io.Writer, r job.SeasonAdded, l words.Language) error {
	b := &telling{Language: l}
	for _, o := range r.Operations {
		name := cmp.Or(geo.Shown(o.Field), l.Word("(no name)"))
		if o.Days != "" {
			name += ", " + o.Days
		}
		switch {
		case o.Error != "":
			b.text(l.Say("%s: not added: %s", name, o.Error), "")
		case o.There:
			b.text(l.Say("%s: there already as operation %d", name, o.Number), "")
		default:
			b.text(l.Say("%s: added as operation %d", name, o.Number), "")
			b.text(strings.Join(o.Answer, " "), "  ")
		}
	}
	return b.closing(w, nil, "")
}

// latest is how many operations a list shows without --all, and grouped how many sets and drivers.
const latest, grouped = 8, 3

func printSeasons(w io.Writer, r job.SeasonList, l words.Language, all bool) error {
	b := &telling{Language: l}
	b.put("%s: %s, %s\n", r.Farm, l.Count(len(r.Fields), "field"), l.Count(len(r.Operations), "operation"))
	ops := r.Operations
	if n := len(ops) - latest; !all && n > 0 {
		ops = ops[n:]
	}
	if len(ops) > 0 {
		t := b.heads("no.", "day", "field", "does", "ha", "missed m²", "%", "h:min")
		for _, o := range ops {
			t.row("%d\t%s\t%s\t%s\t%s\t%.0f\t%s\t%s\t\n", o.Number, dayOf(l, o.Begin), short(o.Field, shortName), doesWords(l, o.Does), l.Digits(sheet.Hectares(o.Area)), o.Missed,
				l.Digits(fmt.Sprintf("%.1f", 100*o.Missed/o.Area)), hoursOf(o.Seconds))
		}
		if err := t.end(); err != nil {
			return err
		}
	}
	if n := len(r.Operations) - len(ops); n > 0 {
		b.put("and %d earlier ones (--all lists all)\n", n)
	}
	if err := totalsTable(b, r.Totals, all); err != nil {
		return err
	}
	return b.closing(w, nil, "")
}

// totalsTable adds up operations.
func totalsTable(b *telling, t job.SeasonTotals, all bool) error {
	l := b.Language
	if t.All.Operations == 0 {
		return nil
	}
	b.put("\n")
	heads := []string{"together", "operations", "ha", "missed ha", "twice ha", "h:min", "l"}
	if t.HasCosts {
		heads = append(heads, "cost")
	}
	out := b.heads(heads...)
	line := func(name string, one job.SeasonTotal) {
		litres := "-" // not counted
		if one.Litres > 0 {
			litres = fmt.Sprintf("%.0f", one.Litres)
		}
		out.row("%s\t%d\t%s\t%s\t%s\t%s\t%s\t", short(name, shortName), one.Operations, l.Digits(sheet.Hectares(one.Area)), l.Digits(sheet.Hectares(one.Missed)), l.Digits(sheet.Hectares(one.Double)), hoursOf(one.Seconds), litres)
		if t.HasCosts {
			out.row("%.2f\t", one.Cost)
		}
		out.row("\n")
	}
	line(l.Word("all"), t.All)
	more := 0
	for _, group := range []struct {
		all  []job.SeasonTotal
		none string
	}{{t.Seasons, "without a date"}, {t.Sets, ""}, {t.Drivers, "driver not said"}} {
		if len(group.all) == 1 && group.all[0].Name == "" {
			continue
		}
		for i, one := range group.all {
			if i >= grouped && !all {
				more += len(group.all) - i
				break
			}
			line(cmp.Or(one.Name, l.Word(group.none)), one)
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if more > 0 {
		b.put("and %d more sets, drivers and seasons (--all)\n", more)
	}
	return nil
}

func dayOf(l words.Language, t time.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.Format(l.Day())
}

func hoursOf(seconds float64) string {
	if seconds == 0 {
		return "-"
	}
	return words.Hours(seconds)
}

// shortName is how much of a name stands in a table, letters.
const shortName = 21

// short is a name that does not break a table.
func short(s string, most int) string {
	if r := []rune(geo.Shown(s)); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return geo.Shown(s)
}

func doesWords(l words.Language, does []string) string {
	var all []string
	for _, d := range does {
		all = append(all, l.Word(d))
	}
	return strings.Join(all, "+")
}

// printField writes one field over its operations, what all of them missed first.
func printField(w io.Writer, r job.SeasonReport, all bool) error {
	l := r.Spec.Language
	b := &telling{Language: l}
	b.put("%s", r.Field.Name)
	if r.Field.Official != "" {
		b.put(", %s", r.Field.Official)
	}
	b.put(": %s\n", l.Count(len(r.Operations), "operation"))
	across := r.Across != nil && len(r.Across.Numbers) > 0
	if across { // the answer
		b.text(strings.Join(r.Across.Words(l), " "), "")
		b.put("\n")
	}
	ops := r.Operations
	if n := len(ops) - latest; n > 0 && !all {
		b.put("the %d latest of them (--all lists all)\n", latest)
		ops = ops[n:]
	}
	if len(ops) > 0 {
		t := b.heads("no.", "day", "does", "set", "depth cm", "missed m²", "%", "h:min")
		for _, o := range ops {
			depth := "-"
			if o.DepthSet > 0 {
				depth = l.Digits(fmt.Sprintf("%g", o.DepthSet))
			}
			t.row("%d\t%s\t%s\t%s\t%s\t%.0f\t%s\t%s\t\n", o.Number, dayOf(l, o.Begin), doesWords(l, o.Does), short(o.Set, shortName), depth, o.Missed,
				l.Digits(fmt.Sprintf("%.1f", 100*o.Missed/o.Area)), hoursOf(o.Seconds))
		}
		if err := t.end(); err != nil {
			return err
		}
	}
	for _, o := range ops {
		if wx := o.Weather; wx != nil {
			b.text(fmt.Sprintf("%d: %s", o.Number, wx.Words(l)), "")
		}
	}
	if r.Due != nil && (r.Due.Emerged != nil || r.Spec.Due != (job.DueWanted{})) {
		b.text(strings.Join(r.Due.Words(l), " "), "")
	}
	if across {
		if err := togetherTable(b, *r.Across, all); err != nil {
			return err
		}
		if s := r.BackWords(); s != "" {
			b.text(s, "")
		}
	}
	if words := r.SpotWords(); len(words) > 0 {
		b.put("\n")
		for _, sentence := range words {
			b.text(sentence, "")
		}
	}
	if words := r.WearWords(); len(words) > 0 {
		b.put("\n")
		for _, sentence := range words {
			b.text(sentence, "")
		}
	}
	if err := totalsTable(b, job.SeasonTotals{All: r.Totals.All, HasCosts: r.Totals.HasCosts}, false); err != nil {
		return err
	}
	caution := ""
	if r.Across != nil && len(r.Across.All.Strips) > 0 {
		caution = l.AfterWork()
	}
	return b.closing(w, r.Files, caution)
}

// togetherTable lists strips that all operations missed that cut, or all where none does.
func togetherTable(b *telling, a job.Across, all bool) error {
	of := a.Main()
	strips := of.Strips
	if len(strips) == 0 {
		return nil
	}
	if !all {
		strips = strips[:min(len(strips), latest)]
	}
	b.put("\n")
	if len(of.Operations) < len(a.All.Operations) {
		b.text(b.Say("Missed by all that do this: %s", b.Word(string(of.Component))), "")
	}
	t := b.heads("no.", "m²", "length m", "greatest m", "place (lat, lon)", "how sure")
	for _, s := range strips {
		t.row("%d\t%s\t%s\t%s\t%s\t%s\t\n", s.Number, b.Say("%.1f", s.Area), b.Say("%.1f", s.Length), b.Say("%.2f", s.MaxWidth), words.Place(s.At), cmp.Or(b.Word(string(s.Surety)), "-"))
	}
	if err := t.end(); err != nil {
		return err
	}
	if n := len(of.Strips) - len(strips); n > 0 {
		b.put("and %d smaller ones (--all lists all)\n", n)
	}
	return nil
}
