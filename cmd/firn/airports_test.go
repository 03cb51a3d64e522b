package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// BenchmarkImportAirports20000 takes in a made-up coded file of 20 000 airports
// and a list of the same: at most 2 s, the borders of the time zones included.
func BenchmarkImportAirports20000(b *testing.B) {
	dir := b.TempDir()
	var coded, list bytes.Buffer
	digit := func(i int) byte { return "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"[i%36] }
	list.WriteString("ident,name,lat,lon,elevation_ft\n")
	fmt.Fprintf(&coded, "%-132s\n", "HDR01FAACIFP18      001P013203974672612  04-NOV-202609:43:22  U.S.A. DOT FAA")
	for i := range 20000 {
		ident := fmt.Sprintf("X%c%c%c", digit(i/1296), digit(i/36), digit(i))
		// Columns as in the records of testdata/cifp/sample.txt.
		line := fmt.Sprintf("SUSAP %sK6A%.3s     0     083YHN%02d281904W%03d091179W015%06d         1800018000C    MNAR    %-30s%05d2612", ident, ident, 30+i%35, 70+i%90, i%9000, fmt.Sprintf("KALDMOOR %d", i), i)
		coded.WriteString(line + "\n")
		fmt.Fprintf(&list, "%s,Kaldmoor %d,%d.472,-%d.153,%d\n", ident, i, 30+i%35, 70+i%90, i%9000+i%12)
	}
	if n := strings.Index(coded.String()[133:], "\n"); n != 132 {
		b.Fatalf("a record has %d columns", n)
	}
	for name, data := range map[string]*bytes.Buffer{"coded.txt": &coded, "list.csv": &list} {
		if err := os.WriteFile(filepath.Join(dir, name), data.Bytes(), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		c := importAirports{Files: []string{filepath.Join(dir, "coded.txt"), filepath.Join(dir, "list.csv")}, Out: filepath.Join(dir, "airports.csv")}
		if err := c.Run(b.Context(), host{stdout: io.Discard, stderr: io.Discard}); err != nil {
			b.Fatal(err)
		}
	}
	if info, err := os.Stat(filepath.Join(dir, "airports.csv")); err != nil || info.Size() < 20000*60 {
		b.Fatalf("%v, %v", info, err)
	}
}
