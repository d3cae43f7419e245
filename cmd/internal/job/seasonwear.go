package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"

	"balk/cmd/internal/farm"
	"balk/coverage"
	"balk/coverage/rig"
	"balk/export/words"
)

// SetWear is how far the sweeps of a set went in the ground, over operations.
type SetWear struct {
	Set        string    `json:"set"`
	Operations int       `json:"operations"` // of which it is known
	Cutting    []float64 `json:"cutting"`    // m of each sweep, from the left end
	Life       float64   `json:"life"`       // km until one is changed, as the last operation has it; 0 = not known
}

// Words say it in a sentence.
func (w SetWear) Words(l words.Language) string {
	least, most := slices.Min(w.Cutting), slices.Max(w.Cutting)
	text := l.Say("%s, %s: a sweep went from %.2f to %.2f km in the ground", w.Set, l.Count(w.Operations, "operation"), least/1000, most/1000)
	if w.Life > 0 {
		text += l.Say(", up to %.1f %% of its life (sweep %d)", most/1000/w.Life*100, 1+slices.Index(w.Cutting, most))
	}
	return text + "."
}

// worn is what of a report tells how far sweeps went in the ground.
type worn struct {
	Ribbons *coverage.Ribbons
	Bars    *coverage.Bars
	Spec    struct {
		Work      struct{ Sweeps rig.Layout }
		Implement struct {
			Bars []rig.Bar `json:"bar"`
		}
	}
}

// Wear is how far the sweeps of an operation's set went, or those of each of its bars that has any.
func (r *Report) Wear(set string) []SetWear {
	w := worn{Ribbons: r.Ribbons, Bars: r.Bars}
	w.Spec.Work.Sweeps, w.Spec.Implement.Bars = r.Spec.Work.Sweeps, r.Spec.Implement.Bars
	return w.of(set)
}

func (w worn) of(set string) (all []SetWear) {
	add := func(name string, went *coverage.Ribbons, life float64) {
		if went != nil && len(went.Cutting) > 0 {
			all = append(all, SetWear{name, 1, went.Cutting, life})
		}
	}
	if w.Bars == nil {
		add(set, w.Ribbons, w.Spec.Work.Sweeps.Life)
		return all
	}
	for k, b := range w.Bars.Each {
		went := b.Ribbons
		if k == 0 {
			went = w.Ribbons // the report's own are those of the first
		}
		add(set+", "+b.Name, went, w.Spec.Implement.Bars[k].Sweeps.Life)
	}
	return all
}

// AddWear adds wear to what the sweeps of each set went before. A layout with another number of sweeps is told by itself.
func AddWear(all, more []SetWear) []SetWear {
	for _, m := range more {
		i := slices.IndexFunc(all, func(w SetWear) bool { return w.Set == m.Set && len(w.Cutting) == len(m.Cutting) })
		if i < 0 {
			i = len(all)
			all = append(all, SetWear{Set: m.Set, Cutting: make([]float64, len(m.Cutting))})
		}
		w := &all[i]
		w.Operations, w.Life = w.Operations+m.Operations, m.Life
		for k, metres := range m.Cutting {
			w.Cutting[k] += metres
		}
	}
	return all
}

// wear adds what the sweeps of an operation went, by its report.
func (r *SeasonReport) wear(o farm.Operation, report []byte) error {
	if !bytes.Contains(report, []byte(`"cutting":`)) { // most have none, and a report is long
		return nil
	}
	var told worn
	if err := json.Unmarshal(report, &told); err != nil {
		return fmt.Errorf("%s: operation %d: its result: %w", r.Spec.Farm, o.Number, err)
	}
	if b := told.Bars; b != nil && len(b.Each) != len(told.Spec.Implement.Bars) {
		return fmt.Errorf("%s: operation %d: its result: %d bars of a set with %d", r.Spec.Farm, o.Number, len(b.Each), len(told.Spec.Implement.Bars))
	}
	r.Wear = AddWear(r.Wear, told.of(o.Set))
	return nil
}

// WearWords say how far the sweeps of each set went.
func (r *SeasonReport) WearWords() (text []string) {
	for _, w := range r.Wear {
		text = append(text, w.Words(r.Spec.Language))
	}
	return text
}
