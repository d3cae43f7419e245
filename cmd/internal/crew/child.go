package crew

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"time"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/job"

	"github.com/paulmach/orb"
)

// order is what a child is told to do: one of them.
type order struct {
	Log    *batch.Log  `json:"log,omitempty"`
	Task   *batch.Task `json:"task,omitempty"`
	Failed string      `json:"failed,omitempty"` // the task is not worked: this is why its row has no figures
	Bound  bool        `json:"bound,omitempty"`  // the boundary is asked for
	New    bool        `json:"new,omitempty"`    // nothing is kept of any log: it need not be asked for
}

// A child answers with a line: one of these letters, and JSON.
const (
	answers = 'a' // what was ordered
	faults  = 'f' // of the machinery, a text
	asks    = 'k' // is a survey kept under this key? The next line is it, or null
	aRow    = 'r' // a row of the answer that comes: it is kept as it stands here, and read by nobody on the way
)

// say writes a line, with the rows of what was worked before it.
func say(out io.Writer, kind byte, what any) error {
	text, err := json.Marshal(what)
	if err != nil {
		return err
	}
	var lines []byte
	if w, is := what.(Worked); is {
		for _, r := range w.Rows {
			lines = append(append(append(lines, aRow), r.Row...), '\n')
		}
	}
	_, err = out.Write(append(append(append(lines, kind), text...), '\n'))
	return err
}

// surveyed answers an order with a log, worked one with a task.
type surveyed struct {
	Key    string       `json:"key,omitempty"` // to keep the survey under; "" = it is kept, or cannot be
	Survey batch.Survey `json:"survey"`
}

// Worked are the rows of a task.
type Worked struct {
	Rows     []Kept           `json:"rows"`
	Boundary orb.MultiPolygon `json:"boundary,omitempty"` // of all of them, where the Crew asks for it
}

// Kept is a row as it is kept: its JSON, and what it is found by.
type Kept struct {
	Part  int             `json:"part"`
	Field int             `json:"field"`
	Begin time.Time       `json:"begin,omitzero"`
	State batch.State     `json:"state"`
	Row   json.RawMessage `json:"-"` // comes before the others of it
}

// KeptOf are rows as they are kept.
func KeptOf(rows []batch.Row) (kept []Kept, err error) {
	for _, r := range rows {
		text, err := json.Marshal(r)
		if err != nil {
			return nil, err
		}
		kept = append(kept, Kept{r.Part, r.Field, r.Begin, r.State, text})
	}
	return kept, nil
}

// Decoded are the rows, with their boundary.
func (w Worked) Decoded() ([]batch.Row, error) {
	rows := make([]batch.Row, len(w.Rows))
	for i, k := range w.Rows {
		if err := json.Unmarshal(k.Row, &rows[i]); err != nil {
			return nil, err
		}
		rows[i].Boundary = w.Boundary
	}
	return rows, nil
}

// asking are the results as a child has them, which keeps none: it asks who started it.
type asking struct {
	ask func(key string) (json.RawMessage, error) // nil = there are none
	key string
}

func (a *asking) Surveyed(_ context.Context, key string) (s batch.Survey, is bool, err error) {
	if a.ask == nil {
		return s, false, nil
	}
	line, err := a.ask(key)
	if err != nil || string(line) == "null" {
		return s, false, err
	}
	return s, true, json.Unmarshal(line, &s)
}

func (a *asking) KeepSurvey(_ context.Context, key string, _ batch.Survey) error {
	a.key = key
	return nil
}

// do does what was ordered. An error is a fault of the machinery.
func do(ctx context.Context, b *batch.Batch, o order, ask func(key string) (json.RawMessage, error)) (any, error) {
	if o.Log != nil {
		a := asking{ask: ask}
		if o.New {
			a.ask = nil
		}
		s, err := b.Survey(ctx, *o.Log, &a)
		return surveyed{a.key, s}, err
	}
	if o.Task == nil {
		return nil, errors.New("an order with nothing in it")
	}
	var rows []batch.Row
	var err error
	if o.Failed != "" {
		rows = b.Failed(*o.Task, o.Failed)
	} else {
		rows, err = b.Work(ctx, *o.Task)
	}
	if err != nil {
		return nil, err
	}
	var w Worked
	if o.Bound && len(rows) > 0 {
		w.Boundary = rows[0].Boundary // a task is on one field
	}
	w.Rows, err = KeptOf(rows)
	return w, err
}

// floor is what the heap grows by at least between two collections of garbage, in bytes.
const floor = 32 << 20

// Floor has garbage collected when the heap has grown by 32 MB at least, until the returned function is called: of a log of some thousand fixes less than 4 MB
// are in use at a time, and Go would collect after every other 4 MB. It is memory that nothing is written to, which takes address space and no more.
func Floor() func() {
	held := make([]byte, floor)
	return func() { runtime.KeepAlive(held) }
}

