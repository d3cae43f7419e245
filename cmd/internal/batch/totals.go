package batch

import (
	"cmp"
	"maps"
	"slices"

	"balk/cmd/internal/job"
)

// Named is a total of the operations that share a name: a farm, set, driver or month; "" = not known.
type Named struct {
	Name string `json:"name"`
	job.Total
}

// OnField is a total of the operations on one field.
type OnField struct {
	Field int    `json:"field"`
	Name  string `json:"name"`
	Farm  string `json:"farm,omitempty"`
	job.Total
}

// Totals adds up rows. The zero value is ready.
type Totals struct {
	All     job.Total     `json:"all"`
	Farms   []Named       `json:"farms"` // by name
	Sets    []Named       `json:"sets"`
	Drivers []Named       `json:"drivers"`
	Months  []Named       `json:"months"`
	Worst   []OnField     `json:"worst"`          // fields, that with most missed ground first
	NoWork  int           `json:"noWork"`         // times that a set only drove over a field
	Wear    []job.SetWear `json:"wear,omitempty"` // of the sweeps of sets whose layout is known

	by     [4]map[string]*job.Total
	fields map[int]*OnField
	seen   map[onWhich]bool // fields that were counted
}

// kinds are those of the totals by name.
var kinds = [4]string{"farm", "set", "driver", "month"}

// onWhich is a field with one of the totals that count it.
type onWhich struct {
	kind, name string
	field      int
}

// Add adds a row.
func (t *Totals) Add(r Row) {
	if t.fields == nil {
		t.fields, t.seen = map[int]*OnField{}, map[onWhich]bool{}
		for i := range t.by {
			t.by[i] = map[string]*job.Total{}
		}
	}
	if r.State == NoWork {
		t.NoWork++
		return
	}
	t.Wear = job.AddWear(t.Wear, r.Wear)
	t.add(&t.All, r, "", "")
	for i, name := range []string{r.Farm, r.Set, r.Driver, r.Month()} {
		if t.by[i][name] == nil {
			t.by[i][name] = new(job.Total)
		}
		t.add(t.by[i][name], r, kinds[i], name)
	}
	if t.fields[r.Field] == nil {
		t.fields[r.Field] = &OnField{Field: r.Field, Name: r.FieldName, Farm: r.Farm}
	}
	t.add(&t.fields[r.Field].Total, r, "field", "")
}

func (t *Totals) add(to *job.Total, r Row, kind, name string) {
	if r.State == Failed {
		to.Failed++
		return
	}
	if which := (onWhich{kind, name, r.Field}); !t.seen[which] {
		t.seen[which] = true
		to.Fields++
	}
	to.Add(r.Sum)
}

// Done puts what was added into lists.
func (t *Totals) Done() {
	for i, to := range []*[]Named{&t.Farms, &t.Sets, &t.Drivers, &t.Months} {
		*to = []Named{}
		for _, name := range slices.Sorted(maps.Keys(t.by[i])) {
			*to = append(*to, Named{name, *t.by[i][name]})
		}
	}
	slices.SortStableFunc(t.Wear, func(a, b job.SetWear) int {
		return cmp.Or(cmp.Compare(a.Set, b.Set), cmp.Compare(len(a.Cutting), len(b.Cutting)))
	})
	t.Worst = []OnField{}
	for _, f := range t.fields {
		t.Worst = append(t.Worst, *f)
	}
	slices.SortFunc(t.Worst, func(a, b OnField) int { return cmp.Or(cmp.Compare(b.Missed, a.Missed), cmp.Compare(a.Field, b.Field)) })
}
