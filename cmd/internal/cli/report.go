package cli

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"
)

// listed: without --all the largest strips are shown that hold so much of the ground of all. How many more there are is said.
const listed = 0.9

// mostOf counts the first of all, the largest first, that hold so much of their ground.
func mostOf(all []coverage.Strip, share float64) (n int) {
	left := 0.0
	for _, s := range all {
		left += share * s.Area
	}
	for n < len(all) && left > 0 {
		left -= all[n].Area
		n++
	}
	return n
}

// m2 is ground as a list has it: no finer than it is known.
func m2(l words.Language, area float64) string {
	if area < 10 {
		return l.Say("%.1f", area)
	}
	return l.Say("%.0f", area)
}

// amount is how much of a report is printed.
type amount struct{ details, all bool }

// printReport writes the report as a person reads it: the answer and the balance; or all there is.
func printReport(w io.Writer, r job.Report, much amount) error {
	b := &telling{Language: r.Spec.Language}
	b.whose(r)
	b.answer(r, "")
	t := r.Table.In(b.Language)
	if much.details || much.all {
		length := 0.0
		for _, p := range r.Passes {
			length += p.Length
		}
		b.put("\n%s read, %d of them in %s, %.2f km of work\n", b.Count(r.Fixes, "GPS point"), r.Used, b.Count(len(r.Passes), "pass"), length/1000)
		balance(b, t, t.Parts)
		b.sentences(r.Holds, "")
		if err := bars(b, r); err != nil {
			return err
		}
		outside(b, r, t)
		headland(b, r, t)
		ribbons(b, r)
		if r.Bars != nil {
			for k, one := range r.Bars.Each[1:] {
				if one.Ribbons != nil {
					b.put("\nbar %s\n", geo.Shown(one.Name))
					ribbonsOf(b, one.Ribbons, 0, r.Spec.Implement.Bars[k+1].Sweeps.Life)
				}
			}
		}
		if r.Trodden >= 1 {
			b.put("\ntyres ran over %.0f m² after they were cut: plants pressed back there root again\n", r.Trodden)
		}
		slopes(b, r)
		for _, part := range []func(*telling, job.Report) error{zones, driven, spacing, inCommon, turns} {
			if err := part(b, r); err != nil {
				return err
			}
		}
		weather(b, r)
		if err := strips(b, r, much.all); err != nil {
			return err
		}
	} else {
		t.Ribbons, t.OtherBar = sheet.Row{}, sheet.Row{} // they are part of what was worked: a screen has no room for them
		balance(b, t, t.Short())
		b.sentences(r.Holds, "")
		if err := bars(b, r); err != nil {
			return err
		}
		weather(b, r)
		if r.Spec.Work.Steep > 0 { // it was asked for
			b.text(answer.Slopes(b.Language, r.Slope, r.Strips, r.Spec.Work.Steep), "")
		}
		b.hint = b.Word("More: --details; all strips: --all.")
	}
	caution := ""
	if len(r.Strips) > 0 {
		caution = b.AfterWork()
	}
	return b.closing(w, r.Files, caution)
}

// bars says how the bars of a set fared beside each other.
func bars(b *telling, r job.Report) error {
	if r.Bars == nil {
		return nil
	}
	b.put("\nthe bars of the set, each by its own place and state; all else here is of the first\n")
	t := b.heads("bar", "width m", "missed m²", "alone m²", "begins m", "ends m", "passes", "only it")
	for k, one := range r.Bars.Each {
		begins, ends := "", "" // of itself
		if k > 0 {
			begins, ends = b.Say("%+.2f", one.Begins), b.Say("%+.2f", one.Ends)
		}
		t.row("%s\t%.2f\t%.0f\t%.0f\t%s\t%s\t%d\t%d\t\n", geo.Shown(one.Name), one.Width, one.Balance.Missed, one.Alone, begins, ends, one.Rows+one.OnlyHere, one.OnlyHere)
	}
	if err := t.end(); err != nil {
		return err
	}
	b.text(b.Say("alone: missed by it and worked by another bar; begins, ends: so much farther on than the first bar, in the middle of its passes. %s ha were worked by all, %.0f m² by some only.", ha(b, r.Bars.All), r.Bars.Some), "")
	return nil
}

// ribbons says what the sweeps left between them, and which.
func ribbons(b *telling, r job.Report) {
	if r.Ribbons != nil {
		b.put("\n")
		ribbonsOf(b, r.Ribbons, r.Headland.Depth, r.Spec.Work.Sweeps.Life)
	}
}

