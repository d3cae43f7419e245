package crew

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"sync"
	"time"

	"balk/cmd/internal/batch"
)

// Crew hands out what is to be done. Any number of goroutines may call it: each call has a process of its own while it lasts.
type Crew struct {
	Program    string // that is started, with Arguments and the limit of memory
	Arguments  []string
	Processors int           // that each process uses
	Memory     uint64        // bytes of address space each may take beyond what it has at its start; 0 = no limit
	Most       time.Duration // that one log or operation may take
	Bound      bool          // rows come with the boundaries of their fields

	Took func(time.Duration) // told of every log or operation; nil = nobody asks
	Died func(how string)    // told of every process that ended with one in hand; nil = nobody asks

	mu   sync.Mutex
	idle []*child
}

// Work is what a batch has in common: a number of its own and its Spec as a line of JSON.
type Work struct {
	Batch int64
	Spec  []byte
}

// Survey is that of batch.Batch; kept gives what is kept of a log under a key; nil: nothing is kept of any. key is what to keep the survey under; "" = it is kept, or cannot be. Errors
// are faults of the machinery.
func (c *Crew) Survey(ctx context.Context, w Work, l batch.Log, kept func(ctx context.Context, key string) (batch.Survey, bool, error)) (s batch.Survey, key string, err error) {
	answer, err := c.ask(ctx, w, order{Log: &l, New: kept == nil}, func(key string) (any, error) {
		s, is, err := kept(ctx, key)
		if err != nil || !is {
			return nil, err
		}
		return s, nil
	})
	if gone, is := errors.AsType[*died](err); is {
		return batch.Survey{Log: l, State: batch.Failed, Fault: &batch.Fault{File: l.Name, What: c.diedOf(gone)}}, "", nil
	}
	var a surveyed
	if err == nil {
		err = json.Unmarshal(answer.text, &a)
	}
	return a.Survey, a.Key, err
}

// Work is that of batch.Batch. Errors are faults of the machinery.
func (c *Crew) Work(ctx context.Context, w Work, t batch.Task) (a Worked, err error) {
	answer, err := c.ask(ctx, w, order{Task: &t, Bound: c.Bound}, nil)
	if gone, is := errors.AsType[*died](err); is {
		answer, err = c.ask(ctx, w, order{Task: &t, Bound: c.Bound, Failed: c.diedOf(gone)}, nil)
	}
	if err == nil {
		err = json.Unmarshal(answer.text, &a)
	}
	if err == nil && len(answer.rows) != len(a.Rows) {
		err = fmt.Errorf("answer %.80q: no line of balk's", answer.text)
	}
	if err != nil {
		return Worked{}, err
	}
	for i, row := range answer.rows {
		a.Rows[i].Row = row
	}
	return a, nil
}

// End ends all processes; nothing may be in hand.
func (c *Crew) End() {
	for _, one := range c.idle {
		one.end()
	}
	c.idle = nil
}

// take gives a process for a batch: one that waits, or a new one.
func (c *Crew) take(w Work) (*child, error) {
	c.mu.Lock()
	for i, one := range c.idle {
		if one.batch == w.Batch {
			c.idle = append(c.idle[:i], c.idle[i+1:]...)
			c.mu.Unlock()
			return one, nil
		}
	}
	var other *child // of a batch that is over, perhaps
	if len(c.idle) > 0 {
		other, c.idle = c.idle[0], c.idle[1:]
	}
	c.mu.Unlock()
	if other != nil {
		other.end()
	}
	return start(c.command, w.Batch, w.Spec)
}

// command starts the program with a limit of memory.
func (c *Crew) command() *exec.Cmd {
	run := exec.Command(c.Program, append(c.Arguments[:len(c.Arguments):len(c.Arguments)], strconv.FormatUint(c.Memory, 10))...)
	run.Env = append(os.Environ(), "GOMAXPROCS="+strconv.Itoa(c.Processors))
	return run
}

// ask has a process do one thing. The one it dies of is tried once more, alone in a new process; *died: that died of it too.
func (c *Crew) ask(ctx context.Context, w Work, do order, look func(key string) (any, error)) (answer, error) {
	line, err := json.Marshal(do)
	if err != nil {
		return answer{}, err
	}
	for again := false; ; again = true {
		one, err := c.take(w)
		if err != nil {
			return answer{}, err
		}
		began := time.Now()
		a, err := one.work(ctx, line, c.Most, look)
		if c.Took != nil {
			c.Took(time.Since(began))
		}
		if err == nil {
			c.mu.Lock()
			c.idle = append(c.idle, one)
			c.mu.Unlock()
			return a, nil
		}
		gone, is := errors.AsType[*died](err)
		if !is {
			one.kill() // what it would say next is not known
			_ = one.wait()
			return answer{}, err
		}
		if c.Died != nil {
			c.Died(gone.how)
		}
		if again {
			return answer{}, err
		}
	}
}

// diedOf says why a log or operation that its process died of has no figures.
func (c *Crew) diedOf(gone *died) string {
	if c.Memory > 0 {
		return fmt.Sprintf("it could not be worked within the limits of %d MiB and %s: %s", c.Memory>>20, c.Most, gone.how)
	}
	return fmt.Sprintf("it could not be worked within the limit of %s: %s", c.Most, gone.how)
}
