package storetest

import (
	"fmt"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/record"
)

// Benchmark measures the way of one alert with one post: opened, claimed,
// done. Each is its own transaction.
func Benchmark(b *testing.B, s Store) {
	ctx := b.Context()
	seq := 0
	for b.Loop() {
		seq++
		a := alert(seq)
		p := post(a, "page")
		p.Body = fullReply()
		if fresh, err := s.Open(ctx, a, []outbox.Item{p}); !fresh || err != nil {
			b.Fatalf("Open = %v, %v", fresh, err)
		}
		claims, err := s.Claim(ctx, later, time.Minute, 1)
		if err != nil || len(claims) != 1 {
			b.Fatalf("Claim = %v, %v", claims, err)
		}
		if held, err := s.Done(ctx, claims[0], "ref", later); !held || err != nil {
			b.Fatalf("Done = %v, %v", held, err)
		}
	}
	b.ReportMetric(float64(seq)/b.Elapsed().Seconds(), "alerts/s")
}

// BenchmarkRecords measures how many records a second are kept, in the batches
// in which they come behind the answers.
func BenchmarkRecords(b *testing.B, s Store) {
	const batch = 256
	n := 0
	for b.Loop() {
		all := make([]record.Result, batch)
		for i := range all {
			all[i] = fullMade()
			all[i].ID, all[i].Message, all[i].Replaces = fmt.Sprint(n), fmt.Sprint(n), ""
			n++
		}
		if _, err := s.AddRecords(b.Context(), all); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "records/s")
}
