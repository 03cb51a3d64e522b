package sqlstore_test

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/sqlstore"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// board is a surface that shows whatever it is sent, also twice.
type board struct {
	mu    sync.Mutex
	shown []string
}

func (b *board) Send(_ context.Context, p outbox.Post) (string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.shown = append(b.shown, p.Key)
	return p.Key, nil
}

func (b *board) Find(_ context.Context, _, key string) (string, bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, k := range b.shown {
		if k == key {
			return k, true, nil
		}
	}
	return "", false, nil
}

// drain posts all that waits.
func drain(t *testing.T, s *sqlstore.SQLite, b *board) {
	t.Helper()
	o := outbox.New(slog.New(slog.DiscardHandler), time.Now, s, map[string]outbox.Sender{"page": b}, outbox.Settings{})
	for range 10 {
		if _, err := o.Deliver(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if l, err := s.Backlog(t.Context()); err != nil || l.Waiting > 0 {
		t.Fatalf("Backlog = %+v, %v", l, err)
	}
}

// morning opens a base's alert of today.
func morning(t *testing.T, s *sqlstore.SQLite, base string) {
	t.Helper()
	now := time.Now()
	a := watch.Alert{Base: base, Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: now}
	key := "alert/" + base + "/2026-01-15/1"
	if _, err := s.Open(t.Context(), a, []outbox.Item{{Key: key, Channel: "page", Made: now, Due: now}}); err != nil {
		t.Fatal(err)
	}
}

// TestRestoredPostsOnce puts copies back in every way that people do it: what
// was posted since is neither posted again from the queue nor opened again.
func TestRestoredPostsOnce(t *testing.T) {
	move := func(t *testing.T, from, to string) {
		t.Helper()
		b, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	backup := func(t *testing.T, s *sqlstore.SQLite, path, copy string) {
		t.Helper()
		if err := s.Backup(t.Context(), copy); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name          string
		copy, restore func(t *testing.T, s *sqlstore.SQLite, path, copy string)
	}{
		{"firn backup and restore", backup, func(t *testing.T, _ *sqlstore.SQLite, path, copy string) {
			if _, err := sqlstore.Restore(t.Context(), copy, path); err != nil {
				t.Fatal(err)
			}
		}},
		{"firn backup and cp", backup, func(t *testing.T, _ *sqlstore.SQLite, path, copy string) { move(t, copy, path) }},
		{"cp of the files and back", func(t *testing.T, s *sqlstore.SQLite, path, copy string) {
			move(t, path, copy)
			move(t, path+"-wal", copy+"-wal")
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			// The store was opened again before it was lost.
			if err := openFile(t, path).Close(); err != nil {
				t.Fatal(err)
			}
		}, func(t *testing.T, _ *sqlstore.SQLite, path, copy string) {
			move(t, copy, path)
			move(t, copy+"-wal", path+"-wal")
		}},
		{"cp to another folder", func(t *testing.T, _ *sqlstore.SQLite, path, copy string) {
			move(t, path, copy)
			move(t, path+"-wal", copy+"-wal")
		}, func(t *testing.T, _ *sqlstore.SQLite, path, copy string) {
			if err := os.Remove(path + "-opening"); err != nil {
				t.Fatal(err)
			}
			move(t, copy, path)
			move(t, copy+"-wal", path+"-wal")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			path, copy, b := temp(t), temp(t), &board{}
			s := openFile(t, path)
			morning(t, s, "XKLD") // in the copy, not sent yet
			place, reads, event := chat.PlaceNames()[0], chat.ReadNames()[0], "event/1"
			for _, name := range []string{place, reads, event} {
				if held, err := s.Lease(t.Context(), name, "one", time.Hour); err != nil || !held {
					t.Fatalf("Lease = %v, %v", held, err)
				}
			}
			c.copy(t, s, path, copy)
			s = openFile(t, path)
			morning(t, s, "XRUN") // not in the copy
			drain(t, s, b)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			for _, end := range []string{"", "-wal", "-shm"} {
				if err := os.Remove(path + end); err != nil && !os.IsNotExist(err) {
					t.Fatal(err)
				}
			}
			c.restore(t, s, path, copy)
			s = openFile(t, path)
			// Who served from the store does not serve from its copy, and what was
			// taken stays taken.
			if all, err := s.Held(t.Context(), place, reads, event); err != nil || len(all) != 3 || all[0].Left <= 0 || all[1].Left > 0 || all[2].Left > 0 {
				t.Errorf("Held = %+v, %v", all, err)
			}
			morning(t, s, "XRUN") // the watch does not know of it any more
			drain(t, s, b)
			if len(b.shown) != 2 {
				t.Errorf("shown: %q, want each once", b.shown)
			}
		})
	}
	t.Run("no copy", func(t *testing.T) { // the other way round: lookups are not for every day
		path := temp(t)
		openFile(t, path)
		s := openFile(t, path)
		morning(t, s, "XKLD")
		if c, err := s.Claim(t.Context(), time.Now(), time.Minute, 1); err != nil || len(c) != 1 || c[0].MaybeSent {
			t.Errorf("Claim = %+v, %v", c, err)
		}
	})
}

// TestBackup copies a store while others write to it, and looks whether the
// copy is whole.
func TestBackup(t *testing.T) {
	path, dir := temp(t), t.TempDir()
	s := openFile(t, path)
	var writers sync.WaitGroup
	copies := 0
	done := make(chan struct{})
	writers.Go(func() {
		defer close(done)
		storetest.Write(t, s, openFile(t, path))
	})
	for more := true; more; {
		select {
		case <-done:
			more = false
		default:
		}
		name := filepath.Join(dir, fmt.Sprint("copy-", copies))
		if err := s.Backup(t.Context(), name); err != nil {
			t.Fatal(err)
		}
		copies++
	}
	writers.Wait()
	entries := 0
	for i := range copies {
		name := filepath.Join(dir, fmt.Sprint("copy-", i))
		info, err := os.Stat(name)
		if err != nil || info.Mode() != 0o600 {
			t.Errorf("%s: %v, %v, want mode 0600", name, info.Mode(), err)
		}
		c := openFile(t, name)
		r, err := record.Verify(t.Context(), c)
		if err != nil || len(r.Findings) > 0 || r.Entries < entries {
			t.Errorf("copy %d: %+v, %v", i, r, err)
		}
		entries = r.Entries
	}
	if entries != 60 {
		t.Errorf("the last copy has %d entries, want 60", entries)
	}
	t.Logf("%d copies", copies)
	left, err := filepath.Glob(filepath.Join(dir, "*-part*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %q, %v", left, err)
	}
}

func TestBackupRefuses(t *testing.T) {
	dir := t.TempDir()
	s := openFile(t, temp(t))
	there, link := filepath.Join(dir, "there"), filepath.Join(dir, "link")
	if err := os.WriteFile(there, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dir, "nowhere"), link); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ path, want string }{
		{there, "not written over"},
		{link, "not written over"},
		{dir, "not written over"},
		{filepath.Join(dir, "no", "folder"), "backup to " + filepath.Join(dir, "no", "folder") + ": there is no folder " + filepath.Join(dir, "no")},
	} {
		if err := s.Backup(t.Context(), c.path); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Backup(%s): %v, want %q", c.path, err, c.want)
		}
	}
	if b, err := os.ReadFile(there); err != nil || string(b) != "mine" {
		t.Errorf("it was written over: %q, %v", b, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	name := filepath.Join(dir, "cancelled")
	if err := s.Backup(ctx, name); err == nil {
		t.Error("a cancelled backup works")
	}
	for _, n := range []string{name, name + "-part"} {
		if _, err := os.Stat(n); !os.IsNotExist(err) {
			t.Errorf("a cancelled backup leaves %s", n)
		}
	}
}

// TestRestoreBesideServe: a store is not put back while a serve goes on with the
// one that was moved away; and one that goes on all the same says so.
func TestRestoreBesideServe(t *testing.T) {
	path := temp(t)
	s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.ToServe)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	copy := temp(t)
	if err := s.Backup(t.Context(), copy); err != nil {
		t.Fatal(err)
	}
	if err := s.InPlace(); err != nil {
		t.Error(err)
	}
	away := filepath.Join(t.TempDir(), "firn.db")
	move := func(from, to string, ends ...string) {
		t.Helper()
		for _, end := range ends {
			if err := os.Rename(from+end, to+end); err != nil {
				t.Fatal(err)
			}
		}
	}
	move(path, away, "", "-wal", "-shm")
	var reading sync.WaitGroup
	for range 32 { // more than are connected: what is asked anew must not make a file there
		reading.Go(func() {
			if _, err := s.Held(t.Context(), "serve/0"); err != nil {
				t.Logf("read of a store that was moved away: %v", err)
			}
		})
	}
	reading.Wait()
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Fatal("a store that serves makes an empty file where its own was")
	}
	if _, err := sqlstore.Restore(t.Context(), copy, path); err == nil || !strings.Contains(err.Error(), "firn serve is still running") {
		t.Errorf("Restore: %v", err)
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Error("it leaves a file")
	}
	if err := s.InPlace(); err == nil {
		t.Error("a store that was moved away is in its place")
	}
	// With the lock moved too nobody can know, but who serves.
	move(path, away, "-serving")
	if _, err := sqlstore.Restore(t.Context(), copy, path); err != nil {
		t.Fatal(err)
	}
	if err := s.InPlace(); err == nil || !strings.Contains(err.Error(), "another file is there") {
		t.Errorf("another store is in its place: %v", err)
	}
}

