package airports

import (
	"fmt"
	"runtime"
	"testing"

	"firn/engine"
)

func elevated(a Airport, ft float64) Airport {
	a.Elevation = engine.Altitude(ft)
	return a
}

func coldAt(d *Directory, at float64, n int) ([]Away, int) {
	return d.Cold(engine.Celsius(at), 46.9163, -113.9871, 200, n)
}

// many are made-up fields all over the northern winter.
func many(n int) []Airport {
	all := make([]Airport, n)
	syllables := []string{"kald", "moor", "run", "mere", "fern", "firth", "tarn", "whistle", "glen", "row", "sel", "thaven"}
	for i := range all {
		name := fmt.Sprintf("%s%s %s Regional Airport", syllables[i%12], syllables[i/12%12], syllables[i/144%12])
		a := field(fmt.Sprintf("X%c%c%c", 'A'+i/1296%26, base36(i/36), base36(i)), name, 35+float64(i%350)/10, -170+float64(i%1100)/10, float64(i%9000), open)
		if i%10 == 0 {
			a.Restriction, a.Restricted, a.RestrictedBy = engine.Celsius(-10-i/10%30), true, cold
		}
		all[i] = a
	}
	return all
}

func base36(i int) byte { return "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"[i%36] }

// BenchmarkDirectory20000 prints what is asked of a list of 20 000: each look-up
// under 50 ms, a few MiB held.
func BenchmarkDirectory20000(b *testing.B) {
	all := many(20000)
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	d, err := NewDirectory(all)
	if err != nil {
		b.Fatal(err)
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	held := float64(after.HeapAlloc-before.HeapAlloc) / (1 << 20)
	for _, c := range []struct {
		name string
		run  func()
	}{
		{"find", func() { d.Find("XKLD") }},
		{"search/ident", func() { d.Search("xk", 25) }},
		{"search/name", func() { d.Search("whistle", 25) }},
		{"search/nothing", func() { d.Search("qqqq", 25) }},
		{"misspelt/ident", func() { d.Misspelt("XKLD", 25) }},
		{"misspelt/name", func() { d.Misspelt("kaldmoer", 25) }},
		{"near", func() { d.Near(46.9, -114, 200, 25) }},
		{"cold", func() { d.Cold(-25, 46.9, -114, 200, 25) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				c.run()
			}
			b.ReportMetric(held, "MiB-held")
		})
	}
}
