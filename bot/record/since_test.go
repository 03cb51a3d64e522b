package record_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
)

// TestVerifySince: what one store alone cannot show, a head shows that somebody
// has written down.
func TestVerifySince(t *testing.T) {
	const n = 5
	filled := func(text string) *storetest.Memory {
		s := storetest.NewMemory(time.Now)
		for i := range n {
			m := result().Result
			m.ID, m.Message, m.Text = fmt.Sprintf("KALOMI-%04d", i), fmt.Sprint(i), text
			if _, err := s.AddRecords(t.Context(), []record.Result{m}); err != nil {
				t.Fatal(err)
			}
		}
		return s
	}
	s := filled("XKLD -38 8200")
	head, err := s.Head(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	again, err := record.ReadHead(" " + head.String() + "\n")
	if err != nil || again != head {
		t.Fatalf("ReadHead(%q) = %v, %v", head, again, err)
	}
	for _, bad := range []string{"", "5", "x " + head.String(), "5 " + strings.Repeat("0", 63), "-1 " + strings.Repeat("0", 64), "0 " + strings.Repeat("f", 64)} {
		if h, err := record.ReadHead(bad); err == nil {
			t.Errorf("ReadHead(%q) = %v", bad, h)
		}
	}
	for _, c := range []struct {
		name string
		in   *storetest.Memory
		old  record.Head
		want string
	}{
		{"the same", s, head, ""},
		{"the empty history", s, record.Head{}, ""},
		{"all hashes made anew", filled("XKLD -38 9400"), head, "entry 5 is another than the one that was written down"},
		{"cut off", storetest.NewMemory(time.Now), head, "entry 5 was written down, and the history ends at 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			alone, err := record.Verify(t.Context(), c.in)
			if err != nil || len(alone.Findings) > 0 {
				t.Fatalf("alone it is %+v, %v, want sound", alone.Findings, err)
			}
			rep, err := record.Verify(t.Context(), c.in, c.old)
			if err != nil || (len(rep.Findings) > 0) != (c.want != "") || c.want != "" && !strings.Contains(rep.Findings[0].Text, c.want) {
				t.Errorf("findings %+v, %v, want %q", rep.Findings, err, c.want)
			}
		})
	}
	t.Run("gone by the retention", func(t *testing.T) {
		s := filled("XKLD -38 8200")
		late := noon.Add(7 * time.Hour)
		for i := range n {
			r, _, err := s.Record(t.Context(), fmt.Sprintf("KALOMI-%04d", i))
			if err != nil {
				t.Fatal(err)
			}
			if held, err := s.Apply(t.Context(), r, record.Change{Kind: record.KindExpired, At: late}); !held || err != nil {
				t.Fatal(held, err)
			}
		}
		head, err := s.Head(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Prune(t.Context(), late, late); err != nil {
			t.Fatal(err)
		}
		// Of what a head within retain_days says nothing went, the head itself least:
		// whoever removes all up to it would write down a retention that ends there.
		if rep, err := record.Verify(t.Context(), s, head); err != nil || len(rep.Findings) != 1 || !strings.Contains(rep.Findings[0].Text, "went by the retention") {
			t.Errorf("the head that went as the last: %+v, %v", rep.Findings, err)
		}
		rep, err := record.Verify(t.Context(), s)
		if want := "(those up to 10 went by retain_days on 15 Jan 2026, the oldest entry left is of 15 Jan 2026)"; err != nil || !strings.Contains(rep.String(), want) {
			t.Errorf("without a head: %q, %v, want %q in it", rep, err, want)
		}
		if rep, err := record.Verify(t.Context(), s, record.Head{Seq: 2}); err != nil || len(rep.Findings) != 1 || !strings.Contains(rep.Findings[0].Text, "went by the retention") || !strings.Contains(rep.Findings[0].Text, "within retain_days somebody took") {
			t.Errorf("an older head: %+v, %v", rep.Findings, err)
		}
	})
}

// TestVerifyAppended: what somebody with the store's file writes behind a head
// that was written down has its hashes right, and changes nothing before it.
func TestVerifyAppended(t *testing.T) {
	yesterday := noon.AddDate(0, 0, -1)
	k := record.Check{By: record.Person{Address: "slack:U2"}, At: yesterday, How: record.Confirmed}
	for _, c := range []struct {
		name         string
		forge        func(s *storetest.Memory, r record.Record) error
		finds, notes string
	}{
		{"a record, made anew", func(s *storetest.Memory, _ record.Record) error {
			var sum [sha256.Size]byte
			s.TamperRecord("KALOMI-RUTA", func(made, live []byte) ([]byte, []byte) {
				made = bytes.ReplaceAll(made, []byte("9000"), []byte("8200"))
				sum = sha256.Sum256(made)
				return made, live
			})
			return s.Forge(record.Entry{Record: "KALOMI-RUTA", Made: hex.EncodeToString(sum[:]), Change: record.Change{Kind: record.KindMade, At: noon}})
		}, "entry 2 has record KALOMI-RUTA made a second time", ""},
		{"the end of a record that is gone", func(s *storetest.Memory, _ record.Record) error {
			return s.Forge(record.Entry{Record: "TORIKI-HILA", Rev: 1, Change: record.Change{Kind: record.KindExpired, At: noon}})
		}, "record TORIKI-HILA is missing, and so is the entry that made it", ""},
		{"a check of the day before", func(s *storetest.Memory, r record.Record) error {
			_, err := s.Apply(t.Context(), r, record.Change{Kind: record.KindChecked, At: yesterday, Check: &k})
			return err
		}, "", "entry 2 (KALOMI-RUTA) says 14 Jan 2026 12:00Z, and stands behind entry 1 of 15 Jan 2026 12:00Z, which was written down: it was kept late, or put there later"},
		{"a check of the same minute", func(s *storetest.Memory, r record.Record) error {
			_, err := s.Apply(t.Context(), r, record.Change{Kind: record.KindChecked, At: noon.Add(-time.Minute), Check: &k})
			return err
		}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := storetest.NewMemory(time.Now)
			r := result()
			if _, err := s.AddRecords(t.Context(), []record.Result{r.Result}); err != nil {
				t.Fatal(err)
			}
			head, err := s.Head(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if err := c.forge(s, r); err != nil {
				t.Fatal(err)
			}
			rep, err := record.Verify(t.Context(), s, head)
			if err != nil {
				t.Fatal(err)
			}
			if found := fmt.Sprint(rep.Findings); (len(rep.Findings) > 0) != (c.finds != "") || !strings.Contains(found, c.finds) {
				t.Errorf("found %s, want %q", found, c.finds)
			}
			if got := strings.Join(rep.Notes, "\n"); got != c.notes {
				t.Errorf("notes %q, want %q", got, c.notes)
			}
		})
	}
}

// TestFieldChanged: a result whose station is configured otherwise now says so,
// once.
func TestFieldChanged(t *testing.T) {
	for _, c := range []struct {
		name  string
		field func(string) (record.Field, bool)
		want  string
	}{
		{"as it was", func(string) (record.Field, bool) {
			return record.Field{ElevationFt: 4802, Restriction: reply.Some(-25)}, true
		}, ""},
		{"another elevation", func(string) (record.Field, bool) {
			return record.Field{ElevationFt: 4820, Restriction: reply.Some(-25)}, true
		},
			"The field's figures changed: the elevation of XKLD is 4820 ft now, and 4802 ft was taken: recompute."},
		{"another restriction", func(string) (record.Field, bool) {
			return record.Field{ElevationFt: 4802, Restriction: reply.Some(-20)}, true
		},
			"the restriction temperature of XKLD is −20 °C now, and it was −25 °C: recompute."},
		{"no restriction any more", func(string) (record.Field, bool) { return record.Field{ElevationFt: 4802}, true },
			"the restriction temperature of XKLD is none now"},
		{"gone", func(string) (record.Field, bool) { return record.Field{}, false }, "XKLD is no station here any more"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newShop(t, nil)
			r := s.ask(s.Book, "m1", nil)
			if err := s.Written(t.Context()); err != nil {
				t.Fatal(err)
			}
			s.saw()
			now := s.another(func(o *record.Options) { o.Settings.Field = c.field })
			for range 2 {
				now.Sweep(t.Context())
			}
			got := s.saw()
			switch {
			case c.want == "":
				s.state(r.ID, record.Unchecked)
				if got != "" {
					t.Errorf("the cards show %q", got)
				}
			case strings.Count(got, c.want) != 1 || strings.Count(got, "change slack/card-m1") != 1:
				t.Errorf("the cards show %q, want %q once", got, c.want)
			default:
				s.state(r.ID, record.Recompute)
			}
			s.sound()
		})
	}
}
