package many

import (
	"context"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Meters are what a worker counts.
type Meters struct {
	registry   *prometheus.Registry
	operations *prometheus.CounterVec
	logs       prometheus.Counter
	deaths     prometheus.Counter
	rescued    prometheus.Counter
	took       prometheus.Histogram
	beat       atomic.Int64 // when the database last answered, ns since 1970; 0 = it has not yet
}

// NewMeters makes those of a worker.
func NewMeters() *Meters {
	m := &Meters{
		registry:   prometheus.NewRegistry(),
		operations: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "balk_operations_total", Help: "Operations whose result was kept, by what became of them."}, []string{"state"}),
		logs:       prometheus.NewCounter(prometheus.CounterOpts{Name: "balk_logs_surveyed_total", Help: "Logs that were looked at."}),
		deaths:     prometheus.NewCounter(prometheus.CounterOpts{Name: "balk_child_deaths_total", Help: "Processes that ended with an operation in hand, by limit of memory or time or a fault of balk."}),
		rescued:    prometheus.NewCounter(prometheus.CounterOpts{Name: "balk_bundles_rescued_total", Help: "Bundles of workers that were not heard of, given back to the queue by this one."}),
		took:       prometheus.NewHistogram(prometheus.HistogramOpts{Name: "balk_operation_seconds", Help: "Time that one log or operation took in its process.", Buckets: prometheus.ExponentialBuckets(0.01, 2, 16)}),
	}
	m.registry.MustRegister(m.operations, m.logs, m.deaths, m.rescued, m.took, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
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
	mux.Handle("GET /metrics", promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{}))
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
