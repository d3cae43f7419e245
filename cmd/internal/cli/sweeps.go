package cli

import (
	"errors"
	"io"
	"math"

	"balk/cmd/internal/job"
	"balk/coverage/sweeps"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"

	"github.com/spf13/cobra"
)

// usualBent is by how much a leg is taken to be bent if the call says nothing: what is hardly seen in the yard (common practice, no source).
const usualBent = 0.03 // m

// sweepsVerb is the verb "balk sweeps".
func sweepsVerb(v *voice) *cobra.Command {
	s := job.SweepsSpec{Bent: usualBent}
	var file string
	var axle float64
	var asJSON, all bool
	c := &cobra.Command{
		Use:  "sweeps [SET]",
		Args: cobra.MaximumNArgs(1),
		PreRunE: func(c *cobra.Command, args []string) error {
			return v.standing(c, pathOf(args), func(name string) bool { return name == "implement" && len(args) == 0 })
		},
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				if file != "" {
					return &stop{wrongCall, errors.New("the set is given twice, as SET and by --implement")}
				}
				file = args[0]
			}
			if file == "" {
				return &stop{wrongCall, errors.New("sweeps wants SET, the file that describes the implement")}
			}
			var err error
			if s.Implement, err = v.call.Implement(file); err != nil {
				return &stop{couldNot, err}
			}
			if c.Flags().Changed("axle") {
				s.Axle = &axle
			}
			rep, err := job.Sweeps(c.Context(), s, &v.call)
			return v.answer(nil, err, asJSON, rep.JSON, func(w io.Writer) error { return printSweeps(w, rep, all) })
		},
	}
	f := c.Flags()
	f.SortFlags = false
	f.StringVar(&file, "implement", "", "`FILE` (JSON or TOML) that describes the implement and its sweeps, in place of SET")
	f.Var(measure{&s.Want, "°"}, "want", "crab angle to both sides that is wanted, `DEGREES`: says which change of width, spacing or beams reaches it")
	f.Var(measure{&s.Wear, "m"}, "wear", "how much narrower every sweep is when worn (as its file says if not given)")
	f.Var(measure{&s.Bent, "m"}, "bent", "by how much a leg may be bent to one side (0: not asked)")
	f.Var(measure{&axle, "m"}, "axle", "how far ahead of the middle of the bar the axle lies about whose line the implement turns (from [mount] if not given)")
	f.StringVar(&s.Out, "out", "", "`DIR` for the drawing and the report")
	drawn(f, &s.Drawn, "drawing")
	f.BoolVar(&asJSON, "json", false, "print the report as JSON")
	f.BoolVar(&all, "all", false, "list all pairs of neighbours, and what each sweep leaves that is lost")
	once(f, "out", "json", "all")
	return c
}

// pairsListed are listed where not all are.
const pairsListed = 4

// printSweeps writes the report as a person reads it.
func printSweeps(w io.Writer, r job.SweepsReport, all bool) error {
	b := &telling{Language: r.Spec.Language}
	for k, one := range append([]job.SweepsReport{r}, r.Bars...) {
		if one.Spec.Implement = r.Spec.Alone()[k]; k > 0 {
			b.put("\n")
		}
		if err := sweepsTold(b, one, all); err != nil {
			return err
		}
	}
	if r.Apart > 0 {
		b.text(b.Say("its bars stand %.2f m apart along the way: lowered and lifted in one go, they begin and end so far apart", r.Apart), "")
	}
	return b.closing(w, r.Files, b.InTheYard())
}

// sweepsTold says what is found of one bar.
func sweepsTold(b *telling, r job.SweepsReport, all bool) error {
	im := r.Spec.Implement
	b.text(sweepsSay(b.Language, r), "")
	b.put("\n")
	name := im.Name
	if name == "" {
		name = b.Word("implement")
	}
	b.put("%s: %s on %s, %.2f m cut\n", geo.Shown(name), b.Count(r.Sweeps, "sweep"), b.Count(r.Passage.Beams, "beam"), r.Right+r.Left)
	if off := r.Right + r.Left - im.Width; math.Abs(off) >= 0.05 {
		b.put("the working width is %.2f m: %+.2f m\n", im.Width, -off)
	}
	t := b.heads("sweeps", "lap cm", "turned left", "turned right", "curve left", "curve right")
	listed := r.Pairs
	if !all {
		listed = job.FirstToPart(r.Pairs, pairsListed)
	}
	for _, p := range listed {
		t.row("%d/%d\t%.1f\t%s\t%s\t%s\t%s\t\n", p.Left, p.Right, 100*p.Lap, crabTo(b.Language, p.CrabLeft), crabTo(b.Language, p.CrabRight), sheet.CurveTo(b.Language, p.CurveLeft.At), sheet.CurveTo(b.Language, p.CurveRight.At))
	}
	if err := t.end(); err != nil {
		return err
	}
	if thin := job.Thinnest(r.Pairs); thin.Left > 0 {
		b.put("thinnest straight ahead: %.1f cm, sweeps %d/%d, %.2f m %s of the middle\n", 100*thin.Lap, thin.Left, thin.Right, math.Abs(thin.At), b.Word(sideOf(-thin.At)))
	}
	if len(listed) < len(r.Pairs) {
		b.put("%d of %d pairs, those that part first; all: --all\n", len(listed), len(r.Pairs))
	}
	if r.Worn != nil {
		wornSays(b, r)
	}
	lostSays(b, r, all)
	for _, c := range r.Changes {
		changeSays(b, r, c)
	}
	if r.Spec.Want > 0 && len(r.Changes) == 0 {
		if min(r.New.CrabLeft.At, r.New.CrabRight.At) >= r.Spec.Want && r.Uncut == 0 {
			b.put("%.1f° is reached as it is\n", r.Spec.Want)
		} else {
			b.put("%.1f° is reached by no single change\n", r.Spec.Want)
		}
	}
	if p := r.Passage; p.Beam >= 0 && p.Between >= 0 {
		b.text(b.Say("room for straw: %.0f cm between neighbours on a beam, %.0f cm between beams", 100*p.Beam, 100*p.Between), "")
	}
	b.text(b.Say("lowered or lifted as it drives, it cuts %.2f m in part only: lower the middle of the bar %.2f m before the line, lift it %.2f m past it", r.Deep, r.Before, r.Past), "")
	if math.Abs(r.Draw) >= 0.01 {
		b.text(b.Say("the sweeps pull %.2f m %s of the middle: the implement draws to that side", math.Abs(r.Draw), b.Word(sideOf(r.Draw))), "")
	}
	return nil
}

