package answer

import (
	"balk/coverage"
	"balk/export/words"
)

// Short is an answer in the cells of a list of many.
type Short struct {
	Missed  string     // how much was missed, a range where it is one, or why that cannot be said
	Share   string     // of the field, per cent; "-" where it cannot be said
	Unknown string     // "-" where nothing is
	Misfit  string     // the sentence on a width that does not fit the passes; "" = it does
	Tells   bool       // the log can tell what was missed, and nothing is to be settled first
	Range   [2]float64 // m² missed, the least and the most; with Tells
}

// InShort is the answer of a check in short, no firmer than Of.
func InShort(r coverage.Result, l words.Language) Short {
	a := answer{r, l}
	s := Short{Share: "-", Unknown: "-", Misfit: a.misfit()}
	if a.Balance.Unknown >= 0.5 {
		s.Unknown = a.area(a.Balance.Unknown)
	}
	t := a.Telling
	switch {
	case s.Misfit != "", len(First(l, r.Open, r.Balance.Missed)) > 0:
		s.Missed = a.Word("settle first")
	case t.Strips == coverage.GraspNone:
		s.Missed = a.Word("cannot tell")
	case a.either() && a.told() > 0:
		s.Missed, s.Tells, s.Range = a.between(0, a.told()), true, [2]float64{0, a.told()}
	case t.Strips == coverage.GraspRange && t.Error == 0:
		s.Missed, s.Share, s.Tells, s.Range = a.Say("about %s", a.area(a.told())), a.percent(), true, [2]float64{a.told(), a.told()}
	default:
		s.Missed, s.Tells, s.Range = a.between(t.Missed[0], t.Missed[1]), true, t.Missed
		if t.Strips == coverage.GraspFirm {
			s.Share = a.percent()
		}
	}
	return s
}

// Range is missed ground of which the least and the most are known, m².
func Range(l words.Language, r [2]float64) string {
	return answer{Language: l}.between(r[0], r[1])
}

// percent is what was missed of the field.
func (a answer) percent() string { return a.Say("%.1f", 100*a.told()/a.Balance.Field) }
