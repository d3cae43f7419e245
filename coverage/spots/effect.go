package spots

import (
	"cmp"
	"math"
	"slices"

	"balk/geo"
)

// Effect is what became of the plants of a kind at the places where they were looked at before and after, or after only
// beside untreated ground.
type Effect struct {
	Kind   string       `json:"kind"`
	Cover  bool         `json:"cover,omitempty"`
	Visit  int          `json:"visit"` // the one after
	Rule   EffectRule   `json:"rule"`
	Mean   Mean         `json:"mean"` // of the places' effects, as shares: 1 = all gone, below 0: more than before
	Places []PlantPlace `json:"places"`
}

// EffectRule is how an effect was worked out.
type EffectRule string

const (
	// RuleBefore: 1 − after/before, without untreated ground: what would have come of itself is in it.
	RuleBefore EffectRule = "before and after"
	// RuleAbbott: 1 − after/(after on untreated ground) (Abbott 1925), where nothing was counted before.
	RuleAbbott EffectRule = "Abbott"
	// RuleHenderson: 1 − (after/before)·(untreated before/untreated after) (Henderson & Tilton 1955).
	RuleHenderson EffectRule = "Henderson-Tilton"
)

// PlantPlace is one place of an effect.
type PlantPlace struct {
	ID     string  `json:"id"`
	Before float64 `json:"before"` // per m², or % of cover; 0 with RuleAbbott
	After  float64 `json:"after"`
	Effect float64 `json:"effect"`
}

// effectsOf works out effects by kind and visit. Before is the first visit to a place, at which there was some of the kind; a later
// visit that looked at plants and does not name the kind found none. Untreated ground is summed over its places.
func effectsOf(checks []geo.SpotCheck, ties []Tie) []Effect {
	type of struct {
		kind  string
		cover bool
		visit int
	}
	type plants map[of]float64
	places := map[string]plants{}      // by ID: what was there at each visit
	visits := map[string]map[int]int{} // by ID and visit: its check
	tied := map[int]Tie{}
	var kinds []of
	for _, t := range ties {
		tied[t.Check] = t
	}
	for k, c := range checks {
		if c.ID == "" || c.Visit == 0 || len(c.Plants) == 0 && !c.Looked {
			continue
		}
		if places[c.ID] == nil {
			places[c.ID], visits[c.ID] = plants{}, map[int]int{}
		}
		visits[c.ID][c.Visit] = k
		for _, p := range c.Plants {
			places[c.ID][of{p.Kind, p.Cover, c.Visit}] += p.Amount
			if one := (of{p.Kind, p.Cover, 0}); !slices.Contains(kinds, one) {
				kinds = append(kinds, one)
			}
		}
	}
	ids, after := make([]string, 0, len(places)), map[int]bool{}
	for id, v := range visits {
		ids = append(ids, id)
		for visit := range v {
			if visit > 1 {
				after[visit] = true
			}
		}
	}
	slices.Sort(ids)
	slices.SortFunc(kinds, func(a, b of) int { return cmp.Compare(a.kind, b.kind) })
	later := make([]int, 0, len(after))
	for v := range after {
		later = append(later, v)
	}
	slices.Sort(later)
	var out []Effect
	for _, kind := range kinds {
		for _, visit := range later {
			before, then := of{kind.kind, kind.cover, 1}, of{kind.kind, kind.cover, visit}
			var ub, ua, n float64 // untreated
			e := Effect{Kind: kind.kind, Cover: kind.cover, Visit: visit, Rule: RuleBefore}
			for _, id := range ids {
				k, looked := visits[id][visit]
				if _, first := visits[id][1]; looked && checks[k].Untreated {
					if ua += places[id][then]; first {
						ub += places[id][before]
					}
					n++
				}
			}
			ids := slices.DeleteFunc(slices.Clone(ids), func(id string) bool {
				k, looked := visits[id][visit]
				return !looked || checks[k].Untreated
			})
			counted := slices.ContainsFunc(ids, func(id string) bool { return places[id][before] > 0 })
			switch {
			case n > 0 && counted && ub > 0 && ua > 0:
				e.Rule = RuleHenderson
			case n > 0 && !counted && ua > 0:
				e.Rule = RuleAbbott
			case !counted:
				continue
			}
			var values []value
			for _, id := range ids {
				p := PlantPlace{ID: id, Before: places[id][before], After: places[id][then]}
				switch {
				case e.Rule == RuleAbbott:
					p.Effect = 1 - p.After/(ua/n)
				case p.Before == 0:
					continue // nothing to be killed there
				case e.Rule == RuleHenderson:
					p.Effect = 1 - p.After/p.Before*ub/ua
				default:
					p.Effect = 1 - p.After/p.Before
				}
				e.Places = append(e.Places, p)
				values = append(values, value{group(tied[visits[id][visit]]), p.Effect})
			}
			if len(values) == 0 {
				continue
			}
			e.Mean, _ = meanOf(values, 0)
			e.Mean.High = math.Min(e.Mean.High, 1)
			out = append(out, e)
		}
	}
	return out
}
