package rival

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// What plans of balk are to reach.
const (
	mostWorse  = 1.01 // of the other's value, on any field and set
	well       = 0.95 // of the other's value, on so many of them:
	wellShare  = 0.25
	mostDeeper = 2    // rounds more than the set needs
	leastRows  = 0.5  // of the ground inside the rounds needed
	mostGap    = 0.12 // above the bound, median
	usualCPU   = 0.3  // s, 95 of 100
	mostCPU    = 3.0  // s
)

// Faults are what rows of balk do not reach.
func (r Row) Faults() (out []string) {
	if r.Ratio() > mostWorse {
		out = append(out, "worse")
	}
	if r.Balk.Rounds > r.Needed+mostDeeper {
		out = append(out, "rounds")
	}
	if r.Share() < leastRows {
		out = append(out, "few rows")
	}
	if min(r.Balk.Value, r.Rival.Value) < r.Bound {
		out = append(out, "below the bound")
	}
	if r.CPU > mostCPU {
		out = append(out, "slow")
	}
	return out
}

// Table writes what rows come to, set by set, and the worst of them, for people.
func Table(w io.Writer, rows []Row) error {
	var b strings.Builder
	b.WriteString("| set | fields | balk ÷ other: least, quarter, median, 95 %, most | worse | well | rounds | few rows | gap, median | order: median, 95 %, most | CPU s: median, 95 %, most |\n|---|---|---|---|---|---|---|---|---|---|\n")
	sets := []string{}
	for _, r := range rows {
		if !slices.Contains(sets, r.Set) {
			sets = append(sets, r.Set)
		}
	}
	slices.Sort(sets)
	for _, name := range append(sets, "all") {
		some := slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return name != "all" && r.Set != name })
		if len(some) == 0 {
			continue
		}
		count := func(fault string) (n int) {
			for _, r := range some {
				if slices.Contains(r.Faults(), fault) {
					n++
				}
			}
			return n
		}
		values := func(of func(Row) float64) []float64 {
			out := make([]float64, len(some))
			for i, r := range some {
				out[i] = of(r)
			}
			slices.Sort(out)
			return out
		}
		ratio, gap, cpu := values(Row.Ratio), values(Row.Gap), values(func(r Row) float64 { return r.CPU })
		order := values(func(r Row) float64 { return 100 * r.Order })
		good := 0
		for _, x := range ratio {
			if x <= well {
				good++
			}
		}
		fmt.Fprintf(&b, "| %s | %d | %.2f, %.3f, %.3f, %.2f, %.2f | %d | %d = %.0f %% | %d | %d | %.0f %% | %.0f, %.0f, %.0f %% | %.2f, %.2f, %.1f |\n", name, len(some),
			quantile(ratio, 0), quantile(ratio, 0.25), quantile(ratio, 0.5), quantile(ratio, 0.95), quantile(ratio, 1), count("worse"), good, 100*float64(good)/float64(len(some)),
			count("rounds"), count("few rows"), 100*quantile(gap, 0.5), quantile(order, 0.5), quantile(order, 0.95), quantile(order, 1), quantile(cpu, 0.5), quantile(cpu, 0.95), quantile(cpu, 1))
	}
	fmt.Fprintf(&b, `
Hours with what is missed and what does not fit at the same prices. *worse*: pairs more than %.0f %% above the other planner's; *well*: %.0f %% below it or more (wanted on %.0f %%); *rounds*:
more than %d above the set's need; *few rows*: less than %.0f %% of the ground inside the rounds needed lies in rows; *gap*: above the bound, which has no corner and no run in it; *order*: working, turns and runs of a
plan above the least that its own rows and rounds take in any order (wanted of either, in the median: %.0f %%); CPU: wanted %g s for 95 of 100, %g s at most.

The worst pairs:

| field | ha | set | balk ÷ other | balk: h, rounds, bearing, rows, missed m², unfit | other | gap | CPU s | below |
|---|---|---|---|---|---|---|---|---|
`, 100*(mostWorse-1), 100*(1-well), 100*wellShare, mostDeeper, 100*leastRows, 100*mostGap, usualCPU, mostCPU)
	worst := slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return len(r.Faults()) == 0 })
	slices.SortStableFunc(worst, func(a, b Row) int { return cmp.Compare(b.Ratio(), a.Ratio()) })
	const shown = 20
	told := func(p Plan) string {
		return fmt.Sprintf("%.3f, %d, %.0f°, %d, %.0f, %d", p.Value, p.Rounds, p.Direction, p.Rows, p.Missed, p.Unfit)
	}
	for _, r := range worst[:min(shown, len(worst))] {
		fmt.Fprintf(&b, "| %s | %.2f | %s | %.3f | %s | %s, %s | %.0f %% | %.2f | %s |\n", r.Field, r.Area/1e4, r.Set, r.Ratio(), told(r.Balk), told(r.Rival), r.Rival.Pattern, 100*r.Gap(), r.CPU,
			strings.Join(r.Faults(), ", "))
	}
	if len(worst) > shown {
		fmt.Fprintf(&b, "\nand %d more.\n", len(worst)-shown)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Tabs writes rows with all that is known of them, for a program.
func Tabs(w io.Writer, rows []Row) error {
	if _, err := fmt.Fprintln(w, strings.Join([]string{"field", "ha", "set", "ratio", "gap", "order", "share", "needed", "bound_h", "cpu_s", "balk_value_h", "balk_hours", "balk_rounds", "balk_bearing", "balk_rows", "balk_missed_m2", "balk_unfit",
		"rival_value_h", "rival_hours", "rival_rounds", "rival_bearing", "rival_rows", "rival_missed_m2", "rival_unfit", "rival_pattern", "below"}, "\t")); err != nil {
		return err
	}
	for _, r := range rows {
		b, o := r.Balk, r.Rival
		if _, err := fmt.Fprintf(w, "%s\t%.3f\t%s\t%.4f\t%.4f\t%.4f\t%.3f\t%d\t%.4f\t%.3f\t%.4f\t%.4f\t%d\t%.1f\t%d\t%.0f\t%d\t%.4f\t%.4f\t%d\t%.1f\t%d\t%.0f\t%d\t%s\t%s\n", r.Field, r.Area/1e4, r.Set, r.Ratio(), r.Gap(), r.Order, r.Share(), r.Needed, r.Bound, r.CPU,
			b.Value, b.Hours, b.Rounds, b.Direction, b.Rows, b.Missed, b.Unfit, o.Value, o.Hours, o.Rounds, o.Direction, o.Rows, o.Missed, o.Unfit, o.Pattern, strings.Join(r.Faults(), ", ")); err != nil {
			return err
		}
	}
	return nil
}

// quantile is that of sorted values, between neighbours evenly.
func quantile(v []float64, q float64) float64 {
	x := q * float64(len(v)-1)
	k := int(math.Min(x, float64(max(0, len(v)-2))))
	if k+1 >= len(v) {
		return v[k]
	}
	return v[k] + (v[k+1]-v[k])*(x-float64(k))
}
