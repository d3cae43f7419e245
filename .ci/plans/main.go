// Command plans holds the plans of balk against those of a simple planner of another hand (testdata/rival), on the open fields in
// the folder named by BALK_SHARED, with three sets.
//
//	go run ./.ci/plans -state FILE [-rows FILE] [-only FIELD,FIELD] [-budget 30m] [-directions N] [-times N] [-seed N] [-table]
//
// What is found is added to the state file, with a hash of the code it stands on; what stands on the code as it is is not worked out
// again. At the end it prints the table, and with -rows writes every pair. With -directions it lays N directions out instead, and holds the
// estimate that chooses among them against what they come to. With -times it looks for plans on N fields, the open ones moved, turned and
// scaled, and tells nothing but how long that takes. With -seed the order of the fields is drawn by it, so that those done within a budget are a sample.
package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"balk/geo"
	"balk/geo/plane"
	"balk/geo/read"
	"balk/testdata/rival"
	"balk/testdata/tally"
)

func main() {
	c := count{}
	flag.StringVar(&c.state, "state", "", "file of what is found, made if need be")
	flag.StringVar(&c.rows, "rows", "", "file for every pair, columns with tabs")
	flag.StringVar(&c.only, "only", "", "the fields of these numbers alone, with commas between")
	flag.IntVar(&c.directions, "directions", 0, "lay so many directions out instead")
	flag.IntVar(&c.times, "times", 0, "time the search on so many fields, moved, turned and scaled, instead")
	flag.Uint64Var(&c.seed, "seed", 0, "draw the order of the fields by this number; 0: a mixed order that is always the same")
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
	directions        int
	ordered           []rival.Ordered
	times             int
	seed              uint64
	timed             []rival.Timed
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
	if c.ordered, err = tally.Read[rival.Ordered](c.state+".directions", hash); err != nil {
		return err
	}
	if c.timed, err = tally.Read[rival.Timed](c.state+".times", hash); err != nil {
		return err
	}
	if more && c.times > 0 {
		if err := c.time(hash); err != nil {
			return err
		}
	} else if more && c.directions > 0 {
		if err := c.order(hash); err != nil {
			return err
		}
	} else if more {
		if err := c.add(hash); err != nil {
			return err
		}
	}
	if len(c.found)+len(c.ordered)+len(c.timed) == 0 {
		fmt.Println("not run")
		return nil
	}
	if len(c.found) > 0 {
		if err := c.written(); err != nil {
			return err
		}
		if err := rival.Table(os.Stdout, c.found); err != nil {
			return err
		}
	}
	if len(c.ordered) > 0 {
		if err := rival.DirectionsTable(os.Stdout, c.ordered); err != nil {
			return err
		}
	}
	if len(c.timed) > 0 {
		return rival.TimesTable(os.Stdout, c.timed)
	}
	return nil
}

// time looks for plans on varied fields, one set after the other.
func (c *count) time(hash string) error {
	fields, err := openFields()
	if err != nil {
		return err
	}
	put, closed, err := tally.Append[rival.Timed](c.state+".times", hash)
	if err != nil {
		return err
	}
	defer closed()
	known := map[int]bool{}
	for _, t := range c.timed {
		known[t.Number] = true
	}
	sets := rival.Sets()
	for k := 0; k < c.times && time.Now().Before(c.end); k++ {
		if known[k] {
			continue
		}
		n, s := k*stride%len(fields), sets[k%len(sets)]
		shape, scale := rival.Varied(fields[n].OnPlane(fields[n].Local()), k)
		before := processor()
		if err := rival.Search(context.Background(), shape, s); err != nil {
			return fmt.Errorf("field %d × %g, %s: %w", n+1, scale, s.Name, err)
		}
		t := rival.Timed{Number: k, Field: fmt.Sprint(n + 1), Set: s.Name, Scale: scale, CPU: processor() - before}
		for _, p := range shape {
			t.Area += p.Area()
		}
		c.timed = append(c.timed, t)
		if err := put(t); err != nil {
			return err
		}
	}
	return closed()
}

// stride goes through the fields in a mixed order: a prime, no divisor of their number.
const stride = 61

// order lays directions out on what is not known yet.
func (c *count) order(hash string) error {
	put, closed, err := tally.Append[rival.Ordered](c.state+".directions", hash)
	if err != nil {
		return err
	}
	defer closed()
	known := map[pair]bool{}
	for _, o := range c.ordered {
		known[pair{o.Field, o.Set}] = true
	}
	return errors.Join(c.pairs(func(name string, ground []plane.Polygon, s rival.Set) error {
		if known[pair{name, s.Name}] {
			return nil
		}
		o, err := rival.Directions(context.Background(), name, ground, s, c.directions)
		if err != nil {
			return err
		}
		c.ordered = append(c.ordered, o)
		return put(o)
	}), closed())
}

// pairs goes through fields and sets, the fields in a mixed order, so that what is done speaks for all whenever it is stopped.
func (c *count) pairs(do func(name string, ground []plane.Polygon, s rival.Set) error) error {
	fields, err := openFields()
	if err != nil {
		return err
	}
	order := make([]int, len(fields))
	for i := range order {
		order[i] = i * stride % len(fields)
	}
	if c.seed > 0 {
		order = rand.New(rand.NewPCG(c.seed, 15)).Perm(len(fields))
		fmt.Fprintf(os.Stderr, "fields in an order drawn by seed %d\n", c.seed)
	}
	for _, n := range order {
		name := fmt.Sprint(n + 1)
		if c.only != "" && !slices.Contains(strings.Split(c.only, ","), name) {
			continue
		}
		ground := fields[n].OnPlane(fields[n].Local())
		for _, s := range rival.Sets() {
			if time.Now().After(c.end) {
				return nil
			}
			if err := do(name, ground, s); err != nil {
				return err
			}
		}
	}
	return nil
}

// pair is a field and a set.
type pair struct{ field, set string }

// add works out what is not known yet. What the other planner finds stands in a file of its own, for it does not change with balk.
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
	err = c.pairs(func(name string, ground []plane.Polygon, s rival.Set) error {
		k := pair{name, s.Name}
		if known[k] {
			return nil
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
		c.found = append(c.found, r)
		return errors.Join(put(r), c.written())
	})
	return errors.Join(err, closed(), closedOther())
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
