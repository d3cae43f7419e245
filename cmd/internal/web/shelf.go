package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"

	"balk/cmd/internal/folder"
	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/geo"
)

// shelf holds what was put on the page: sources, each the files of one call of balk check.
type shelf struct {
	Options
	ctx context.Context // of the server: work goes on when a page is reloaded

	mu      sync.Mutex
	sources []*source
	last    int // number of the source that came last
	working sync.WaitGroup
	noting  sync.Mutex // of the files of notes

	inventing sync.Mutex // the farm, once
}

// source is what one call of balk check reads: one operation on one field, or several.
type source struct {
	id   string
	args []string // of the call
	dir  string   // in the folder kept; "" = the files are the caller's
	stop context.CancelFunc

	mu      sync.Mutex
	changed chan struct{} // is closed, and another one put there, when the state is another
	state   state
	opened  *job.Opened
	parts   []*part
}

// state is how far a source is.
type state struct {
	What string // what is done just now
	Done int
	Of   int
	Over bool // nothing is done any more
	Err  error
}

// part is one operation on one field.
type part struct {
	id string

	mu   sync.Mutex
	args []string // of balk check, for it alone

	judging chan struct{} // holds a token while somebody judges, who alone touches the results
	results []judged      // the latest last
}

// judged is a part under a supposition.
type judged struct {
	args    []string // of balk check
	command string
	hasty   bool // without what going back wins
	spec    job.Spec
	report  job.Report
	result  coverage.Result
}

// call are the arguments of balk check for a part.
func (p *part) call() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.args)
}

// farmed is a call with the farm in the folder of the page, once somebody corrected something there.
func (s *shelf) farmed(args []string) []string {
	if dir := s.farm(); job.HasFarm(dir) && flagOf(args, "farm") == "" {
		return append(slices.Clone(args), "--farm", dir)
	}
	return args
}

func (s *shelf) farm() string { return filepath.Join(s.Keep, "farm") }

// corrected has all parts judged anew by what is known now.
func (s *shelf) corrected(ctx context.Context) error {
	s.mu.Lock()
	sources := slices.Clone(s.sources)
	s.mu.Unlock()
	for _, one := range sources {
		_, parts, _ := one.now()
		for _, p := range parts {
			select {
			case p.judging <- struct{}{}:
			case <-ctx.Done():
				return ctx.Err()
			}
			p.results = nil
			p.mu.Lock()
			p.args = s.farmed(p.args)
			p.mu.Unlock()
			<-p.judging
		}
	}
	return nil
}

// mostJudged is how many suppositions of a part are held: one on either half of the map, and some to come back to.
const mostJudged = 4

// keptFile names, in a folder of a source, the file with its call.
const keptFile = "call.json"

// kept is the call of a source as its folder holds it; files are named from there.
type kept struct {
	Boundary  string   `json:"boundary"`
	Tracks    []string `json:"tracks"`
	Implement string   `json:"implement,omitempty"`
	Weather   string   `json:"weather,omitempty"`
	Flags     []string `json:"flags,omitempty"` // other flags, each with its value behind it
}

// args are those of balk check.
func (k kept) args(dir string) []string {
	args := []string{filepath.Join(dir, k.Boundary)}
	for _, t := range k.Tracks {
		args = append(args, filepath.Join(dir, t))
	}
	if k.Implement != "" {
		args = append(args, "--implement", filepath.Join(dir, k.Implement))
	}
	if k.Weather != "" {
		args = append(args, "--weather", filepath.Join(dir, k.Weather))
	}
	return append(args, k.Flags...)
}