func sideOf(right float64) string {
	if right < 0 {
		return "left"
	}
	return "right"
}

// sweepsSay is the answer.
func sweepsSay(l words.Language, r job.SweepsReport) string {
	if r.Uncut > 0 {
		n, widest := 0, job.Pair{}
		for _, p := range r.Pairs {
			if p.Lap < 0 {
				n++
			}
			if p.Lap < widest.Lap {
				widest = p
			}
		}
		return l.Say("Does not cut everything even straight ahead: %s, %.1f cm together, the widest %.1f cm between sweeps %d and %d from the left. What is cut there stays cut %s",
			l.Count(n, "ribbon"), 100*r.Uncut, -100*widest.Lap, widest.Left, widest.Right, reachSays(l, r.New))
	}
	says := l.Say("Cuts everything %s", reachSays(l, r.New))
	first := firstToPart(r.New)
	if !first.Opens {
		return says
	}
	if first.Alike > 0 {
		return says + l.Say(" Sweeps %d/%d from the left part first, and %s like them.", first.Left, first.Right, l.Count(first.Alike, "pair"))
	}
	return says + l.Say(" Sweeps %d/%d from the left part first.", first.Left, first.Right)
}

// reachSays says how far a reach goes.
func reachSays(l words.Language, r job.Reach) string {
	return l.Say("up to %s turned left of its way and %s turned right, and in curves down to a radius of %s to the left and %s to the right.",
		crabTo(l, r.CrabLeft), crabTo(l, r.CrabRight), sheet.CurveTo(l, r.CurveLeft.At), sheet.CurveTo(l, r.CurveRight.At))
}

// firstToPart is the crab limit that comes first, else that of curves.
func firstToPart(r job.Reach) job.Edge {
	first := r.CrabLeft
	if !first.Opens || r.CrabRight.Opens && r.CrabRight.At < first.At {
		first = r.CrabRight
	}
	if first.Opens {
		return first
	}
	if r.CurveRight.Opens && (!r.CurveLeft.Opens || r.CurveRight.At > r.CurveLeft.At) {
		return r.CurveRight
	}
	return r.CurveLeft
}

// wornSays says what worn sweeps do.
func wornSays(b *telling, r job.SweepsReport) {
	says := reachSays(b.Language, r.Worn.Reach)
	switch {
	case r.Worn.Uncut > 0:
		b.text(b.Say("Worn, %.1f cm stay uncut even straight ahead. What is cut there stays cut %s", 100*r.Worn.Uncut, says), "")
	case r.Spec.Wear > 0:
		b.text(b.Say("Worn by %.1f cm: %s", 100*r.Spec.Wear, says), "")
	default:
		b.text(b.Say("Worn: %s", says), "")
	}
}

func crabTo(l words.Language, e job.Edge) string { return sheet.CrabTo(l, e.At, e.Opens) }

// lostSays says what a lost sweep and a bent leg leave.
func lostSays(b *telling, r job.SweepsReport, all bool) {
	uncut, narrow := 0.0, 0.0
	for _, one := range r.Lost {
		uncut, narrow = max(uncut, one.Uncut), max(narrow, one.Narrow)
		if all {
			b.text(b.Say("sweep %d lost: %.1f cm uncut, %.1f cm narrower", one.Number, 100*one.Uncut, 100*one.Narrow), "")
		}
	}
	if !all {
		b.text(b.Say("a lost sweep leaves up to %.1f cm uncut, at an end the set cuts %.1f cm less", 100*uncut, 100*narrow), "")
	}
	switch o := r.Bent; {
	case o == nil:
	case o.Uncut > 0:
		b.text(b.Say("a leg bent by %.1f cm leaves up to %.1f cm uncut straight ahead (sweep %d)", 100*r.Spec.Bent, 100*o.Uncut, o.Number), "")
	default:
		b.text(b.Say("a leg bent by %.1f cm: ribbons from %.1f° of crab on (sweep %d)", 100*r.Spec.Bent, math.Floor(10*o.Crab)/10, o.Number), "")
	}
}

// changeSays says what a change would be.
func changeSays(b *telling, r job.SweepsReport, c job.Change) {
	want := r.Spec.Want
	switch c.What {
	case sweeps.ByWidth:
		b.text(b.Say("%.1f° by sweeps %.1f cm wider: %s", want, math.Ceil(1000*c.Wider)/10, b.Count(c.Sweeps, "sweep")), "")
	case sweeps.BySpacing:
		b.text(b.Say("%.1f° by sweeps closer together, at %.1f %% of today's spacing: %s", want, math.Floor(1000*c.Factor)/10, b.Count(c.Sweeps, "sweep")), "")
	case sweeps.ByStagger:
		b.text(b.Say("%.1f° by beams closer together, at %.0f %% of today's way: %s", want, math.Floor(100*c.Factor), b.Count(c.Sweeps, "sweep")), "")
	}
}
