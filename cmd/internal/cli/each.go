package cli

import (
	"errors"
	"io"

	"balk/cmd/internal/job"
	"balk/export/sheet"
	"balk/export/words"
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

// printEach writes one answer per field and operation, and what they add up to.
func printEach(w io.Writer, r job.EachReport, much amount) error {
	b := new(telling)
	for _, o := range r.Operations {
		if o.Report != nil {
			b.Language = o.Report.Spec.Language
		}
	}
	for _, o := range r.Operations {
		if o.NoWork {
			continue
		}
		b.put("%s", fieldOf(b.Language, o.Field))
		if o.Days != "" {
			b.put(", %s", o.Days)
		}
		b.put("\n")
		switch {
		case o.Report == nil:
			b.text(b.Say("could not be judged: %s", b.Fault(o.Error)), "  ")
			b.put("\n")
			continue
		case much.details || much.all:
			if err := printReport(&b.b, *o.Report, much); err != nil {
				return err
			}
		default:
			b.answer(*o.Report, "  ")
		}
		if o.Folder != "" {
			b.put("  %s\n", o.Folder)
		}
		b.put("\n")
	}
	b.text(totals(b.Language, r.Total), "")
	return b.closing(w, r.Files, b.AfterWork())
}

// totals is the line of totals.
func totals(l words.Language, t job.Total) string {
	text := l.Say("Together: %s on %s, %s ha, of which %s ha worked, %s ha twice or more, %s ha missed",
		l.Count(t.Operations, "operation"), l.Count(t.Fields, "field"), l.Digits(sheet.Hectares(t.Area)), l.Digits(sheet.Hectares(t.Worked)), l.Digits(sheet.Hectares(t.Double)), l.Digits(sheet.Hectares(t.Missed)))
	if t.Unknown > 0 {
		text += l.Say(", %s ha unknown", l.Digits(sheet.Hectares(t.Unknown)))
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
