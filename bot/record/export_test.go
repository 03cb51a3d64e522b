package record_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
)

// thousand is a store with a thousand results, one a minute.
func thousand(t *testing.T) (*storetest.Memory, time.Time) {
	noon := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	s := storetest.NewMemory(time.Now)
	for i := range 1000 {
		m := record.Result{
			ID: fmt.Sprintf("KALOMI-%04d", i), Version: 1, Surface: "slack", Message: fmt.Sprint(i), At: noon.Add(time.Duration(i) * time.Minute),
			Expires: noon.Add(time.Duration(i)*time.Minute + 6*time.Hour), Asked: record.Person{Address: "slack:U1", Name: "=cmd()"},
			Text:    "-38 elev 4802: \"8200\",\n7400",
			Numbers: []record.Number{{Label: "FAF", PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8990}},
			Reply:   reply.Reply{Kind: reply.KindCorrection, TemperatureC: reply.Some(-38), Required: reply.Yes},
		}
		if _, err := s.AddRecords(t.Context(), []record.Result{m}); err != nil {
			t.Fatal(err)
		}
	}
	return s, noon
}

func TestExport(t *testing.T) {
	s, noon := thousand(t)
	r, _, err := s.Record(t.Context(), "KALOMI-0007")
	if err != nil {
		t.Fatal(err)
	}
	k := record.Check{By: record.Person{Address: "slack:U2", Name: "Bo"}, At: noon, How: record.Confirmed}
	if held, err := s.Apply(t.Context(), r, record.Change{Kind: record.KindChecked, At: noon, Check: &k}); !held || err != nil {
		t.Fatal(held, err)
	}
	now := func() time.Time { return noon.Add(time.Hour) }
	var out bytes.Buffer
	export := record.Export{Store: s, Now: now, By: "v1.2"}
	if err := export.CSV(t.Context(), record.Query{}, &out); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != 1001 {
		t.Fatalf("%d rows, %v, want a thousand under their columns", len(rows), err)
	}
	at := map[string]int{}
	for i, c := range rows[0] {
		at[c] = i
	}
	if len(at) != len(record.Columns()) {
		t.Errorf("columns %q", rows[0])
	}
	for column, want := range map[string]string{
		"id": "KALOMI-0007", "state": "checked", "asked_at": "2026-01-15T12:07:00Z", "asked_name": "'=cmd()", "text": "'-38 elev 4802: \"8200\",\n7400",
		"temperature_c": "-38", "required": "true", "altitudes": "FAF 8200=9000", "checks": "slack:U2 confirm agrees 2026-01-15T12:00:00Z",
		"checked_by": "slack:U2", "checked_at": "2026-01-15T12:00:00Z", "checked_how": "confirm", "expires_at": "2026-01-15T18:07:00Z", "exported_by": "v1.2",
	} {
		if got := rows[8][at[column]]; got != want {
			t.Errorf("%s is %q, want %q", column, got, want)
		}
	}
	out.Reset()
	if err := export.JSON(t.Context(), record.Query{From: noon.Add(10 * time.Minute), To: noon.Add(20 * time.Minute)}, &out); err != nil {
		t.Fatal(err)
	}
	n := 0
	for dec := json.NewDecoder(&out); ; n++ {
		var row record.Row
		if err := dec.Decode(&row); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if want := fmt.Sprintf("KALOMI-%04d", 10+n); row.ID != want || row.AskedName != "=cmd()" || !row.AskedAt.Equal(noon.Add(time.Duration(10+n)*time.Minute)) {
			t.Errorf("row %d is %+v, want %s", n, row, want)
		}
	}
	if n != 10 {
		t.Errorf("%d rows from 12:10 to 12:20, want 10", n)
	}
}

// broken is a writer whose other end is gone.
type broken struct{ after int }

func (b *broken) Write(p []byte) (int, error) {
	if b.after -= len(p); b.after < 0 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}

// An export does not go on for nobody.
func TestExportStops(t *testing.T) {
	s, _ := thousand(t)
	export := record.Export{Store: s, Now: time.Now}
	for name, write := range map[string]func() error{
		"csv":  func() error { return export.CSV(t.Context(), record.Query{}, &broken{1000}) },
		"json": func() error { return export.JSON(t.Context(), record.Query{}, &broken{1000}) },
	} {
		if err := write(); !errors.Is(err, io.ErrClosedPipe) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestProve(t *testing.T) {
	s, _ := thousand(t)
	var out strings.Builder
	if err := record.Prove(t.Context(), s, &out); err != nil || !strings.HasPrefix(out.String(), "the history is sound: 1000 entries, 1000 records, head 1000 ") {
		t.Errorf("%v, %q", err, out.String())
	}
	head, err := s.Head(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	out.Reset()
	if err := record.Prove(t.Context(), s, &out, head); err != nil || !strings.HasSuffix(out.String(), "\nentry 1000 is the one that was written down\n") {
		t.Errorf("%v, %q", err, out.String())
	}
	out.Reset()
	if err := record.Prove(t.Context(), s, &out, record.Head{}); err != nil || !strings.HasSuffix(out.String(), "\nthe head that was written down is of an empty history: nothing was held against it\n") {
		t.Errorf("%v, %q", err, out.String())
	}
	s.Tamper(func(all []record.Sealed) []record.Sealed {
		all[499].Body = bytes.Replace(all[499].Body, []byte("slack:U1"), []byte("slack:U9"), 1)
		return append(all[:700:700], all[701:]...)
	})
	s.TamperRecord("KALOMI-0003", func(made, live []byte) ([]byte, []byte) {
		return bytes.Replace(made, []byte("9000"), []byte("8200"), 1), live
	})
	out.Reset()
	err = record.Prove(t.Context(), s, &out)
	if !errors.Is(err, record.ErrBroken) {
		t.Errorf("a history that was changed: %v", err)
	}
	want := "entry 500 (KALOMI-0499) was changed: its hash is another\n" +
		"entry 701 is missing\n" +
		"record KALOMI-0003 was changed after it was made\n" +
		"record KALOMI-0700 is in no entry of the history\n"
	if out.String() != want {
		t.Errorf("got:\n%swant:\n%s", out.String(), want)
	}
}
