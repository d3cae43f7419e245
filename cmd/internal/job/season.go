package job

import (
	"context"
	"errors"
	"io"
	"slices"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/plan"
)

// SeasonList is all that a farm has, in short.
type SeasonList struct {
	Farm       string           `json:"farm"`
	Fields     []farm.Field     `json:"fields"`     // by name
	Operations []farm.Operation `json:"operations"` // by time
	Totals     SeasonTotals     `json:"totals"`
}

// SeasonTotals adds up operations, over all and by what they have in common.
type SeasonTotals struct {
	All      SeasonTotal   `json:"all"`
	Seasons  []SeasonTotal `json:"seasons"` // by the year they began in, "" = not known
	Sets     []SeasonTotal `json:"sets"`
	Drivers  []SeasonTotal `json:"drivers"`
	ByRates  plan.Rates    `json:"byRates"`  // by which Cost is
	HasCosts bool          `json:"hasCosts"` // any is said
}

// SeasonTotal adds up some of them.
type SeasonTotal struct {
	Name       string `json:"name,omitempty"`
	Operations int    `json:"operations"`
	farm.Sum
	Cost float64 `json:"cost"`
}

func totalsOf(all []farm.Operation, rates plan.Rates) SeasonTotals {
	t := SeasonTotals{ByRates: rates, HasCosts: rates != plan.Rates{}, Seasons: []SeasonTotal{}, Sets: []SeasonTotal{}, Drivers: []SeasonTotal{}}
	add := func(to *SeasonTotal, o farm.Operation) {
		to.Operations++
		to.Sum.Add(o.Sum)
		to.Cost += rates.Hour*o.Seconds/3600 + rates.Litre*o.Litres
	}
	of := func(list *[]SeasonTotal, name string, o farm.Operation) {
		i := slices.IndexFunc(*list, func(t SeasonTotal) bool { return t.Name == name })
		if i < 0 {
			i = len(*list)
			*list = append(*list, SeasonTotal{Name: name})
		}
		add(&(*list)[i], o)
	}
	for _, o := range all {
		year := ""
		if !o.Begin.IsZero() {
			year = o.Begin.Format("2006")
		}
		add(&t.All, o)
		of(&t.Seasons, year, o)
		of(&t.Sets, o.Set, o)
		of(&t.Drivers, o.Driver, o)
	}
	return t
}

// JSON writes the report.
func (r SeasonList) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonList
	}{madeBy(), r})
}

// ListSeason lists a farm.
func ListSeason(ctx context.Context, dir string, rates plan.Rates) (rep SeasonList, err error) {
	rep = SeasonList{Farm: dir, Fields: []farm.Field{}, Operations: []farm.Operation{}}
	if err := rates.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	f, err := farm.Open(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	fields, err := f.Fields(ctx)
	if err != nil {
		return rep, err
	}
	all, err := f.Operations(ctx, 0)
	rep.Fields, rep.Operations = append(rep.Fields, fields...), append(rep.Operations, all...)
	rep.Totals = totalsOf(all, rates)
	return rep, err
}

// SeasonRemoved is what was moved aside.
type SeasonRemoved struct {
	Farm    string  `json:"farm"`
	Numbers []int64 `json:"numbers"`
}

// JSON writes the report.
func (r SeasonRemoved) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonRemoved
	}{madeBy(), r})
}

// RemoveFromSeason moves operations aside. Those before one that is not there are moved.
func RemoveFromSeason(ctx context.Context, dir string, numbers []int64, now time.Time) (rep SeasonRemoved, err error) {
	rep = SeasonRemoved{Farm: dir, Numbers: []int64{}}
	if !HasFarm(dir) {
		return rep, &farm.NotThere{Dir: dir}
	}
	f, err := farm.OpenToChange(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	for _, n := range numbers {
		if err := f.Remove(ctx, n, now); err != nil {
			if none, ok := errors.AsType[*farm.NoOperation](err); ok {
				err = &WrongCall{none}
			}
			return rep, err
		}
		rep.Numbers = append(rep.Numbers, n)
	}
	return rep, nil
}

// SeasonMoved is a farm written as plain files, or built of them.
type SeasonMoved struct {
	Farm string `json:"farm"`
	Placed
}

// JSON writes the report.
func (r SeasonMoved) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonMoved
	}{madeBy(), r})
}

// ExportSeason writes a farm as plain files, from which ImportSeason builds it again.
func ExportSeason(ctx context.Context, dir, out string, call *Call) (rep SeasonMoved, err error) {
	rep = SeasonMoved{Farm: dir}
	f, err := farm.Open(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	plain, err := f.Plain(ctx)
	if err != nil {
		return rep, err
	}
	var files []output
	for _, p := range plain {
		files = append(files, output{name: p.Name, write: p.Write})
	}
	err = call.ready().fill(ctx, out, "season export", files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
	return rep, err
}

// ImportSeason builds a farm of plain files.
func ImportSeason(ctx context.Context, dir, from string) (SeasonMoved, error) {
	return SeasonMoved{Farm: dir}, farm.Import(ctx, dir, from)
}
