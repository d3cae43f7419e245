package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"

	"balk/cmd/internal/farm"
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

// wear adds what the sweeps of an operation went, by its report, to what those of its set went before. A layout with another number of sweeps is told by itself.
func (r *SeasonReport) wear(o farm.Operation, report []byte) error {
	if !bytes.Contains(report, []byte(`"cutting":`)) { // most have none, and a report is long
		return nil
	}
	var told struct {
		Ribbons struct{ Cutting []float64 }
		Spec    struct{ Work struct{ Sweeps rig.Layout } }
	}
	if err := json.Unmarshal(report, &told); err != nil {
		return fmt.Errorf("%s: operation %d: its result: %w", r.Spec.Farm, o.Number, err)
	}
	cut := told.Ribbons.Cutting
	if len(cut) == 0 {
		return nil
	}
	i := slices.IndexFunc(r.Wear, func(w SetWear) bool { return w.Set == o.Set && len(w.Cutting) == len(cut) })
	if i < 0 {
		i = len(r.Wear)
		r.Wear = append(r.Wear, SetWear{Set: o.Set, Cutting: make([]float64, len(cut))})
	}
	w := &r.Wear[i]
	w.Operations, w.Life = w.Operations+1, told.Spec.Work.Sweeps.Life
	for k, m := range cut {
		w.Cutting[k] += m
	}
	return nil
}

// WearWords say how far the sweeps of each set went.
func (r *SeasonReport) WearWords() (text []string) {
	for _, w := range r.Wear {
		text = append(text, w.Words(r.Spec.Language))
	}
	return text
}
