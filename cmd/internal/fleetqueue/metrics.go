package fleetqueue

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"cogledger/analysis/fleet/store/postgres"
)

// counters are what a worker tells of its work.
type counters struct {
	registry *prometheus.Registry
	logs     *prometheus.CounterVec
	seconds  prometheus.Counter
	took     prometheus.Histogram
}

func newCounters() *counters {
	c := &counters{
		registry: prometheus.NewRegistry(),
		logs: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "cogledger_logs_total",
			Help: "Logs taken from the queue, by how they ended: reviewed, copy, unusable, gone, or again where they will be tried again."}, []string{"end"}),
		seconds: prometheus.NewCounter(prometheus.CounterOpts{Name: "cogledger_ride_seconds_total", Help: "Seconds of riding reviewed."}),
		took: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "cogledger_log_duration_seconds",
			Help: "Time from taking a log to its result in the store.", Buckets: prometheus.ExponentialBuckets(0.005, 2, 15)}),
	}
	c.registry.MustRegister(c.logs, c.seconds, c.took, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return c
}

func (c *counters) done(end string, seconds int64, took time.Duration) {
	c.logs.WithLabelValues(end).Inc()
	c.seconds.Add(float64(seconds))
	c.took.Observe(took.Seconds())
}

// gauge asks the queue, when asked itself, how much waits in it.
type gauge struct {
	store  *postgres.Store
	waits  *prometheus.Desc
	logger *slog.Logger
}

func newGauge(s *postgres.Store, logger *slog.Logger) *gauge {
	return &gauge{s, prometheus.NewDesc("cogledger_queue_logs", "Logs in the queue that are not done with, by state.", []string{"state"}, nil), logger}
}

// Describe implements prometheus.Collector.
func (d *gauge) Describe(to chan<- *prometheus.Desc) { to <- d.waits }

// Collect implements prometheus.Collector.
func (d *gauge) Collect(to chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	all, err := depths(ctx, d.store)
	if err != nil {
		d.logger.Warn("the queue's depth is not known", "error", err.Error())
		return
	}
	counts := make(map[string]int64)
	for _, d := range all {
		counts[d.State] += d.Logs
	}
	for _, state := range []string{"available", "running", "retryable", "scheduled"} {
		to <- prometheus.MustNewConstMetric(d.waits, prometheus.GaugeValue, float64(counts[state]), state)
	}
}

// listen serves /healthz, /readyz and /metrics until the context ends.
func listen(ctx context.Context, address string, s *postgres.Store, c *counters, logger *slog.Logger) (net.Addr, error) {
	if err := c.registry.Register(newGauge(s, logger)); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "alive") })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), 2*time.Second)
		defer cancel()
		if err := s.Pool().Ping(ctx); err != nil {
			http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
			return
		}
		fmt.Fprintln(w, "ready")
	})
	mux.Handle("GET /metrics", promhttp.HandlerFor(c.registry, promhttp.HandlerOpts{}))
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("--listen %s: %w", address, err)
	}
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	go func() {
		<-ctx.Done()
		server.Close()
	}()
	go func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			logger.Error("the metrics are not served any more", "error", err.Error())
		}
	}()
	return l.Addr(), nil
}
