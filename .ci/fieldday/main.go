// Command fieldday drives many simulated days (testdata/fieldday), has balk check their logs, and holds what it says against
// what happened.
//
//	go run ./.ci/fieldday -state FILE [-seeds N] [-from N] [-only EXPRESSION] [-budget 30m] [-table]
//
// Outcomes are added to the state file, a JSON object a line, with a hash of the code they stand on; those of the code as it
// is are not worked out again. At the end it prints the table.
package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
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
	flag.Parse()
	if err := run(*state, *seeds, *from, *only, *budget, *table); err != nil {
		fmt.Fprintln(os.Stderr, "fieldday:", err)
		os.Exit(1)
	}
}

func run(state string, seeds, from uint64, only string, budget time.Duration, table bool) error {
	if state == "" {
		return errors.New("-state names the file of outcomes")
	}
	hash, err := tally.CodeHash("geo", "coverage", "testdata/fieldday", "testdata/tally")
	if err != nil {
		return err
	}
	read, err := tally.Read[fieldday.Outcome](state, hash)
	if err != nil {
		return err
	}
	wanted, err := regexp.Compile(only)
	if err != nil {
		return err
	}
	known := outcomes{}
	for _, o := range read {
		known.put(o)
	}
	situations := slices.DeleteFunc(fieldday.Situations(), func(s fieldday.Situation) bool { return !wanted.MatchString(s.Name) })
	if !table {
		if err := known.add(situations, seeds, from, time.Now().Add(budget), state, hash); err != nil {
			return err
		}
	}
	rows := make([]fieldday.Row, len(situations))
	for i, s := range situations {
		var all []fieldday.Outcome
		for _, o := range known[s.Name] {
			all = append(all, o)
		}
		slices.SortFunc(all, func(a, b fieldday.Outcome) int { return cmp.Compare(a.Seed, b.Seed) })
		rows[i] = fieldday.RowOf(s, all)
	}
	return fieldday.Table(os.Stdout, rows)
}

// outcomes are those known, by situation and seed.
type outcomes map[string]map[uint64]fieldday.Outcome

// add works out what is not known yet, seed by seed, so that all rows are alike good whenever it is stopped.
func (known outcomes) add(situations []fieldday.Situation, seeds, from uint64, end time.Time, state, hash string) error {
	put, closed, err := tally.Append[fieldday.Outcome](state, hash)
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
			if _, ok := known[s.Name][seed]; ok {
				continue
			}
			if day == nil {
				if day, err = fieldday.Drive(s.Driving, seed); err != nil {
					return err
				}
			}
			o, err := day.Judge(context.Background(), s)
			if err != nil {
				return err
			}
			known.put(o)
			if err := put(o); err != nil {
				return err
			}
		}
	}
	return closed()
}

func (known outcomes) put(o fieldday.Outcome) {
	if known[o.Situation] == nil {
		known[o.Situation] = map[uint64]fieldday.Outcome{}
	}
	known[o.Situation][o.Seed] = o
}
