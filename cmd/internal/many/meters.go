package many

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"balk/cmd/internal/batch"
)

// Meters are what a worker counts. They are told in the text form that readers of metrics know (version 0.0.4,
// https://prometheus.io/docs/instrumenting/exposition_formats/), which is written here: the usual library for it brings 45 packages and more
// than 2 MiB, most of them for another form.
type Meters struct {
	judged, noWork, failed, logs, deaths, rescued atomic.Int64

	took durations
	beat atomic.Int64 // when the database last answered, ns since 1970; 0 = it has not yet
}

// NewMeters makes those of a worker.
func NewMeters() *Meters { return new(Meters) }

// bounds are the upper ends of the classes of durations, s.
var bounds = [...]float64{0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100, 300, 1000}

// durations are counted by classes.
type durations struct {
	mu    sync.Mutex
	below [len(bounds)]int64 // or at the bound
	n     int64
	sum   float64 // s
}

// add counts one.
func (d *durations) add(took time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.n++
	d.sum += took.Seconds()
	for i, most := range bounds {
		if took.Seconds() <= most {
			d.below[i]++
		}
	}
}

// count counts a row whose result was kept.
func (m *Meters) count(s batch.State) {
	switch s {
	case batch.Judged:
		m.judged.Add(1)
	case batch.NoWork:
		m.noWork.Add(1)
	default:
		m.failed.Add(1)
	}
}

// tell writes all meters.
func (m *Meters) tell(w io.Writer) error {
	var b strings.Builder
	meter := func(name, kind, help string) { fmt.Fprintf(&b, "# HELP %s %s\n# TYPE %s %s\n", name, help, name, kind) }
	meter("balk_operations_total", "counter", "Operations whose result was kept, by what became of them.")
	fmt.Fprintf(&b, "balk_operations_total{state=\"judged\"} %d\nbalk_operations_total{state=\"no work\"} %d\nbalk_operations_total{state=\"failed\"} %d\n", m.judged.Load(), m.noWork.Load(), m.failed.Load())
	for _, c := range []struct {
		name, help string
		n          *atomic.Int64
	}{
		{"balk_logs_surveyed_total", "Logs that were looked at.", &m.logs},
		{"balk_child_deaths_total", "Processes that ended with a log or operation in hand, by a limit or a fault of balk.", &m.deaths},
		{"balk_bundles_rescued_total", "Bundles of workers that were not heard of, given back to the queue by this one.", &m.rescued},
	} {
		meter(c.name, "counter", c.help)
		fmt.Fprintf(&b, "%s %d\n", c.name, c.n.Load())
	}
	meter("balk_operation_seconds", "histogram", "Time that one log or operation took in its process.")
	m.took.mu.Lock()
	for i, most := range bounds {
		fmt.Fprintf(&b, "balk_operation_seconds_bucket{le=\"%g\"} %d\n", most, m.took.below[i])
	}
	fmt.Fprintf(&b, "balk_operation_seconds_bucket{le=\"+Inf\"} %d\nbalk_operation_seconds_sum %g\nbalk_operation_seconds_count %d\n", m.took.n, m.took.sum, m.took.n)
	m.took.mu.Unlock()
	var mem runtime.MemStats
	runtime.ReadMemStats(&mem)
	meter("go_memstats_heap_inuse_bytes", "gauge", "Memory in use by this process, its children apart.")
	fmt.Fprintf(&b, "go_memstats_heap_inuse_bytes %d\n", mem.HeapInuse)
	meter("go_goroutines", "gauge", "Goroutines of this process.")
	fmt.Fprintf(&b, "go_goroutines %d\n", runtime.NumGoroutine())
	_, err := io.WriteString(w, b.String())
	return err
}

// beaten notes whether the database answered.
func (m *Meters) beaten(answered bool) {
	if answered {
		m.beat.Store(time.Now().UnixNano())
	}
}

// handler answers at /metrics, and at /healthz: 200 while the database answered within a lease, else 503.
func (m *Meters) handler(lease time.Duration) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /metrics", func(out http.ResponseWriter, _ *http.Request) {
		out.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		_ = m.tell(out) // who asked may have gone: then there is no one to tell
	})
	mux.HandleFunc("GET /healthz", func(out http.ResponseWriter, _ *http.Request) {
		since := time.Since(time.Unix(0, m.beat.Load()))
		out.Header().Set("Content-Type", "application/json")
		if since > lease {
			out.WriteHeader(http.StatusServiceUnavailable)
		}
		// Who asked may have gone: then there is no one to tell.
		_ = json.NewEncoder(out).Encode(map[string]any{"healthy": since <= lease, "databaseAnsweredSecondsAgo": int(since.Seconds())})
	})
	return mux
}

// Serve answers on an address until ctx ends. What comes from ends is why it stopped, nil if ctx ended.
func (m *Meters) Serve(ctx context.Context, address string, lease time.Duration) (ends <-chan error, err error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, err
	}
	s := &http.Server{Handler: m.handler(lease), ReadHeaderTimeout: 5 * time.Second}
	context.AfterFunc(ctx, func() { _ = s.Close() })
	said := make(chan error, 1)
	go func() {
		err := s.Serve(l)
		if errors.Is(err, http.ErrServerClosed) {
			err = nil
		}
		said <- err
	}()
	return said, nil
}
