package pagestate_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"firn/bot/pagestate"
	"firn/bot/testkit/storetest"
)

// full is a store whose disk is full: it can be read.
type full struct {
	*pagestate.Memory
	is    bool
	early bool // it refuses before it has looked
}

func (f *full) Edit(ctx context.Context, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	if !f.is {
		return f.Memory.Edit(ctx, place, id, at, change)
	}
	if !f.early {
		e, found, _ := f.Memory.Entry(ctx, place, id)
		if !found {
			e = pagestate.Entry{Place: place, ID: id}
		}
		change(e, found)
	}
	return errors.New("disk full")
}

func TestSpareIsAStore(t *testing.T) {
	storetest.RunRoom(t, func(*testing.T) pagestate.Store { return pagestate.NewSpare(pagestate.NewMemory()) })
}

// TestSpare: what the store does not take is shown, marked, and is the store's
// with the next edit that it takes.
func TestSpare(t *testing.T) {
	for _, early := range []bool{false, true} {
		f := &full{Memory: pagestate.NewMemory(), early: early}
		refused := 0
		s := pagestate.NewSpare(f)
		s.Refused = func(context.Context, string, error) { refused++ }
		at := time.Date(2026, 1, 25, 12, 0, 0, 0, time.UTC)
		put := func(id, body string, files [][]byte) {
			t.Helper()
			at = at.Add(time.Minute)
			err := s.Edit(t.Context(), "talk", id, at, func(e pagestate.Entry, found bool) (pagestate.Entry, bool) {
				if !found {
					e.Made = at
				}
				e.Body, e.Files = e.Body+body, files
				return e, true
			})
			if err != nil {
				t.Errorf("put %s: %v", id, err)
			}
		}
		put("1", "a", [][]byte{[]byte("one")})
		_, before, _ := s.Since(t.Context(), "talk", 0)
		f.is = true
		put("1", "b", nil)
		put("2", "c", [][]byte{[]byte("two")})
		all, rev, err := s.Since(t.Context(), "talk", before)
		if err != nil || len(all) != 2 || all[0].Body != "ab" || all[1].Body != "c" || !all[0].Unkept || !all[1].Unkept || rev <= before || refused != 2 {
			t.Fatalf("refused early %v: %+v, %d, %v", early, all, rev, err)
		}
		for id, want := range map[string]string{"1": "one", "2": "two"} {
			if data, found, err := s.File(t.Context(), "talk", id, 0); string(data) != want || !found || err != nil {
				t.Errorf("the file of %s is %q, %v, %v", id, data, found, err)
			}
		}
		if _, kept, _ := f.Memory.Entry(t.Context(), "talk", "2"); kept {
			t.Error("the store has it")
		}
		f.is = false
		put("2", "d", nil)
		e, kept, _ := f.Memory.Entry(t.Context(), "talk", "2")
		if data, _, _ := f.Memory.File(t.Context(), "talk", "2", 0); !kept || e.Body != "cd" || string(data) != "two" {
			t.Errorf("the store has %+v with %q", e, data)
		}
		if e, _, _ := s.Entry(t.Context(), "talk", "2"); e.Unkept {
			t.Error("it is still marked")
		}
		if err := s.Forget(t.Context(), "talk"); err != nil {
			t.Fatal(err)
		}
		if all, _, _ := s.Since(t.Context(), "talk", 0); len(all) != 0 {
			t.Errorf("forgotten, and there is %+v", all)
		}
	}
}