// ribbonsOf says it of one bar; depth is that of the headland, 0 where it is not told, life that of a sweep in km, 0 where it is not known.
func ribbonsOf(b *telling, v *coverage.Ribbons, depth, life float64) {
	b.put("between the sweeps %.0f m² of ground worked once stay uncut", v.Area)
	if depth > 0 {
		b.put(", %.0f m² of it in the headland", v.Headland)
	}
	b.put("\n")
	b.put("  %.0f m² as left, later passes not counted; of it %.0f m² in combs where the tool was lowered or lifted as it drove\n", v.Left, v.Combs)
	if v.Combs > 0 {
		b.put("  combs stay outside where it is lowered %.2f m before the line and lifted %.2f m past it, seen from the middle of the bar\n", v.Before, v.Past)
	}
	for _, p := range v.Pairs[:min(3, len(v.Pairs))] {
		b.put("  sweeps %d/%d from the left: %.1f m² on %.0f m\n", p.LeftOf, p.RightOf, p.Area, p.Length)
	}
	b.put("  widest %.1f cm; %.0f m² are wider than what headings waver by (%.2f°); blunt sweeps and uneven ground are not seen\n", 100*v.Widest, v.Sure, v.Waver)
	if least, most := slices.Min(v.Cutting), slices.Max(v.Cutting); most > 0 {
		b.put("  a sweep went from %.2f to %.2f km in the ground", least/1000, most/1000)
		if life > 0 {
			b.put(", up to %.1f %% of its life (sweep %d)", most/1000/life*100, 1+slices.Index(v.Cutting, most))
		}
		b.put("\n")
	}
	switch {
	case !v.Told:
		b.put("  where the set faced is not known: bends alone are judged, no slope\n")
	case v.Supposed:
		b.put("  where the set faced on the slope is supposed by the crab angle given, not measured\n")
	}
}

// slopes says how the ground lies, by the log's heights.
func slopes(b *telling, r job.Report) {
	s := r.Slope
	if s == nil {
		return
	}
	b.put("\nhow the ground lies, by the heights of the log\n")
	b.text(answer.Slopes(b.Language, s, r.Strips, r.Spec.Work.Steep), "  ")
	b.put("  slopes are known to %.1f %% (95 %%) on half of the way at work, and at all on %.0f %% of it; heights of one pass lie %.2f m off the ground of all others\n", 100*s.Error, 100*s.Known, s.LeftOut)
	b.put("  %s ha of field on the map are %s ha along the slope\n", ha(b, s.Map), ha(b, s.Ground))
	if c := s.Crab; c != nil {
		b.put("  the set turns uphill by %.2f ± %.2f° for each percent of slope across its way (%s, slopes from %.0f to %.0f %%)\n", c.PerPercent, c.Doubt, b.Count(c.Passes, "pass"), c.Least, c.Most)
	}
}

// whose says of which field a report is, and on which working width all of it stands.
func (t *telling) whose(r job.Report) {
	t.put("%s\n", fieldOf(t.Language, r.Field))
	t.text(t.Say("width %s, overlap %.2f m: effective width %.2f m (credited)", sheet.Width(t.Language, r.Bar), r.Spec.Work.Overlap, r.Credited), "")
}

// answer says what has to be settled first, and the three sentences.
func (t *telling) answer(r job.Report, indent string) {
	t.sentences(r.Settle, indent)
	t.sentences(r.Answer, indent)
}

