package sqlstore

import (
	"database/sql"
	"path/filepath"
	"testing"
)

// TestSettings holds the connections to what makes an alert survive a power
// cut, which no test can bring about.
func TestSettings(t *testing.T) {
	s, err := OpenSQLite(t.Context(), filepath.Join(t.TempDir(), "firn.db"), MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, c := range []struct {
		name, pragma, want string
		db                 *sql.DB
	}{
		{"write-ahead log", "journal_mode", "wal", s.writer},
		{"FULL", "synchronous", "2", s.writer},
		{"waits for others", "busy_timeout", "10000", s.writer},
		{"readers wait too", "busy_timeout", "10000", s.reader},
		{"readers only read", "query_only", "1", s.reader},
	} {
		var got string
		if err := c.db.QueryRow("PRAGMA " + c.pragma).Scan(&got); err != nil || got != c.want {
			t.Errorf("%s: PRAGMA %s = %q, %v, want %q", c.name, c.pragma, got, err, c.want)
		}
	}
}
