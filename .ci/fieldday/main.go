// Command fieldday drives many simulated days (testdata/fieldday), has balk check their logs, and holds what it says against
// what happened.
//
//	go run ./.ci/fieldday -state FILE [-seeds N] [-from N] [-only EXPRESSION] [-budget 30m] [-table] [-oracles N] [-known]
//
// Outcomes are added to the state file, a JSON object a line, with a hash of the code they stand on; those of the code as it
// is are not worked out again. At the end it prints the table. With -oracles it asks oracles of the first N drives instead, which takes some
// seconds each: they go to FILE.told. With -known it drives days of which it is known what strips are to have in common, into FILE.known.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"time"

	"balk/testdata/fieldday"
	"balk/testdata/tally"
)

func main() {
	state := flag.String("state", "", "file of outcomes, made if need be")
	seeds := flag.Uint64("seeds", 300, "drives of each situation")
	from := flag.Uint64("from", 1, "the first seed")
	only := flag.String("only", "", "situations whose names this regular expression finds only")
	budget := flag.Duration("budget", 24*time.Hour, "begin no further drive after this time")
	table := flag.Bool("table", false, "only print the table of what is known")
	oracles := flag.Uint64("oracles", 0, "ask oracles of so many drives, instead of judging any")
	known := flag.Bool("known", false, "drive days with known patterns instead, or print the table of these")
	flag.Parse()
	if err := run(*state, *seeds, *from, *only, *budget, *table, *oracles, *known); err != nil {
		fmt.Fprintln(os.Stderr, "fieldday:", err)
		os.Exit(1)
	}
}

func run(state string, seeds, from uint64, only string, budget time.Duration, table bool, oracles uint64, patterns bool) error {
	if state == "" {
		return errors.New("-state names the file of outcomes")
	}
	hash, err := tally.CodeHash("geo", "coverage", "testdata/fieldday", "testdata/tally")
	if err != nil {
		return err
	}
	wanted, err := regexp.Compile(only)
	if err != nil {
		return err
	}
	if patterns {
		state += ".known"
	}
	known, err := readAll(state, hash, func(o fieldday.Outcome) (string, uint64) { return o.Situation, o.Seed })
	if err != nil {
		return err
	}
	told, err := readAll(state+".told", hash, func(o fieldday.Oracle) (string, uint64) { return o.Situation, o.Seed })
	if err != nil {
		return err
	}
	all := fieldday.Situations()
	if patterns {
		all = nil
		for _, k := range fieldday.Knowns() {
			all = append(all, k.Situation)
		}
	}
	situations := slices.DeleteFunc(all, func(s fieldday.Situation) bool { return !wanted.MatchString(s.Name) })
	ctx, end := context.Background(), time.Now().Add(budget)
	switch {
	case table:
	case oracles > 0:
		asked := slices.DeleteFunc(slices.Clone(situations), func(s fieldday.Situation) bool { return !s.Tells() })
		err = told.add(asked, oracles, from, end, func(d *fieldday.Day, s fieldday.Situation) (fieldday.Oracle, error) { return d.Oracle(ctx, s) })
	default:
		err = known.add(situations, seeds, from, end, func(d *fieldday.Day, s fieldday.Situation) (fieldday.Outcome, error) { return d.Judge(ctx, s) })
	}
	if err != nil {
		return err
	}
	if patterns {
		return fieldday.KnownTable(os.Stdout, known.of)
	}
	rows := make([]fieldday.Row, len(situations))
	for i, s := range situations {
		rows[i] = fieldday.RowOf(s, known.of(s), told.of(s))
	}
	return fieldday.Table(os.Stdout, rows)
}

// found is what is known of drives, by situation and seed, and the file that it stands in.
type found[T any] struct {
	by         map[string]map[uint64]T
	path, hash string
}

func readAll[T any](path, hash string, of func(T) (situation string, seed uint64)) (*found[T], error) {
	f := &found[T]{map[string]map[uint64]T{}, path, hash}
	read, err := tally.Read[T](path, hash)
	for _, o := range read {
		situation, seed := of(o)
		f.put(situation, seed, o)
	}
	return f, err
}

func (f *found[T]) put(situation string, seed uint64, o T) {
	if f.by[situation] == nil {
		f.by[situation] = map[uint64]T{}
	}
	f.by[situation][seed] = o
}

// of is what is known of a situation, by seeds.
func (f *found[T]) of(s fieldday.Situation) (all []T) {
	for _, seed := range slices.Sorted(maps.Keys(f.by[s.Name])) {
		all = append(all, f.by[s.Name][seed])
	}
	return all
}

// add works out what is not known yet, seed by seed, so that all rows are alike good whenever it is stopped.
func (f *found[T]) add(situations []fieldday.Situation, seeds, from uint64, end time.Time, judge func(*fieldday.Day, fieldday.Situation) (T, error)) error {
	put, closed, err := tally.Append[T](f.path, f.hash)
	if err != nil {
		return err
	}
	defer closed()
	for seed := from; seed < from+seeds && time.Now().Before(end); seed++ {
		var day *fieldday.Day
		for i, s := range situations {
			if i > 0 && s.Driving != situations[i-1].Driving {
				day = nil
			}
			if _, ok := f.by[s.Name][seed]; ok {
				continue
			}
			if day == nil {
				if day, err = fieldday.Drive(s.Driving, seed); err != nil {
					return err
				}
			}
			o, err := judge(day, s)
			if err != nil {
				return err
			}
			f.put(s.Name, seed, o)
			if err := put(o); err != nil {
				return err
			}
		}
	}
	return closed()
}
