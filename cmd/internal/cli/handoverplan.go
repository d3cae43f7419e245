package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/export/answer"
	"balk/export/words"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// planFlags are those that the handover of a plan takes.
var planFlags = []string{"out", "rank", "operation", "driver", "for", "implement-name", "remarks", "language", "zone", "paper", "pictures", "sweeps", "json"}

// handoverPlan hands over work that is still to be done.
func handoverPlan(c *cobra.Command, v *voice, s job.PlanHandoverSpec, out string, asJSON bool) error {
	var odd []string
	c.Flags().Visit(func(f *pflag.Flag) {
		if !slices.Contains(planFlags, f.Name) {
			odd = append(odd, "--"+f.Name)
		}
	})
	slices.Sort(odd)
	if len(odd) > 0 {
		return &stop{wrongCall, fmt.Errorf("%s: a plan is handed over as it was compared, and takes none of these", strings.Join(odd, ", "))}
	}
	s.Out = out
	rep, err := job.HandoverPlan(c.Context(), s, &v.call)
	return v.answer(rep.Findings, err, asJSON, rep.JSON, func(w io.Writer) error {
		b := &telling{Language: s.Paperwork.Language}
		p := rep.Candidates[0]
		b.text(b.Say("order of work: %s in rows at %.1f°, %s, %s for %s", b.Count(p.Passes, "pass"), rep.Bearing(p), b.Count(p.Rounds, "headland round"), words.Clock(p.Hours*3600), answer.Area(b.Language, p.Field)), "")
		if n := len(p.Infeasible); n > 0 {
			b.put("  turns and runs that do not fit into the field as planned: %d, see order.txt\n", n)
		}
		return b.closing(w, rep.Files, b.BeforeWork())
	})
}
