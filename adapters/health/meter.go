package health

import "github.com/prometheus/client_golang/prometheus"

// Collector is figures that are counted as things happen.
type Collector = prometheus.Collector

// Counter counts, by its labels.
type Counter struct{ *prometheus.CounterVec }

// NewCounter makes one.
func NewCounter(name, help string, labels ...string) Counter {
	return Counter{prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)}
}

// Add counts one more; values are the labels', in their order.
func (c Counter) Add(values ...string) { c.WithLabelValues(values...).Inc() }

// Histogram counts how long things take, by its labels.
type Histogram struct{ *prometheus.HistogramVec }

// NewHistogram makes one; the bounds are in seconds.
func NewHistogram(name, help string, bounds []float64, labels ...string) Histogram {
	return Histogram{prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: name, Help: help, Buckets: bounds}, labels)}
}

// Took counts one that took so many seconds.
func (h Histogram) Took(seconds float64, values ...string) {
	h.WithLabelValues(values...).Observe(seconds)
}
