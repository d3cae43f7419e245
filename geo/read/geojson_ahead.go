package read

import (
	"bytes"
	"errors"
	"io"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"balk/geo"
)

// A collection of points is read in pieces by several workers, as long as nothing in it is out of the ordinary. A piece goes from
// the end of one feature to that of another. Where that is, is guessed by the text that stood between two features
// before, and known once the piece before has been read: it must end there. A piece that does not, or holds what
// hangs on the features before it, is read again one by one, and so are errors: what comes out is the same
// whatever the number of workers.
type ahead struct {
	workers int   // below 2: one by one
	size    int   // bytes of a piece
	from    int64 // not before this byte
	wait    int64 // so many bytes one by one after a piece that could not be used; doubled each time
	byKeys  bool  // every feature is read key by key, whether or not it fits a mould
}

const (
	pieceSize  = 1 << 20 // bytes
	firstAlone = 1 << 18 // bytes at the beginning, which tell what the features hold
)

func aheadOf() ahead {
	return ahead{workers: runtime.GOMAXPROCS(0), size: pieceSize, from: firstAlone, wait: firstAlone}
}

// piece is a part of the text, and what was read in it.
type piece struct {
	data []byte
	scan trackScan
	good bool
	done chan struct{}
}

// readAhead reads further features of a collection, behind one of which s stands.
func (s *trackScan) readAhead() {
	a := &s.ahead
	if a.workers < 2 || s.stop != 0 || s.offset() < a.from || !s.settled() {
		return
	}
	a.from = s.offset() + a.wait
	mark := s.border()
	if mark == nil {
		return
	}
	at, read := s.offset(), cutting{r: s.r, rest: slices.Clone(s.buf[s.pos:s.end]), mark: mark, size: a.size, ended: s.eof}
	todo := make(chan *piece)
	var group sync.WaitGroup
	for range a.workers {
		group.Go(func() {
			for p := range todo {
				p.good = p.scan.whole()
				close(p.done)
			}
		})
	}
	var queue []*piece
	var spare []*piece // those that were used, for their room
	for usable := true; usable; {
		for len(queue) < 2*a.workers {
			p := &piece{scan: trackScan{points: &growing{}}}
			if n := len(spare); n > 0 {
				p, spare = spare[n-1], spare[:n-1]
			}
			if p.data = read.next(p.data); p.data == nil {
				break
			}
			p.scan, p.done = s.alike(p.data, p.scan.points.emptied()), make(chan struct{})
			queue = append(queue, p)
			todo <- p
		}
		if len(queue) == 0 {
			break
		}
		p := queue[0]
		<-p.done
		if usable = p.good && s.join(&p.scan); usable {
			at, queue = at+int64(len(p.data)), queue[1:]
			spare = append(spare, p)
		} else {
			a.wait *= 2
		}
	}
	close(todo)
	group.Wait()
	var back []io.Reader
	for _, p := range queue {
		back = append(back, bytes.NewReader(p.data))
	}
	s.r = io.MultiReader(append(back, bytes.NewReader(read.rest), read.left())...)
	s.pos, s.end, s.before, s.eof = 0, 0, at, false
	a.from = at + a.wait
}

// settled says whether features can be read without knowing those before them: what the file says only once is known.
func (s *trackScan) settled() bool {
	j := &s.states
	return s.err == nil && s.points != nil && s.sections == nil && s.notes.dates == (tableClock{}) && !s.notes.clock.seen && (len(j.others) == 0 || !j.looking())
}

// border is the text from the brace that ends a feature to the first key of the next, and that it is a feature where this
// stands there; nil: something else comes.
func (s *trackScan) border() []byte {
	s.need(maxNumber)
	if s.pos == 0 {
		return nil
	}
	b := s.buf[s.pos-1 : s.end]
	i := 0
	for _, c := range []byte(`},{"`) {
		for i < len(b) && bytes.IndexByte([]byte(" \t\r\n"), b[i]) >= 0 {
			i++
		}
		if i == len(b) || b[i] != c {
			return nil
		}
		i++
	}
	key := plain(b[i:])
	if key < 0 {
		return nil
	}
	i += key + 1
	for _, kind := range []string{`:"Feature"`, `: "Feature"`} {
		if bytes.HasPrefix(b[i:], []byte(kind)) {
			i += len(kind)
		}
	}
	return slices.Clone(b[:i])
}

// cutting cuts a stream behind features.
type cutting struct {
	r      io.Reader
	rest   []byte // read, and not given yet
	mark   []byte
	size   int
	ended  bool
	failed error
}

