package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/adapters/sqlstore"
	"firn/adapters/testkit/pgtest"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/cmd/wiring"
)

// startPostgres gives the server that the tests share.
func startPostgres(t *testing.T) *pgtest.Server {
	t.Helper()
	return pgtest.Shared(t)
}

// mover runs commands on a configuration whose store is dir/data/firn.db.
type mover struct {
	*testing.T
	dir, config string
	env         map[string]string
}

func newMover(t *testing.T) *mover {
	t.Helper()
	m := &mover{T: t, dir: t.TempDir(), env: map[string]string{}}
	m.config = filepath.Join(m.dir, "config.yaml")
	if err := os.WriteFile(m.config, []byte("store: {path: data/firn.db}\nstations: [{ident: XKLD, elevation_ft: 4802}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return m
}

func (m *mover) file() string { return filepath.Join(m.dir, "data", "firn.db") }

// firn runs a command and gives what it printed on both streams.
func (m *mover) firn(args ...string) (code int, said string) {
	m.Helper()
	var out bytes.Buffer
	args = append([]string{args[0], "--config", m.config}, args[1:]...)
	code = run(m.Context(), args, host{stdout: &out, stderr: &out, getenv: func(name string) string { return m.env[name] }, now: time.Now})
	return code, out.String()
}

func (m *mover) open() *sqlstore.SQLite {
	m.Helper()
	s, err := sqlstore.OpenSQLite(m.Context(), m.file(), sqlstore.MayCreate)
	if err != nil {
		m.Fatal(err)
	}
	return s
}

func (m *mover) close(s interface{ Close() error }) {
	m.Helper()
	if err := s.Close(); err != nil {
		m.Error(err)
	}
}

// plain opens the file without firn.
func (m *mover) plain() *sql.DB {
	m.Helper()
	db, err := sql.Open("sqlite", m.file())
	if err != nil {
		m.Fatal(err)
	}
	m.Cleanup(func() { db.Close() })
	return db
}

// fill puts something into every table: posts and a history as firn writes
// them, and rows by the columns' types wherever there are none then.
func (m *mover) fill() {
	m.Helper()
	s := m.open()
	storetest.Fill(m, s, 20)
	storetest.Write(m.T, s, s)
	m.close(s)
	from, err := sqlstore.Take(m.Context(), m.file())
	if err != nil {
		m.Fatal(err)
	}
	tables, err := from.Tables(m.Context())
	if err != nil {
		m.Fatal(err)
	}
	m.close(from)
	db := m.plain()
	for table := range tables {
		var n int
		if err := db.QueryRow("SELECT count(*) FROM " + table).Scan(&n); err != nil {
			m.Fatal(err)
		}
		if n == 0 {
			m.invent(db, table)
		}
	}
	m.close(db)
}

// invent makes rows by a table's columns: odd ones, and NULL where it may be.
func (m *mover) invent(db *sql.DB, table string) {
	m.Helper()
	rows, err := db.Query("SELECT type, \"notnull\" FROM pragma_table_info(?) ORDER BY cid", table)
	if err != nil {
		m.Fatal(err)
	}
	defer rows.Close()
	var full, bare []any
	for rows.Next() {
		var kind string
		var notNull bool
		if err := rows.Scan(&kind, &notNull); err != nil {
			m.Fatal(err)
		}
		var v, w any
		switch kind {
		case "INTEGER":
			v, w = int64(1), int64(-62135596800000000) // the year 1, as a time
		case "REAL":
			v, w = -38.5, 0.0
		case "TEXT":
			v, w = `"北海道 −38\\u0000 \\"`, `""`
		case "BLOB":
			v, w = []byte("\x00\xff'"), []byte{}
		default:
			m.Fatalf("%s has a column of type %q", table, kind)
		}
		if !notNull {
			w = nil
		}
		full, bare = append(full, v), append(bare, w)
	}
	if err := rows.Err(); err != nil {
		m.Fatal(err)
	}
	for _, row := range [][]any{full, bare} {
		if _, err := db.Exec("INSERT INTO "+table+" VALUES (?"+strings.Repeat(", ?", len(row)-1)+")", row...); err != nil {
			m.Fatalf("%s: %v", table, err)
		}
	}
}

// contentOf is every row of every table in words that both databases share.
func (m *mover) contentOf() map[string][]string {
	m.Helper()
	from, err := sqlstore.Take(m.Context(), m.file())
	if err != nil {
		m.Fatal(err)
	}
	defer from.Close()
	tables, err := from.Tables(m.Context())
	if err != nil {
		m.Fatal(err)
	}
	all := map[string][]string{}
	for table, columns := range tables {
		for row, err := range from.Rows(m.Context(), table, columns) {
			if err != nil {
				m.Fatal(err)
			}
			all[table] = append(all[table], shared(columns, row))
		}
	}
	return sorted(all)
}

func (m *mover) contentOfDatabase(url string) map[string][]string {
	m.Helper()
	c, err := pgx.Connect(m.Context(), url)
	if err != nil {
		m.Fatal(err)
	}
	defer c.Close(context.WithoutCancel(m.Context()))
	rows, err := c.Query(m.Context(), "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND relname <> 'schema_version'")
	if err != nil {
		m.Fatal(err)
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		m.Fatal(err)
	}
	all := map[string][]string{}
	for _, table := range names {
		rows, err := c.Query(m.Context(), "SELECT * FROM "+table, pgx.QueryExecModeSimpleProtocol)
		if err != nil {
			m.Fatal(err)
		}
		for rows.Next() {
			var columns []string
			for _, f := range rows.FieldDescriptions() {
				columns = append(columns, f.Name)
			}
			row, err := rows.Values()
			if err != nil {
				m.Fatal(err)
			}
			for i, f := range rows.FieldDescriptions() {
				if f.DataTypeOID == 114 { // json: as text, not as what it says
					row[i] = string(rows.RawValues()[i])
				}
			}
			all[table] = append(all[table], shared(columns, row))
		}
		if err := rows.Err(); err != nil {
			m.Fatal(err)
		}
	}
	return sorted(all)
}

func shared(columns []string, row []any) string {
	var parts []string
	for i, v := range row {
		switch w := v.(type) {
		case time.Time:
			v = w.UnixMicro()
		case bool:
			v = map[bool]int{true: 1}[w]
		}
		if columns[i] != "mark" { // which is each store's own
			parts = append(parts, fmt.Sprintf("%s=%v", columns[i], v))
		}
	}
	slices.Sort(parts)
	return strings.Join(parts, " ")
}

func sorted(all map[string][]string) map[string][]string {
	for _, rows := range all {
		slices.Sort(rows)
	}
	return all
}

// TestMove moves a store in which every table of the schema has rows, and
// looks at each of them afterwards. A table that a later migration makes is
// among them without a word here.
func TestMove(t *testing.T) {
	t.Parallel()
	pg := startPostgres(t)
	m := newMover(t)
	m.fill()
	before := m.contentOf()
	url := pg.Database(t)
	m.env[wiring.EnvDatabase] = url
	code, said := m.firn("move", "--to", "postgres")
	if code != exitAnswered {
		t.Fatalf("exit %d: %s", code, said)
	}
	t.Log(said)
	if strings.Contains(said, pg.Password()) {
		t.Error("it prints the password")
	}
	after := m.contentOfDatabase(url)
	for table, want := range before {
		if len(want) == 0 {
			t.Errorf("%s is empty, so that nothing is shown of it", table)
		}
		if got := after[table]; !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\n got %.600q\nwant %.600q", table, got, want)
		}
		if line := fmt.Sprintf("%s %d", table, len(want)); !strings.Contains(strings.Join(strings.Fields(said), " "), line) {
			t.Errorf("%q is not in the table that is printed", line)
		}
	}
	if len(after) != len(before) {
		t.Errorf("%d tables, want %d", len(after), len(before))
	}

	s, err := sqlstore.OpenPostgres(t.Context(), url, sqlstore.MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	defer m.close(s)
	// What the database numbers goes on behind what came.
	again := outbox.Item{Key: "alert/XKLD/2026-01-15/1", Channel: "page", Made: time.Now(), Due: time.Now()}
	if fresh, err := s.Open(t.Context(), watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened}, []outbox.Item{again}); !fresh || err != nil {
		t.Errorf("Open = %v, %v", fresh, err)
	}
	if fresh, err := s.SaveObservation(t.Context(), weather.Observation{Ident: "XKLD", Source: "page", At: time.Now(), Received: time.Now()}); !fresh || err != nil {
		t.Errorf("SaveObservation = %v, %v", fresh, err)
	}
	claims, err := s.Claim(t.Context(), time.Now().AddDate(1, 0, 0), time.Minute, 1)
	if err != nil || len(claims) != 1 || claims[0].MaybeSent {
		t.Errorf("Claim = %+v, %v: a store that was moved is no older copy", claims, err)
	}
	// The file is for nobody any more, until somebody says so; whoever goes on
	// with it all the same looks first.
	delete(m.env, wiring.EnvDatabase)
	if code, said := m.firn("export"); code != exitOther || !strings.Contains(said, "was moved to PostgreSQL") || !strings.Contains(said, m.file()) {
		t.Errorf("export of the file that was left: exit %d, %s", code, said)
	}
	if code, said := m.firn("restore"); code != exitAnswered {
		t.Errorf("restore: exit %d, %s", code, said)
	}
	old := m.open()
	defer m.close(old)
	claims, err = old.Claim(t.Context(), time.Now().AddDate(1, 0, 0), time.Minute, 1)
	if err != nil || len(claims) != 1 || !claims[0].MaybeSent {
		t.Errorf("Claim of the file that was left = %+v, %v, want MaybeSent", claims, err)
	}
}

func TestMoveRefuses(t *testing.T) {
	t.Parallel()
	pg := startPostgres(t)
	count := func(t *testing.T, url string) (n int) {
		t.Helper()
		c, err := pgx.Connect(t.Context(), url)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close(t.Context())
		if err := c.QueryRow(t.Context(), "SELECT (SELECT count(*) FROM outbox) + (SELECT count(*) FROM history)").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	for _, c := range []struct {
		name  string
		spoil func(m *mover, url string)
		want  string
		left  int // rows of outbox and history afterwards; -1: not looked at
	}{
		{"no address", func(m *mover, _ string) { delete(m.env, wiring.EnvDatabase) }, "set FIRN_DATABASE_URL", -1},
		{"no file", func(m *mover, _ string) { os.Remove(m.file()) }, "there is no store", -1},
		{"a database in use", func(m *mover, url string) {
			s, err := sqlstore.OpenPostgres(m.Context(), url, sqlstore.MayCreate)
			if err != nil {
				m.Fatal(err)
			}
			defer m.close(s)
			storetest.Fill(m, s, 1)
		}, "this database is not empty: alert has 1 rows", 1},
		{"a history that began", func(m *mover, url string) {
			s, err := sqlstore.OpenPostgres(m.Context(), url, sqlstore.MayCreate)
			if err != nil {
				m.Fatal(err)
			}
			defer m.close(s)
			storetest.Write(m.T, s)
		}, "this database is not empty", 30},
		{"a file in use", func(m *mover, _ string) {
			s := m.open()
			m.Cleanup(func() { m.close(s) })
		}, "another firn has it open; stop firn serve", -1},
		{"another program's table", func(m *mover, url string) {
			s, err := sqlstore.OpenPostgres(m.Context(), url, sqlstore.MayCreate)
			if err != nil {
				m.Fatal(err)
			}
			m.close(s)
			c, err := pgx.Connect(m.Context(), url)
			if err != nil {
				m.Fatal(err)
			}
			defer c.Close(m.Context())
			if _, err := c.Exec(m.Context(), "CREATE TABLE bookmark (url text)"); err != nil {
				m.Fatal(err)
			}
		}, "a table bookmark that is not firn's", 0},
		{"a text that PostgreSQL cannot keep", func(m *mover, _ string) {
			db := m.plain()
			defer m.close(db)
			if _, err := db.Exec("UPDATE alert SET note = 'a' || char(0) || 'b' WHERE base = 'XK03'"); err != nil {
				m.Fatal(err)
			}
		}, `note: "a\x00b" is not text`, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := newMover(t)
			s := m.open()
			storetest.Fill(t, s, 5)
			m.close(s)
			url := pg.Database(t)
			m.env[wiring.EnvDatabase] = url
			c.spoil(m, url)
			code, said := m.firn("move", "--to", "postgres")
			t.Log(said)
			if code == exitAnswered || !strings.Contains(said, c.want) {
				t.Errorf("exit %d: %s; want %q", code, said, c.want)
			}
			if c.left >= 0 {
				if n := count(t, url); n != c.left {
					t.Errorf("%d rows are in the database, want %d", n, c.left)
				}
			}
		})
	}
}

// TestMoveKeepsFindings moves a history that somebody had changed: what was
// wrong with it stays to be seen.
func TestMoveKeepsFindings(t *testing.T) {
	t.Parallel()
	pg := startPostgres(t)
	m := newMover(t)
	s := m.open()
	storetest.Write(t, s)
	m.close(s)
	db := m.plain()
	if _, err := db.Exec("UPDATE history SET body = CAST(replace(body, 'made', 'mode') AS BLOB) WHERE seq = 3"); err != nil {
		t.Fatal(err)
	}
	m.close(db)
	url := pg.Database(t)
	m.env[wiring.EnvDatabase] = url
	if code, said := m.firn("move", "--to", "postgres"); code != exitAnswered || !strings.Contains(said, "entry 3 (KALOMI-") {
		t.Fatalf("exit %d: %s", code, said)
	}
	to, err := sqlstore.OpenPostgres(t.Context(), url, sqlstore.MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	defer m.close(to)
	if r, err := record.Verify(t.Context(), to); err != nil || len(r.Findings) == 0 {
		t.Errorf("Verify = %+v, %v", r, err)
	}
}

// TestRestored is a whole day of both stores: a copy is made before the
// alert, the alert is posted, the store is lost, the copy put back, and firn
// goes on. Slack and Discord show the alert once.
func TestRestored(t *testing.T) {
	t.Parallel()
	t.Run("sqlite", func(t *testing.T) {
		t.Parallel()
		w := newWorld(t)
		m := &mover{T: t, dir: w.dir, config: filepath.Join(w.dir, "config.yaml")}
		m.close(m.open())
		backup := filepath.Join(w.dir, "copy.db")
		restored(w, func() {
			if code, said := m.firn("backup", backup); code != exitAnswered {
				t.Fatalf("exit %d: %s", code, said)
			}
		}, func() {
			if code, said := m.firn("restore", backup); code == exitAnswered || !strings.Contains(said, "move it away first") {
				t.Errorf("over the store: exit %d: %s", code, said)
			}
			if err := os.Rename(filepath.Join(w.dir, "data"), filepath.Join(w.dir, "lost")); err != nil {
				t.Fatal(err)
			}
			code, said := m.firn("restore", backup)
			if code != exitAnswered {
				t.Fatalf("exit %d: %s", code, said)
			}
			t.Log(said)
		})
	})
	t.Run("postgres", func(t *testing.T) {
		t.Parallel()
		pg := startPostgres(t)
		w := newWorld(t)
		use := func(url string) { w.env = append(w.env, wiring.EnvDatabase+"="+url) }
		before, after := pg.Database(t), pg.Database(t)
		s, err := sqlstore.OpenPostgres(t.Context(), before, sqlstore.MayCreate)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		use(before)
		backup := filepath.Join(w.dir, "copy.dump")
		restored(w, func() { // the README's commands
			program(t, "pg_dump", "--format=custom", "--file="+backup, before)
		}, func() {
			program(t, "pg_restore", "--no-owner", "--exit-on-error", "--dbname="+after, backup)
			use(after)
		})
	})
}

// program runs one that comes with PostgreSQL.
func program(t *testing.T, name string, args ...string) {
	t.Helper()
	path, err := pgtest.Program(name)
	if err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(path, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
}

func restored(w *world, backup, restore func()) {
	shown := func() (slack, discord int) {
		return strings.Count(w.onSlack(slackAlerts), "(line −25)"), strings.Count(w.onDiscord(w.discord.Channels()[1]), "(line −25)")
	}
	backup()
	w.start()
	w.until("the alert on both services", func() bool { a, b := shown(); return a > 0 && b > 0 })
	w.until("the marks", func() bool {
		return strings.Contains(w.said.Tail(), "channel=slack:"+slackAlerts+" attempt=1 outcome=sent") && strings.Contains(w.said.Tail(), "channel=discord:"+w.discord.Channels()[1]+" attempt=1 outcome=sent")
	})
	slackBefore, discordBefore := shown()
	w.stop()
	restore()
	w.start()
	w.until("the lookups", func() bool {
		return strings.Contains(w.said.Tail(), "channel=slack:"+slackAlerts+" attempt=1 outcome=found") && strings.Contains(w.said.Tail(), "channel=discord:"+w.discord.Channels()[1]+" attempt=1 outcome=found")
	})
	w.stop()
	if a, b := shown(); a != slackBefore || b != discordBefore {
		w.Errorf("it stands %d times on Slack and %d on Discord, before it was %d and %d", a, b, slackBefore, discordBefore)
	}
}
