package fieldday

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Row is what the outcomes of a situation come to.
type Row struct {
	Situation Situation
	Seeds     int

	True, TrueFull float64 // m², means
	Missed, Best   float64 // medians of what balk says ÷ true
	Between        float64 // the same of the best estimate between passes; NaN: not looked at
	Full           float64
	Held           float64 // share of seeds whose range holds the truth
	Wide           float64 // m², median width of the range
	Oracle         float64 // m², see oracle
	Strips, Trues  float64 // means
	MostStrips     int
	Certain        int     // strips called so, over all seeds
	False, Poor    float64 // shares of these of which less than a tenth, and less than half, is missed
	SureMissed     float64 // share of their ground that is missed
	Real           int     // true strips of 20 cm by 10 m, over all seeds
	Listed         float64 // share of these on a listed one
	Hidden         int     // true strips of that size that no log shows, over all seeds; no part of Real
	Found          float64 // share of seeds in which half of the fault's ground is listed, or the fault is named; NaN: no fault

	Told        float64 // m², median width of the oracle's range (see Oracle); NaN: none was asked
	RealTold    int     // true strips of 20 cm by 10 m in the days that oracles were asked of
	Sure, There float64 // shares of these that the oracle is sure of, and that lie on listed ones where the receiver has them
}

// RowOf sums up the outcomes of a situation, and what oracles say of some of them; of none it is zero.
func RowOf(s Situation, all []Outcome, told []Oracle) Row {
	r := Row{Situation: s, Seeds: len(all), Found: math.NaN(), Told: math.NaN()}
	if len(all) == 0 {
		return r
	}
	if len(told) > 0 {
		var widths []float64
		sure, there := 0, 0
		for _, o := range told {
			widths = append(widths, o.Width)
			r.RealTold, sure, there = r.RealTold+o.Real, sure+o.Sure, there+o.Listed
		}
		r.Told, r.Sure, r.There = quantile(widths, 0.5), share(sure, r.RealTold), share(there, r.RealTold)
	}
	n := float64(len(all))
	var missed, best, between, full, wide []float64
	held, falses, poor, listed, found := 0, 0, 0, 0, 0
	sure, sureMissed := 0.0, 0.0
	for _, o := range all {
		r.True, r.TrueFull = r.True+o.True/n, r.TrueFull+o.TrueFull/n
		missed, best, full = append(missed, o.Missed/o.True), append(best, o.Best/o.True), append(full, o.Full/o.TrueFull)
		wide = append(wide, o.Most-o.Least)
		if o.Between > 0 {
			between = append(between, o.BestBetween/o.Between)
		}
		if o.Least <= o.True && o.True <= o.Most {
			held++
		}
		r.Strips, r.Trues, r.MostStrips = r.Strips+float64(o.Strips)/n, r.Trues+float64(o.TrueStrips)/n, max(r.MostStrips, o.Strips)
		r.Certain, falses, poor = r.Certain+o.Certain, falses+o.False, poor+o.Poor
		sure, sureMissed = sure+o.Sure, sureMissed+o.SureMissed
		r.Real, listed, r.Hidden = r.Real+o.Real, listed+o.Listed, r.Hidden+o.Hidden
		if o.Named || o.GroundFound >= 0.5*o.Ground && o.Ground > 0 {
			found++
		}
	}
	r.Missed, r.Best, r.Full, r.Wide = quantile(missed, 0.5), quantile(best, 0.5), quantile(full, 0.5), quantile(wide, 0.5)
	if r.Between = math.NaN(); len(between) > 0 {
		r.Between = quantile(between, 0.5)
	}
	r.Held = float64(held) / n
	r.Oracle = oracle(all)
	r.False, r.Poor, r.SureMissed = share(falses, r.Certain), share(poor, r.Certain), sureMissed/sure
	r.Listed = share(listed, r.Real)
	if s.Fault.Name != "" {
		r.Found = float64(found) / n
	}
	return r
}

// Bars that a row is held to.
const (
	estimateFixed        = 0.10 // share off, of the median, missed and full
	estimateDifferential = 0.25 // of the best estimate between passes: the receiver's error makes missed ground, and no map shows where
	heldLeast, heldMost  = 0.92, 0.98
	widest               = 1.5 // × oracle
	mostStrips           = 1.5 // × true ones: 60 where there are 40
	falseFixed           = 0.02
	falseDifferential    = 0.05
	listedLeast          = 0.95
	foundLeast           = 0.95
)

// Below are the bars that a row does not reach, in words of the columns.
func (r Row) Below() []string {
	var out []string
	say := func(what string, reached bool) {
		if !reached {
			out = append(out, what)
		}
	}
	band := r.Situation.Band()
	off, falses := estimateFixed, falseFixed
	if band == Differential {
		off, falses = estimateDifferential, falseDifferential
	}
	if band != Other {
		if band == Differential {
			say("between", math.Abs(r.Between-1) <= off)
		} else {
			say("logged", math.Abs(r.Missed-1) <= off)
		}
		say("full", band == Differential || math.Abs(r.Full-1) <= off)
		say("strips", band == Differential || r.Strips <= mostStrips*r.Trues)
		say("false", !(r.False > falses))
		say("listed", !(r.Listed < listedLeast))
		say("width", r.Wide <= widest*r.Oracle)
	}
	say("held", r.Held >= heldLeast && r.Held <= heldMost)
	say("found", !(r.Found < foundLeast))
	return out
}