// next is the next piece, in the room of one before if that is large enough; nil: what is left is no whole one.
func (c *cutting) next(room []byte) []byte {
	if c.ended {
		return nil
	}
	size := max(c.size, 2*len(c.rest))
	if cap(room) < size {
		room = make([]byte, size)
	}
	buf := room[:size]
	n := copy(buf, c.rest)
	more, err := io.ReadFull(c.r, buf[n:])
	if buf = buf[:n+more]; err != nil {
		c.ended = true
		if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			c.failed = err
		}
	}
	cut := bytes.LastIndex(buf, c.mark)
	if cut < 0 {
		c.rest, c.ended = buf, true
		return nil
	}
	c.rest = append(c.rest[:0], buf[cut+1:]...)
	return buf[:cut+1]
}

// left is what has not been read.
func (c *cutting) left() io.Reader {
	if c.failed != nil {
		return broken{c.failed}
	}
	return c.r
}

// broken is a stream that cannot be read on.
type broken struct{ err error }

func (b broken) Read([]byte) (int, error) { return 0, b.err }

// alike is a scan of a piece that knows what s knows.
func (s *trackScan) alike(data []byte, points *growing) trackScan {
	w := trackScan{pull: pullBytes(data), ahead: ahead{byKeys: s.ahead.byKeys}, notes: tally{file: s.notes.file, clock: s.notes.clock}, planned: s.planned,
		numbering: numbering{wanted: s.wanted, section: s.section}, points: points, tracks: []*growing{points}}
	w.states = s.states
	w.states.names, w.states.index, w.states.values = nil, maps.Clone(s.states.index), slices.Clone(s.states.values)
	for i := range w.states.values {
		w.states.values[i].count = 0
	}
	return w
}

// whole reads the features of a piece, and says whether it holds whole ones and nothing that hangs on those before.
func (s *trackScan) whole() bool {
	for !s.atEnd() {
		if !s.take(',') || s.peek() != '{' {
			return false
		}
		s.record++
		s.feature(1)
	}
	pass := s.points.came.Pass
	return s.err == nil && s.settled() && len(s.tracks) == 1 && s.tracks[0] == s.points && !s.crs.present && !s.points.came.States &&
		s.states.beyond == 0 && len(s.notes.index) == len(s.notes.list) && (len(pass) == 0 || pass[0] != geo.NoPass)
}

// join appends what was read in the next piece; false, and nothing is changed: it does not go on as before.
func (s *trackScan) join(w *trackScan) bool {
	g, from := s.points, w.points
	n, m := g.fixes(), from.fixes()
	if m > 0 && (len(g.came.Pass) > 0) != (len(from.came.Pass) > 0) {
		return false
	}
	codes, ok := s.states.codes(&w.states, s.record)
	if !ok {
		return false
	}
	s.notes.join(&w.notes, s.record)
	s.record += w.record
	if m == 0 {
		return true
	}
	for i, c := range from.State {
		from.State[i] = codes[c]
	}
	if len(from.came.Pass) > 0 {
		keys := make([]passKey, len(w.passes.seen))
		for k, i := range w.passes.seen {
			keys[i] = k
		}
		if keys[0] != s.pass {
			g.endPart()
		}
		numbers := make([]int32, len(keys))
		for i, k := range keys {
			numbers[i] = s.passes.of(k)
		}
		for i, p := range from.came.Pass {
			from.came.Pass[i] = numbers[p]
		}
		s.pass = w.pass
	}
	for _, e := range from.ends {
		g.ends = append(g.ends, 3*n+e)
	}
	g.flat = append(g.flat, from.flat...)
	g.has |= from.has
	g.told.join(&from.told)
	g.Columns.Join(n, from.Columns, m)
	g.course = joined(g.course, n, from.course, m, geo.Bearing(math.NaN()))
	g.came.Order = joined(g.came.Order, n, from.came.Order, m, math.NaN())
	g.came.Apart = joined(g.came.Apart, n, from.came.Apart, m, math.NaN())
	g.came.Pass = append(g.came.Pass, from.came.Pass...)
	return true
}

// joined is a column of n fixes with that of m more behind it; nil if neither is there.
func joined[T any](column []T, n int, more []T, m int, absent T) []T {
	switch {
	case len(more) > 0:
		return append(padTo(column, n, absent), more...)
	case len(column) > 0:
		return padTo(column, n+m, absent)
	}
	return nil
}
