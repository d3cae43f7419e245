package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/export/answer"
	"balk/export/words"
	"balk/geo"
)

// eachAnswer ends the check of several fields and operations; of a single one it is that of check.
func (v *voice) eachAnswer(r job.EachReport, err error, asJSON bool, much amount) error {
	var findings = r.Findings
	for _, o := range r.Operations {
		if o.Report != nil {
			findings = append(findings, o.Report.Findings...)
		}
	}
	if len(r.Operations) == 1 && r.Operations[0].Report != nil {
		one := *r.Operations[0].Report
		one.Findings = findings
		return v.answer(findings, err, asJSON, one.JSON, func(w io.Writer) error { return printReport(w, one, much) })
	}
	if err == nil && r.Total.Failed > 0 {
		err := v.answer(findings, nil, asJSON, r.JSON, func(w io.Writer) error { return printEach(w, r, much) })
		if err == nil {
			err = &stop{partLost, errors.New(v.Say("done, but %s could not be judged: see above", v.Count(r.Total.Failed, "operation")))}
		}
		return err
	}
	return v.answer(findings, err, asJSON, r.JSON, func(w io.Writer) error { return printEach(w, r, much) })
}

// printEach writes what all operations add up to, and a line for each; or all that is known of each.
func printEach(w io.Writer, r job.EachReport, much amount) error {
	b := new(telling)
	for _, o := range r.Operations {
		if o.Report != nil {
			b.Language = o.Report.Spec.Language
		}
	}
	if much.details || much.all {
		return b.eachInFull(w, r, much)
	}
	b.together(r)
	if err := b.eachInShort(r); err != nil {
		return err
	}
	failed := slices.DeleteFunc(slices.Clone(r.Operations), func(o job.Judged) bool { return o.Report != nil || o.NoWork })
	for _, o := range failed[:min(len(failed), mostNamed)] {
		why, _, _ := strings.Cut(o.Error, "\n")
		b.text(fieldOf(b.Language, o.Field)+": "+b.Say("could not be judged: %s", b.Fault(why)), "")
	}
	if n := len(failed) - mostNamed; n > 0 {
		b.text(b.Say("and %d more", n)+".", "")
	}
	b.hint = b.Word("On what each stands, and what to do there: --details.")
	if i := slices.IndexFunc(r.Operations, func(o job.Judged) bool { return o.Folder != "" }); i >= 0 {
		b.hint = b.Say("On what each stands, and what to do there: --details; a folder for each stands in %s.", filepath.Dir(r.Operations[i].Folder))
	}
	return b.closing(w, r.Files, b.AfterWork())
}

// mostRows is how many operations a first screen lists.
const mostRows = 8

// eachInShort lists the operations that were judged, those with most missed ground first.
func (t *telling) eachInShort(r job.EachReport) error {
	type row struct {
		on    string // field and day
		short answer.Short
		of    *job.Report
	}
	var rows []row
	for _, o := range r.Operations {
		if o.Report != nil {
			rows = append(rows, row{t.fieldAndDay(o), o.Report.Short(), o.Report})
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(b.of.Balance.Missed, a.of.Balance.Missed) })
	unfit := slices.DeleteFunc(slices.Clone(rows), func(one row) bool { return one.short.Misfit == "" })
	if len(unfit) > 0 {
		said := strings.TrimRight(unfit[0].on, " ") + ": " + unfit[0].short.Misfit
		if n := len(unfit) - 1; n > 0 {
			said += t.Say(" So it is with %d more.", n)
		}
		t.text(said, "")
	}
	t.put("\n")
	list := t.heads("field", "ha", "missed", "%", "unknown")
	for _, one := range rows[:min(len(rows), mostRows)] {
		list.row("%s\t%s\t%s\t%s\t%s\t\n", one.on, t.Say("%.2f", one.of.Balance.Field/1e4), one.short.Missed, one.short.Share, one.short.Unknown)
	}
	if err := list.end(); err != nil {
		return err
	}
	if n := len(rows) - mostRows; n > 0 {
		t.put("and %d with less missed ground\n", n)
	}
	return nil
}

// nameWide is how much room a list has for the name of a field, in letters.
const nameWide = 24

// fieldAndDay are those of an operation, in one width.
func (t *telling) fieldAndDay(o job.Judged) string {
	name := []rune(geo.Shown(o.Field.Name))
	if len(name) == 0 {
		name = []rune(t.Say("field %d", o.Field.Number))
	}
	if len(name) > nameWide {
		name = append(name[:nameWide-1], '…')
	}
	day, _, several := strings.Cut(o.Days, "..")
	if several {
		day += "…"
	}
	return fmt.Sprintf("%-*s  %-11s", nameWide, string(name), day)
}

// eachInFull writes all that is known of each operation.
func (t *telling) eachInFull(w io.Writer, r job.EachReport, much amount) error {
	for _, o := range r.Operations {
		if o.NoWork {
			continue
		}
		t.put("%s", fieldOf(t.Language, o.Field))
		if o.Days != "" {
			t.put(", %s", o.Days)
		}
		t.put("\n")
		if o.Report == nil {
			t.text(t.Say("could not be judged: %s", t.Fault(o.Error)), "  ")
		} else if err := printReport(&t.b, *o.Report, much); err != nil {
			return err
		}
		if o.Folder != "" {
			t.put("  %s\n", o.Folder)
		}
		t.put("\n")
	}
	t.together(r)
	return t.closing(w, r.Files, t.AfterWork())
}

// missedTold is what operations missed, in the line of totals: of those whose logs tell it.
func missedTold(l words.Language, r job.EachReport) string {
	switch missed := answer.Range(l, r.Told.Missed); r.Told.Operations {
	case 0:
		return ""
	case r.Total.Operations:
		return l.Say(", %s missed", missed)
	default:
		return l.Say(", %s missed by %d of them", missed, r.Told.Operations)
	}
}

// together is the line of totals, and how many operations are not in its sum of what was missed.
func (t *telling) together(r job.EachReport) {
	t.text(totals(t.Language, r.Total, missedTold(t.Language, r)), "")
	if n := r.Total.Operations - r.Told.Operations; n > 0 {
		t.text(t.Say("Not in the sum of what was missed: %s (cannot tell, or settle first).", t.Count(n, "operation")), "")
	}
}

// totals is the line of totals, with what was missed in words.
func totals(l words.Language, t job.Total, missed string) string {
	text := l.Say("Together: %s on %s, %s, of which %s worked, %s twice or more",
		l.Count(t.Operations, "operation"), l.Count(t.Fields, "field"), answer.Area(l, t.Area), answer.Area(l, t.Worked), answer.Area(l, t.Double)) + missed
	if t.Unknown > 0 {
		text += l.Say(", %s unknown", answer.Area(l, t.Unknown))
	}
	if t.Seconds > 0 {
		text += ", " + words.Clock(t.Seconds)
	}
	if t.Litres > 0 {
		text += l.Say(", %.0f l", t.Litres)
	}
	if t.Failed > 0 {
		text += l.Say("; %d more could not be judged", t.Failed)
	}
	return text + "."
}