// Child works what comes in until there is no more: the process that started it closed in, or is no more. begin makes what works from the
// first line, which is the Spec of the batch. memory is the limit of its address space beyond what it has at its start, in bytes; 0 = none.
func Child(ctx context.Context, in io.Reader, out io.Writer, memory uint64, source batch.Source) error {
	signal.Ignore(os.Interrupt, syscall.SIGTERM) // the worker says when it is over
	defer Floor()()
	if memory > 0 {
		if err := limitMemory(memory); err != nil {
			return fmt.Errorf("limit of memory: %w", err)
		}
		debug.SetMemoryLimit(int64(memory - memory/10 + floor)) // collect garbage harder before the limit is met
	}
	in, err := polled(in)
	if err != nil {
		return fmt.Errorf("stdin: %w", err)
	}
	lines := make(chan json.RawMessage)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var broken error
	go func() {
		defer close(lines)
		d := json.NewDecoder(in)
		for {
			var line json.RawMessage
			if broken = d.Decode(&line); broken != nil {
				cancel() // nobody waits for what is in hand
				return
			}
			select {
			case lines <- line:
			case <-ctx.Done():
				return
			}
		}
	}()
	first, more := <-lines
	if !more {
		return nil
	}
	all, err := begin(ctx, first, source)
	if err != nil {
		return say(out, faults, err.Error())
	}
	if err := say(out, answers, nil); err != nil {
		return err
	}
	ask := func(key string) (json.RawMessage, error) {
		if err := say(out, asks, key); err != nil {
			return nil, err
		}
		line, more := <-lines
		if !more {
			return nil, context.Canceled
		}
		return line, nil
	}
	for line := range lines {
		var o order
		var answer any
		err := json.Unmarshal(line, &o)
		if err == nil {
			answer, err = do(ctx, all, o, ask)
		}
		if ctx.Err() != nil {
			break
		}
		kind := byte(answers)
		if err != nil {
			kind, answer = faults, err.Error()
		}
		if err := say(out, kind, answer); err != nil {
			return err
		}
	}
	if !errors.Is(broken, io.EOF) {
		return broken
	}
	return nil
}

// begin opens the batch of a Spec.
func begin(ctx context.Context, text json.RawMessage, source batch.Source) (*batch.Batch, error) {
	var spec batch.Spec
	if err := json.Unmarshal(text, &spec); err != nil {
		return nil, err
	}
	b, _, err := batch.Open(ctx, spec, source, new(job.Call))
	return b, err
}

// died says that a child ended with an operation in hand, and how.
type died struct{ how string }

func (d *died) Error() string { return d.how }

// child is a running one.
type child struct {
	batch int64
	run   *exec.Cmd
	in    io.WriteCloser
	out   *bufio.Reader
	said  *tail
	wait  func() error
}

// tail keeps the beginning of what is written, and lets go of the rest.
type tail struct {
	sync.Mutex
	bytes.Buffer
}

func (t *tail) Write(p []byte) (int, error) {
	t.Lock()
	defer t.Unlock()
	if room := 4096 - t.Len(); room > 0 {
		t.Buffer.Write(p[:min(room, len(p))])
	}
	return len(p), nil
}

// first is the first line of it.
func (t *tail) first() string {
	t.Lock()
	defer t.Unlock()
	line, _, _ := strings.Cut(strings.TrimSpace(t.String()), "\n")
	return line
}

// start starts a child for a batch, whose line is given.
func start(command func() *exec.Cmd, batch int64, line []byte) (*child, error) {
	c := &child{batch: batch, run: command(), said: &tail{}}
	c.run.Stderr = c.said
	in, err := c.run.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := c.run.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.run.Start(); err != nil {
		return nil, err
	}
	c.in, c.out, c.wait = in, bufio.NewReader(out), sync.OnceValue(c.run.Wait)
	if _, err := c.ask(line, nil); err != nil {
		c.end()
		return nil, fmt.Errorf("process that works operations: %w", err)
	}
	return c, nil
}

// answer is what a child answers: JSON, and that of the rows that came before it.
type answer struct {
	text json.RawMessage
	rows []json.RawMessage
}

// ask sends a line and gives what is answered; what the child asks in between is looked up. *died: there is no child any more.
func (c *child) ask(line []byte, look func(key string) (any, error)) (a answer, err error) {
	for {
		if _, err := c.in.Write(append(line[:len(line):len(line)], '\n')); err != nil { // the line of a batch is sent to several at once
			return a, c.gone()
		}
		var kind byte
		for {
			text, err := c.out.ReadBytes('\n')
			if err != nil {
				return a, c.gone()
			}
			kind, a.text = text[0], bytes.TrimSuffix(text[1:], []byte{'\n'})
			if kind != aRow {
				break
			}
			a.rows = append(a.rows, a.text)
		}
		if kind == answers {
			return a, nil
		}
		var said string
		if err := json.Unmarshal(a.text, &said); err != nil || kind != faults && kind != asks {
			return a, fmt.Errorf("answer %.80q: no line of balk's", append([]byte{kind}, a.text...))
		}
		if kind == faults {
			return a, errors.New(said)
		}
		found, err := look(said)
		if err == nil {
			line, err = json.Marshal(found)
		}
		if err != nil {
			return a, err
		}
	}
}

// gone says how a child ended.
func (c *child) gone() *died {
	how := "ended"
	if err := c.wait(); err != nil {
		how = err.Error()
	}
	if said := c.said.first(); said != "" {
		how += ": " + said
	}
	return &died{how}
}

// work has the child do an operation within some time.
func (c *child) work(ctx context.Context, task []byte, most time.Duration, look func(key string) (any, error)) (answer, error) {
	type answered struct {
		answer
		err error
	}
	done := make(chan answered, 1)
	go func() {
		a, err := c.ask(task, look)
		done <- answered{a, err}
	}()
	timer := time.NewTimer(most)
	defer timer.Stop()
	select {
	case a := <-done:
		return a.answer, a.err
	case <-timer.C:
		c.kill()
		<-done
		return answer{}, &died{"took longer than " + most.String() + " and was ended"}
	case <-ctx.Done():
		c.kill()
		<-done
		return answer{}, ctx.Err()
	}
}

// kill ends it at once. Its process may be gone already.
func (c *child) kill() { _ = c.run.Process.Kill() }

// end lets it end by itself, and ends it where it does not.
func (c *child) end() {
	_ = c.in.Close() // it may have ended: then there is no one to close it for
	killing := time.AfterFunc(5*time.Second, c.kill)
	_ = c.wait() // how it ended is of no matter: nothing was in hand
	killing.Stop()
}