func newShelf(ctx context.Context, o Options) (*shelf, error) {
	s := &shelf{Options: o, ctx: ctx}
	entries, err := os.ReadDir(o.Keep)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("the folder for files put on the page: %w", err)
	}
	var numbers []int
	for _, e := range entries {
		if n, err := strconv.Atoi(e.Name()); err == nil && n > 0 && e.IsDir() {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	for _, n := range numbers {
		s.last = n
		dir := filepath.Join(o.Keep, strconv.Itoa(n))
		text, err := os.ReadFile(filepath.Join(dir, keptFile))
		if errors.Is(err, os.ErrNotExist) {
			continue // cut off while its files came
		}
		var k kept
		if err == nil {
			err = json.Unmarshal(text, &k)
		}
		if err != nil {
			o.Say(fmt.Sprintf("%s: left out: %v", dir, err))
			continue
		}
		s.add(strconv.Itoa(n), k.args(dir), dir)
	}
	if dir := filepath.Join(o.Keep, demoFolder); exists(dir) {
		s.add(demoFolder, invented.args(dir), "")
	}
	if len(o.Open) > 0 {
		s.add("call", o.Open, "")
	}
	return s, nil
}

// add puts a source on the shelf.
func (s *shelf) add(id string, args []string, dir string) *source {
	one := &source{id: id, args: args, dir: dir, changed: make(chan struct{})}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sources = append(s.sources, one)
	return one
}

var errNotThere = errors.New("this is not here any more")

func (s *shelf) source(id string) (*source, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, one := range s.sources {
		if one.id == id {
			return one, nil
		}
	}
	return nil, errNotThere
}

// drop ends the work on a source and takes it off the shelf, with the files that were put on the page for it.
func (s *shelf) drop(id string) error {
	s.mu.Lock()
	at := slices.IndexFunc(s.sources, func(one *source) bool { return one.id == id })
	if at < 0 {
		s.mu.Unlock()
		return errNotThere
	}
	one := s.sources[at]
	s.sources = slices.Delete(s.sources, at, at+1)
	s.mu.Unlock()
	one.mu.Lock()
	stop := one.stop
	one.mu.Unlock()
	if stop != nil {
		stop()
	}
	if one.dir == "" {
		return nil
	}
	return errors.Join(os.RemoveAll(one.dir), os.RemoveAll(s.notes(one.id)))
}

// set changes the state of a source and tells whoever waits for that.
func (s *source) set(change func(*state)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(&s.state)
	close(s.changed)
	s.changed = make(chan struct{})
}

// now is the state of a source, its parts, and what is closed when the state is another.
func (s *source) now() (state, []*part, <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state, s.parts, s.changed
}

// begin reads a source, once; a source that could not be read is read again.
func (s *shelf) begin(one *source) {
	one.mu.Lock()
	defer one.mu.Unlock()
	if one.stop != nil && one.state.Err == nil || s.ctx.Err() != nil {
		return
	}
	ctx, stop := context.WithCancel(s.ctx)
	one.stop, one.state = stop, state{What: "reading boundaries", Of: 1}
	s.working.Go(func() {
		defer stop()
		err := folder.Safely(func() error { return s.read(ctx, one) })
		if ctx.Err() != nil && err != nil {
			err = errors.New("interrupted")
		}
		one.set(func(now *state) { now.Over, now.Err = true, err })
	})
}

// read reads the files of a source and tells the operations in them apart.
func (s *shelf) read(ctx context.Context, one *source) error {
	whole := s.farmed(one.args)
	spec, err := s.Spec(ctx, whole)
	if err != nil {
		return err
	}
	opened, err := job.Open(ctx, spec, &job.Call{Progress: one.progress, Say: s.Say})
	if err != nil {
		return err
	}
	var parts []*part
	for i, p := range opened.Parts(spec) {
		args := whole
		if p.Field != spec.Field {
			args = suppose(args, "field", p.Field)
		}
		if p.Days != spec.Days {
			args = suppose(args, "days", p.Days.String())
		}
		parts = append(parts, &part{id: fmt.Sprintf("%s.%d", one.id, i+1), args: args, judging: make(chan struct{}, 1)})
	}
	if len(parts) == 0 {
		return opened.Nowhere()
	}
	one.mu.Lock()
	defer one.mu.Unlock()
	one.opened, one.parts = opened, parts
	return nil
}

func (s *source) progress(what string, done, of int) {
	s.set(func(now *state) { now.What, now.Done, now.Of = geo.Shown(what), done, of })
}

// part is an operation by its id, once its source is read.
func (s *shelf) part(ctx context.Context, id string) (*source, *part, error) {
	s.mu.Lock()
	sources := slices.Clone(s.sources)
	s.mu.Unlock()
	for _, one := range sources {
		if len(id) <= len(one.id) || id[:len(one.id)+1] != one.id+"." {
			continue
		}
		s.begin(one)
		for {
			now, parts, changed := one.now()
			if now.Over && now.Err != nil {
				return nil, nil, now.Err
			}
			if now.Over {
				for _, p := range parts {
					if p.id == id {
						return one, p, nil
					}
				}
				return nil, nil, errNotThere
			}
			select {
			case <-changed:
			case <-ctx.Done():
				return nil, nil, ctx.Err()
			}
		}
	}
	return nil, nil, errNotThere
}

// judge judges a part, as it was driven or with other flags. The same again is found rather than worked out.
func (s *shelf) judge(ctx context.Context, one *source, p *part, args []string, haste bool) (judged, error) {
	command := commandOf(checked, args)
	select {
	case p.judging <- struct{}{}:
		defer func() { <-p.judging }()
	case <-ctx.Done():
		return judged{}, ctx.Err()
	}
	if at := slices.IndexFunc(p.results, func(j judged) bool { return j.command == command && (haste || !j.hasty) }); at >= 0 {
		found := p.results[at]
		p.results = append(slices.Delete(p.results, at, at+1), found)
		return found, nil
	}
	j := judged{args: args, command: command}
	call := &job.Call{Progress: one.progress, Say: s.Say}
	if at := slices.IndexFunc(p.results, func(j judged) bool { return j.command == command }); at >= 0 { // in haste
		j = p.results[at]
		var err error
		if j.report, j.result, err = j.report.WithWorth(ctx, j.result, call); err != nil {
			return judged{}, err
		}
		p.results = slices.Delete(p.results, at, at+1)
	} else {
		var err error
		if j.spec, err = s.Spec(ctx, args); err != nil {
			return judged{}, err
		}
		j.spec.Work.Gaps = true
		if j.report, j.result, err = one.opened.Judge(ctx, j.spec, haste, call); err != nil {
			return judged{}, err
		}
	}
	j.hasty = haste
	if p.results = append(p.results, j); len(p.results) > mostJudged {
		first := 0
		if p.results[0].command == commandOf(checked, p.call()) { // as it was driven stays
			first = 1
		}
		p.results = slices.Delete(p.results, first, first+1)
	}
	return j, nil
}