// oracle is how wide a range has to be that holds the truth in 95 %: the way between the quantiles at 2.5 and 97.5 % of what
// is said less what is true, over all seeds, m². It is the range of one who has seen how logs of just such drives by just
// such receivers err, and adds the same to each estimate; of the two estimates, as logged and best, he takes the one that errs by less.
func oracle(all []Outcome) float64 {
	least := math.Inf(1)
	for _, of := range []func(Outcome) float64{func(o Outcome) float64 { return o.Missed }, func(o Outcome) float64 { return o.Best }} {
		var off []float64
		for _, o := range all {
			off = append(off, of(o)-o.True)
		}
		least = min(least, quantile(off, 0.975)-quantile(off, 0.025))
	}
	return least
}

func share(n, of int) float64 { return float64(n) / float64(of) }

// quantile is that of the values, between neighbours evenly; it sorts them.
func quantile(v []float64, q float64) float64 {
	slices.Sort(v)
	x := q * float64(len(v)-1)
	k := min(int(x), max(0, len(v)-2))
	if k+1 >= len(v) {
		return v[k]
	}
	return v[k] + (v[k+1]-v[k])*(x-float64(k))
}

// Table writes the rows for people, and beneath them what the columns are.
func Table(w io.Writer, rows []Row) error {
	var b strings.Builder
	b.WriteString("| situation | seeds | true m² | said ÷ true: logged, best (between passes) | full m² | ÷ | held | width ÷ oracle; told | strips: said (most), true | certain | false, poor | real | listed; in its place, sure if told | found | below |\n")
	b.WriteString("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, r := range rows {
		if r.Seeds == 0 {
			continue
		}
		between, found, told, sure := "", percent(r.Found), "", ""
		if !math.IsNaN(r.Told) {
			if told = fmt.Sprintf("; %.0f", r.Told); r.Situation.Band() == Differential {
				sure = fmt.Sprintf("; of %d %s, %s", r.RealTold, percent(r.There), percent(r.Sure))
			}
		}
		if !math.IsNaN(r.Between) {
			between = fmt.Sprintf(" (%.2f)", r.Between)
		}
		if r.Situation.Fault.Hidden {
			found = fmt.Sprintf("no log shows it: said in %s", found)
			if r.Hidden > 0 {
				found += fmt.Sprintf(", %d strips apart", r.Hidden)
			}
		}
		fmt.Fprintf(&b, "| %s | %d | %.0f | %.2f, %.2f%s | %.0f | %.2f | %s | %.0f ÷ %.0f = %.1f%s | %.0f (%d), %.0f | %d | %s, %s | %d | %s%s | %s | %s |\n", r.Situation.Name, r.Seeds, r.True, r.Missed, r.Best, between,
			r.TrueFull, r.Full, percent(r.Held), r.Wide, r.Oracle, r.Wide/r.Oracle, told, r.Strips, r.MostStrips, r.Trues, r.Certain, percent(r.False), percent(r.Poor), r.Real, percent(r.Listed), sure, found, strings.Join(r.Below(), ", "))
	}
	b.WriteString(`
*true*: missed at credited width, mean; *logged*, *best*: medians of what is said as the log has it, and at the best estimate, ÷ true; *between passes*: the same of
the best estimate without what lies along the boundary, from which a receiver's day is no error between passes; *full*: at full width.
*held*: seeds whose range holds the truth. *width ÷ oracle*: median width of the range beside the way between the quantiles at 2.5 and 97.5 % of (said − true) over the seeds, of
the estimate that errs by less: the range of constant width that holds the truth in 95 %. *told*: median width that this range needs for one who has that log alone, and is told
how the receiver errs and how drivers lower and lift, by drives drawn from the log, in some of the seeds. *strips*: listed, mean and most, and true missed ground told apart by the same rules, by the
other engine. *certain*: strips called so, all seeds; *false*, *poor*: of these, less than a tenth, less than half is missed. *real*: true strips of 20 cm by 10 m and more, *listed*: they
lie, by a tenth or more, on listed ones; those that no log shows are counted apart. *in its place*, *sure if told*: in the seeds with such draws, on
listed ones where the receiver has it, which may be decimetres beside the ground, and missed in 95 % of the draws. *found*: seeds in which half of the ground that the fault left is listed, or the fault is named by its
figure; where no log shows it: seeds in which it is said that this log cannot. Then the range stands for what the log can show, and holds no more. What is said: of a section lifted alone
"the set has 4 sections, and the log does not say which were down: one lifted alone leaves no mark in it"; of a bar aside what would be missed with it 10 cm aside, and that a log does not
tell; of ends of rows without a state that they are by rule, and what a metre of them makes. *below*: the bars that the
row does not reach: medians within 10 % (differential: 25 %, between passes), held in 92 to 98 %, width at most 1.5 oracles, strips at most 1.5 times the true ones, false at most 2 %
(differential 5 %), listed and found 95 % or more. A file that is wrong, no state, a button, a phone: held and found alone.
`)
	_, err := io.WriteString(w, b.String())
	return err
}

func percent(v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	if v > 0 && v < 0.1 || v > 0.9 && v < 1 {
		return fmt.Sprintf("%.1f %%", 100*v)
	}
	return fmt.Sprintf("%.0f %%", 100*v)
}
