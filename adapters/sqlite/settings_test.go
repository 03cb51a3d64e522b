package sqlite

import (
	"database/sql"
	"path/filepath"
	"testing"
)

// TestSettings holds the connections to what makes an alert survive a power
// cut, which no test can bring about.
func TestSettings(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "firn.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, c := range []struct {
		name, pragma, want string
		db                 *sql.DB
	}{
		{"write-ahead log", "journal_mode", "wal", s.write},
		{"FULL", "synchronous", "2", s.write},
		{"waits for others", "busy_timeout", "10000", s.write},
		{"readers wait too", "busy_timeout", "10000", s.read},
		{"readers only read", "query_only", "1", s.read},
	} {
		var got string
		if err := c.db.QueryRow("PRAGMA " + c.pragma).Scan(&got); err != nil || got != c.want {
			t.Errorf("%s: PRAGMA %s = %q, %v, want %q", c.name, c.pragma, got, err, c.want)
		}
	}
}