func TestRestoreRefuses(t *testing.T) {
	s := openFile(t, temp(t))
	copy := temp(t)
	if err := s.Backup(t.Context(), copy); err != nil {
		t.Fatal(err)
	}
	text := temp(t)
	if err := os.WriteFile(text, []byte("notes on the winter"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, from, beside, want string
	}{
		{"the store is there", copy, "", "move it away first"},
		{"its log is there", copy, "-wal", "move it away first"},
		{"no store", text, "none", "the copy is damaged or is no store of firn's: it does not begin as an SQLite file does; nothing was put back"},
		{"no file", copy + "x", "none", "no such file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			to := temp(t)
			if c.beside != "none" {
				if err := os.WriteFile(to+c.beside, []byte("x"), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if _, err := sqlstore.Restore(t.Context(), c.from, to); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("Restore: %v, want %q", err, c.want)
			}
			if _, err := os.Stat(to); c.beside != "" && !os.IsNotExist(err) {
				t.Error("it leaves a file")
			}
		})
	}
	to := temp(t)
	if r, err := sqlstore.Restore(t.Context(), copy, to); err != nil || len(r.Findings) > 0 {
		t.Fatalf("Restore = %+v, %v", r, err)
	}
	if info, err := os.Stat(to); err != nil || info.Mode() != fs.FileMode(0o600) {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
}
