// Command plans holds the plans of balk against those of a simple planner of another hand (testdata/rival), on the open fields in
// the folder named by BALK_SHARED, with three sets.
//
//	go run ./.ci/plans -state FILE [-rows FILE] [-only FIELD] [-budget 30m] [-table]
//
// What is found is added to the state file, with a hash of the code it stands on; what stands on the code as it is is not worked out
// again. At the end it prints the table, and with -rows writes every pair.
package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"balk/geo"
	"balk/geo/read"
	"balk/testdata/rival"
	"balk/testdata/tally"
)

func main() {
	c := count{}
	flag.StringVar(&c.state, "state", "", "file of what is found, made if need be")
	flag.StringVar(&c.rows, "rows", "", "file for every pair, columns with tabs")
	flag.StringVar(&c.only, "only", "", "the field of this number alone")
	budget := flag.Duration("budget", 24*time.Hour, "begin no further pair after this time")
	table := flag.Bool("table", false, "only print the table of what is known")
	flag.Parse()
	c.end = time.Now().Add(*budget)
	if err := c.run(!*table); err != nil {
		fmt.Fprintln(os.Stderr, "plans:", err)
		os.Exit(1)
	}
}

// count is what is to be counted, and what is found so far.
type count struct {
	state, rows, only string
	end               time.Time
	found             []rival.Row
}

func (c *count) run(more bool) error {
	if c.state == "" {
		return errors.New("-state names the file of what is found")
	}
	hash, err := tally.CodeHash("geo", "coverage", "testdata/rival")
	if err != nil {
		return err
	}
	if c.found, err = tally.Read[rival.Row](c.state, hash); err != nil {
		return err
	}
	if more {
		if err := c.add(hash); err != nil {
			return err
		}
	}
	if len(c.found) == 0 {
		fmt.Println("not run")
		return nil
	}
	if err := c.written(); err != nil {
		return err
	}
	return rival.Table(os.Stdout, c.found)
}

// pair is a field and a set.
type pair struct{ field, set string }

// add works out what is not known yet, the fields in a mixed order, so that what there is speaks for all whenever it is stopped. What the
// other planner finds stands in a file of its own, for it does not change with balk.
func (c *count) add(hash string) error {
	alone, err := tally.CodeHash("testdata/rival")
	if err != nil {
		return err
	}
	others, err := tally.Read[rival.Row](c.state+".other", alone)
	if err != nil {
		return err
	}
	put, closed, err := tally.Append[rival.Row](c.state, hash)
	if err != nil {
		return err
	}
	defer closed()
	putOther, closedOther, err := tally.Append[rival.Row](c.state+".other", alone)
	if err != nil {
		return err
	}
	defer closedOther()
	known, other := map[pair]bool{}, map[pair]rival.Row{}
	for _, r := range c.found {
		known[pair{r.Field, r.Set}] = true
	}
	for _, r := range others {
		other[pair{r.Field, r.Set}] = r
	}
	fields, err := openFields()
	if err != nil {
		return err
	}
	const stride = 61 // a prime: no divisor of the number of fields
	for i := range fields {
		n := i * stride % len(fields)
		name := fmt.Sprint(n + 1)
		if c.only != "" && name != c.only {
			continue
		}
		ground := fields[n].OnPlane(fields[n].Local())
		for _, s := range rival.Sets() {
			k := pair{name, s.Name}
			if known[k] || time.Now().After(c.end) {
				continue
			}
			r, ok := other[k]
			if !ok {
				r = rival.Alone(name, ground, s)
				if err := putOther(r); err != nil {
					return err
				}
			}
			before := processor()
			if err := r.Beside(context.Background(), ground, s); err != nil {
				return err
			}
			r.CPU = processor() - before
			if err := put(r); err != nil {
				return err
			}
			c.found = append(c.found, r)
			if err := c.written(); err != nil {
				return err
			}
		}
	}
	return errors.Join(closed(), closedOther())
}

// written writes every pair into a file, the worst first.
func (c *count) written() (err error) {
	if c.rows == "" {
		return nil
	}
	slices.SortStableFunc(c.found, func(a, b rival.Row) int { return cmp.Compare(b.Ratio(), a.Ratio()) })
	f, err := os.Create(c.rows)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return rival.Tabs(f, c.found)
}

// openFields are the fields of open registers, as `balk compare` numbers them.
func openFields() ([]geo.Field, error) {
	dir := os.Getenv("BALK_SHARED")
	if dir == "" {
		return nil, errors.New("BALK_SHARED names the folder with open/fields_permissive.geojson")
	}
	fields, _, err := read.Fields(filepath.Join(dir, "open", "fields_permissive.geojson"), read.Options{Mend: true})
	return fields, err
}

// processor is the time that this process has taken of its processors, s.
func processor() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}
