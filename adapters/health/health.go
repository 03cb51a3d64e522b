// Package health serves what a duty engineer looks at: whether the process
// lives, whether it is ready, and its figures for Prometheus.
//
//   - Handler: /healthz, /readyz, /metrics
//   - app.Gauge: figures that are read when they are asked for
//   - Meters: figures that are counted as things happen
//
// Details are told to whoever asks on this machine; elsewhere it is the word
// alone, since the listener may be the page's, which others reach.
//
// Nothing it serves holds a message's text, a name or a secret.
package health

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"firn/bot/app"
)

// checkTime bounds one round of checks or one scrape.
const checkTime = 5 * time.Second

// Handler serves the three pages.
func Handler(log *slog.Logger, checks []app.Check, gauges []app.Gauge, more ...Collector) (http.Handler, error) {
	reg := prometheus.NewRegistry()
	if err := reg.Register(collectors.NewGoCollector()); err != nil {
		return nil, fmt.Errorf("metrics: %w", err)
	}
	if err := reg.Register(collectors.NewProcessCollector(collectors.ProcessCollectorOpts{})); err != nil {
		return nil, fmt.Errorf("metrics: %w", err)
	}
	for _, c := range more {
		if err := reg.Register(c); err != nil {
			return nil, fmt.Errorf("metrics: %w", err)
		}
	}
	for _, g := range gauges {
		if err := reg.Register(newReader(log, g)); err != nil {
			return nil, fmt.Errorf("metrics: %s: %w", g.Name, err)
		}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		fmt.Fprintln(w, "alive")
	})
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, r *http.Request) { ready(w, r, checks) })
	figures := promhttp.HandlerFor(reg, promhttp.HandlerOpts{Timeout: checkTime})
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		if inside(r) {
			figures.ServeHTTP(w, r)
			return
		}
		_, status := run(r, checks)
		value := 0
		if status == http.StatusOK {
			value = 1
		}
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		fmt.Fprintf(w, "# HELP firn_ready Whether firn is ready. The other figures are told on this machine alone.\n# TYPE firn_ready gauge\nfirn_ready %d\n", value)
	})
	return mux, nil
}

// forwarded are the headers that a proxy adds: what comes through one comes
// from elsewhere, whatever its address.
var forwarded = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"}

// inside says that a request comes from this machine, and was meant for it: a
// web page of somebody else's can have a browser here ask by another name.
func inside(r *http.Request) bool {
	for _, h := range forwarded {
		if r.Header.Get(h) != "" {
			return false
		}
	}
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !from.Addr().Unmap().IsLoopback() {
		return false
	}
	name := r.Host
	if host, _, err := net.SplitHostPort(name); err == nil {
		name = host
	}
	name = strings.Trim(name, "[]")
	to, err := netip.ParseAddr(name)
	return strings.EqualFold(name, "localhost") || err == nil && to.IsLoopback()
}

// run runs the checks; said is what each says.
func run(r *http.Request, checks []app.Check) (said map[string]string, status int) {
	ctx, cancel := context.WithTimeout(r.Context(), checkTime)
	defer cancel()
	status = http.StatusOK
	said = make(map[string]string, len(checks))
	for _, c := range checks {
		said[c.Name] = "ok"
		if err := c.Run(ctx); err != nil {
			said[c.Name] = err.Error()
			status = http.StatusServiceUnavailable
		}
	}
	return said, status
}

// ready says whether firn is ready, and on this machine which check failed.
func ready(w http.ResponseWriter, r *http.Request, checks []app.Check) {
	said, status := run(r, checks)
	if !inside(r) {
		word := "ready"
		if status != http.StatusOK {
			word = "not ready"
		}
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(status)
		fmt.Fprintln(w, word)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	// A reader who has gone needs no answer.
	_ = json.NewEncoder(w).Encode(said)
}

// reader is a Gauge as Prometheus collects it.
type reader struct {
	log  *slog.Logger
	g    app.Gauge
	desc *prometheus.Desc
}

func newReader(log *slog.Logger, g app.Gauge) *reader {
	return &reader{log, g, prometheus.NewDesc(g.Name, g.Help, g.Labels, nil)}
}

func (r *reader) Describe(ch chan<- *prometheus.Desc) { ch <- r.desc }

func (r *reader) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), checkTime)
	defer cancel()
	samples, err := r.g.Read(ctx)
	if err != nil {
		// The figure is missing from this scrape, which is what an alert on
		// its absence is for.
		r.log.Error("metric cannot be read", "metric", r.g.Name, "err", err)
		return
	}
	kind := prometheus.GaugeValue
	if r.g.Counter {
		kind = prometheus.CounterValue
	}
	for _, s := range samples {
		m, err := prometheus.NewConstMetric(r.desc, kind, s.Value, s.Labels...)
		if err != nil {
			r.log.Error("metric cannot be written", "metric", r.g.Name, "err", err)
			continue
		}
		ch <- m
	}
}
