package cli

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"
)

// listed is how many strips are shown without --all; how many more there are is
// said.
const listed = 20

// amount is how much of a report is printed.
type amount struct{ details, all bool }

// printReport writes the report as a person reads it: the answer and the balance, in the language of the call; or all there is.
func printReport(w io.Writer, r job.Report, much amount) error {
	var b strings.Builder
	l := r.Spec.Language
	fmt.Fprintf(&b, "%s\n%s\n", fieldOf(l, r.Field), widthLine(l, r))
	b.WriteString(words.Wrap(strings.Join(r.Answer, " "), "") + "\n")
	if much.details || much.all {
		l = words.English
		length := 0.0
		for _, p := range r.Passes {
			length += p.Length
		}
		fmt.Fprintf(&b, "\n%s read, %d of them in %s, %.2f km of work\n", count(r.Fixes, "fix", "fixes"), r.Used, count(len(r.Passes), "pass", "passes"), length/1000)
		balance(&b, r.Table, r.Table.Parts)
		outside(&b, r)
		headland(&b, r)
		for _, part := range []func(*strings.Builder, job.Report) error{zones, driven, spacing, inCommon, turns} {
			if err := part(&b, r); err != nil {
				return err
			}
		}
		weather(&b, r, l)
		if err := strips(&b, r, much.all); err != nil {
			return err
		}
	} else {
		t := r.Table.In(l)
		balance(&b, t, t.Short())
		weather(&b, r, l)
		b.WriteString(l.Word("More: --details; all strips: --all.") + "\n")
	}
	caution := ""
	if len(r.Strips) > 0 {
		caution = l.AfterWork()
	}
	return closing(w, &b, r.Files, caution)
}

// widthLine is the working width all of the report stands on, and where it comes from.
func widthLine(l words.Language, r job.Report) string {
	return l.Say("working width %s, overlap %.2f m, credited width %.2f m", sheet.Width(l, r.Bar), r.Spec.Work.Overlap, r.Credited)
}