// sentences says some as a paragraph, if there are any.
func (t *telling) sentences(said []string, indent string) {
	if len(said) > 0 {
		t.text(strings.Join(said, " "), indent)
	}
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
func balance(b *telling, t sheet.Table, parts []sheet.Row) {
	b.put("\n"+balanceRow, t.Title.Words, t.Title.Ha, t.Title.Share)
	for i, p := range append(parts, t.Field) {
		b.put(balanceRow, p.Words, p.Ha, p.Share)
		if i > 0 {
			continue
		}
		for _, of := range t.Under() {
			b.put(balanceRow, of.Words, of.Ha, of.Share)
		}
	}
}

// outside is what stands beside the balance.
func outside(b *telling, r job.Report, t sheet.Table) {
	b.put("  (unrounded, the balance is off by %s of the field)\n\n", residual(b.Language, r.Balance.Residual/r.Balance.Field))
	for _, p := range []sheet.Row{t.Outside, t.FullMissed, t.Thin} {
		b.put(balanceRow, p.Words, p.Ha, p.Share)
	}
	if d := r.Doubt; d != nil {
		b.put("\nwork is told from driving; %.2f km of way are doubtful. Were all of it work, or all driven lifted:\n", d.Metres/1000)
		b.put("  %s to %s ha missed, %s to %s ha worked twice or more\n", ha(b, d.Missed[0]), ha(b, d.Missed[1]), ha(b, d.Double[0]), ha(b, d.Double[1]))
	}
}

// ha is an area in m² as hectares, with the language's decimal mark.
func ha(b *telling, m2 float64) string { return b.Digits(sheet.Hectares(m2)) }

// residual says how far the balance misses; below 1e-12 the digits are those of
// the last rounding and tell nothing.
func residual(l words.Language, share float64) string {
	if share = math.Abs(share); share < 1e-12 {
		return l.Word("less than 1e-12")
	}
	return l.Say("%.1e", share)
}

func headland(b *telling, r job.Report, t sheet.Table) {
	if r.Headland.Depth == 0 {
		return
	}
	const row = "  %-38s %8.0f m² %8s %s\n"
	of := t.Title.Share
	b.put("\nheadland %.2f m wide, %s ha\n", r.Headland.Depth, t.HeadlandArea.Ha)
	b.put(row, t.Missed.Words, r.Headland.Missed, t.Missed.Share, of)
	b.put(row, "  "+t.Lifted.Words, r.Headland.Lifted, t.Lifted.Share, of)
	b.put(row, t.Twice.Words, r.Headland.Twice, t.Twice.Share, of)
}

func strips(b *telling, r job.Report, all bool) error {
	if len(r.Strips) == 0 {
		b.put("\nno missed strips\n")
	} else {
		n := len(r.Strips)
		if !all {
			n = mostOf(r.Strips, listed)
		}
		b.put("\n%s, largest first\n", b.Count(len(r.Strips), "missed strip"))
		sure := r.Noise.PassErrorFrom != "" && r.Telling.Strips != coverage.GraspNone
		heads := []string{"no.", "m²", "length m", "mean m", "greatest m", "bearing", "longitude", "latitude", "passes"}
		if sure {
			heads = append(heads, "certain m²", "likely m²", "how sure")
		}
		t := b.heads(append(heads, "  likely cause")...)
		for _, s := range r.Strips[:n] {
			t.row("%d\t%s\t%.0f\t%.2f\t%.2f\t%.0f°\t%s\t%s\t%s\t", s.Number, m2(b.Language, s.Area), s.Length, s.MeanWidth, s.MaxWidth,
				float64(s.Bearing), degrees(s.At[0]), degrees(s.At[1]), numbers(b.Language, s.Passes))
			if sure {
				t.row("%s\t%s\t%s\t", m2(b.Language, s.Certain), m2(b.Language, s.Likely), surety(b.Language, s.Surety))
			}
			t.row("  %s\t\n", why(b.Language, s))
		}
		if err := t.end(); err != nil {
			return err
		}
		if n < len(r.Strips) {
			rest := 0.0
			for _, s := range r.Strips[n:] {
				rest += s.Area
			}
			b.put("and %d more with the last tenth, %s m² together (--all lists them)\n", len(r.Strips)-n, m2(b.Language, rest))
		}
	}
	if r.Slivers > 0 {
		b.put("and %s too narrow to list, %.2f m² together\n", b.Count(r.Slivers, "piece"), r.SliverArea)
	}
	noise(b, r)
	return nil
}

// degrees are those of a place, with a point in every language: people copy them into a map.
func degrees(d float64) string { return fmt.Sprintf("%.6f", d) }

// why is the likely cause of a strip, and what was planned there.
func why(l words.Language, s coverage.Strip) string {
	cause := l.Word(string(s.Cause))
	if s.Headland {
		cause += ", " + l.Word("headland")
	}
	if len(s.Planned) > 0 {
		cause += l.Say("; planned: %s", geo.Shown(strings.Join(s.Planned, ", ")))
	}
	return cause
}

// noise says what the receiver leaves open.
func noise(b *telling, r job.Report) {
	n := r.Noise
	for _, s := range answer.Beside(b.Language, r.Open, r.Telling, r.Balance.Missed) {
		b.text(s, "")
	}
	if n.Pieces > 0 {
		b.put("and %s only possible, not listed, %.1f m² together\n", b.Count(n.Pieces, "strip"), n.Area)
	}
	if n.PassErrorFrom == "" {
		b.put("how sure a strip is, is not known: %s (--pass-error)\n", b.Told(n.Why))
		return
	}
	b.put("pass-to-pass error up to %.3f m (%s, 95 %%): the field's missed ground is %s at the best estimate, between %s and %s\n",
		n.PassError, b.Told(string(n.PassErrorFrom)), answer.Area(b.Language, n.MissedBest), answer.Area(b.Language, r.Telling.Missed[0]), answer.Area(b.Language, r.Telling.Missed[1]))
	if n.Why != "" {
		b.put("  %s\n", b.Told(n.Why))
	}
}

func surety(l words.Language, s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return l.Word("not known")
	}
	return l.Word(string(s))
}

// named is how many passes a line of the table names; the report as JSON has all.
const named = 6

func numbers(l words.Language, list []int) string {
	if len(list) == 0 {
		return "-"
	}
	more := ""
	if len(list) > named {
		more = l.Say(" and %d more", len(list)-named)
		list = list[:named]
	}
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(list), "[]"), " ", "+") + more
}