// closing ends what was said with the files written and a caution, and prints it.
func closing(w io.Writer, b *strings.Builder, files []string, caution string) error {
	if len(files) > 0 {
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		b.WriteString("written:\n")
		for _, f := range files {
			b.WriteString("  " + f + "\n")
		}
	}
	if caution != "" {
		b.WriteString("\n" + words.Wrap(caution, "") + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// fieldOf is a field as a person looks for it in its file.
func fieldOf(l words.Language, f job.FieldName) string {
	name := f.Shown()
	if f.Name == "" {
		name = l.Word("(no name)")
	}
	return l.Say("%s, field %d of %s", name, f.Number, geo.Shown(f.File))
}

// balanceRow is a row of the balance.
const balanceRow = "  %-34s %15s %13s\n"

// balance is what became of the field, in so many parts.
func balance(b *strings.Builder, t sheet.Table, parts []sheet.Row) {
	fmt.Fprintf(b, "\n"+balanceRow, t.Title.Words, t.Title.Ha, t.Title.Share)
	for _, p := range append(parts, t.Field) {
		fmt.Fprintf(b, balanceRow, p.Words, p.Ha, p.Share)
	}
}

// outside is what stands beside the balance.
func outside(b *strings.Builder, r job.Report) {
	fmt.Fprintf(b, "  (unrounded, the balance is off by %s of the field)\n\n", residual(r.Balance.Residual/r.Balance.Field))
	for _, p := range []sheet.Row{r.Table.Outside, r.Table.FullMissed, r.Table.Thin} {
		fmt.Fprintf(b, balanceRow, p.Words, p.Ha, p.Share)
	}
	if d := r.Doubt; d != nil {
		fmt.Fprintf(b, "\nwork is told from driving; %.2f km of way are doubtful. Were all of it work, or all driven lifted:\n", d.Metres/1000)
		fmt.Fprintf(b, "  %s to %s ha missed, %s to %s ha worked twice or more\n", sheet.Hectares(d.Missed[0]), sheet.Hectares(d.Missed[1]), sheet.Hectares(d.Double[0]), sheet.Hectares(d.Double[1]))
	}
}

// residual says how far the balance misses; below 1e-12 the digits are those of
// the last rounding and tell nothing.
func residual(share float64) string {
	if share = math.Abs(share); share < 1e-12 {
		return "less than 1e-12"
	}
	return fmt.Sprintf("%.1e", share)
}

func headland(b *strings.Builder, r job.Report) {
	if r.Headland.Depth == 0 {
		return
	}
	const row = "  %-38s %8.0f m² %8s %% of field\n"
	fmt.Fprintf(b, "\nheadland %.2f m deep, %s ha\n", r.Headland.Depth, r.Table.HeadlandArea.Ha)
	t := r.Table
	fmt.Fprintf(b, row, t.Missed.Words, r.Headland.Missed, t.Missed.Share)
	fmt.Fprintf(b, row, "  "+t.Lifted.Words, r.Headland.Lifted, t.Lifted.Share)
	fmt.Fprintf(b, row, t.Twice.Words, r.Headland.Twice, t.Twice.Share)
}

func strips(b *strings.Builder, r job.Report, all bool) error {
	if len(r.Strips) == 0 {
		b.WriteString("\nno missed strips\n")
	} else {
		n := len(r.Strips)
		if !all {
			n = min(n, listed)
		}
		fmt.Fprintf(b, "\n%s, largest first\n", count(len(r.Strips), "missed strip", "missed strips"))
		t := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
		sure := r.Noise.PassErrorFrom != "" && r.Telling.Strips != coverage.GraspNone
		fmt.Fprint(t, "no.\tm²\tlength m\tmean m\tgreatest m\tbearing\tlongitude\tlatitude\tpasses\t")
		if sure {
			fmt.Fprint(t, "certain m²\tlikely m²\tsurety\t")
		}
		fmt.Fprintln(t, "  likely cause")
		for _, s := range r.Strips[:n] {
			fmt.Fprintf(t, "%d\t%.1f\t%.1f\t%.2f\t%.2f\t%.0f°\t%.6f\t%.6f\t%s\t", s.Number, s.Area, s.Length, s.MeanWidth, s.MaxWidth,
				float64(s.Bearing), s.At[0], s.At[1], numbers(s.Passes))
			if sure {
				fmt.Fprintf(t, "%.1f\t%.1f\t%s\t", s.Certain, s.Likely, surety(s.Surety))
			}
			fmt.Fprintf(t, "  %s\n", why(s))
		}
		if err := t.Flush(); err != nil {
			return err
		}
		if n < len(r.Strips) {
			rest := 0.0
			for _, s := range r.Strips[n:] {
				rest += s.Area
			}
			fmt.Fprintf(b, "and %d more, %.1f m² together (--all lists them)\n", len(r.Strips)-n, rest)
		}
	}
	if r.Slivers > 0 {
		fmt.Fprintf(b, "and %s too narrow to list, %.2f m² together\n", count(r.Slivers, "piece", "pieces"), r.SliverArea)
	}
	noise(b, r)
	return nil
}

// why is the likely cause of a strip, and what was planned there.
func why(s coverage.Strip) string {
	words := place(string(s.Cause), s.Headland)
	if len(s.Planned) > 0 {
		words += "; planned: " + geo.Shown(strings.Join(s.Planned, ", "))
	}
	return words
}

// noise says what the receiver leaves open.
func noise(b *strings.Builder, r job.Report) {
	n := r.Noise
	for _, s := range answer.Beside(words.English, r.Open, r.Balance.Missed) {
		fmt.Fprintln(b, s)
	}
	if n.Pieces > 0 {
		fmt.Fprintf(b, "and %s only possible, not listed, %.1f m² together\n", count(n.Pieces, "strip", "strips"), n.Area)
	}
	if n.PassErrorFrom == "" {
		fmt.Fprintf(b, "how sure a strip is, is not known: %s (--pass-error)\n", n.Why)
		return
	}
	fmt.Fprintf(b, "pass-to-pass error up to %.3f m (%s, 95 %%): the field's missed ground is %s ha at the best estimate, between %s and %s ha\n", n.PassError, n.PassErrorFrom, sheet.Hectares(n.MissedBest), sheet.Hectares(n.MissedLeast), sheet.Hectares(n.MissedMost))
	if n.Why != "" {
		fmt.Fprintf(b, "  %s\n", n.Why)
	}
}

func surety(s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return "not known"
	}
	return string(s)
}

func place(cause string, headland bool) string {
	if headland {
		return cause + ", headland"
	}
	return cause
}

// named is how many passes a line of the table names; the report as JSON has all.
const named = 6

func numbers(list []int) string {
	if len(list) == 0 {
		return "-"
	}
	more := ""
	if len(list) > named {
		more = fmt.Sprintf(" and %d more", len(list)-named)
		list = list[:named]
	}
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(list), "[]"), " ", "+") + more
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
