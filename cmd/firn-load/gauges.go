package main

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// scrape reads firn's figures, by their names with their labels.
func scrape(ctx context.Context, base string) (map[string]float64, error) {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/metrics", nil)
	if err != nil {
		return nil, err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("metrics: %s", resp.Status)
	}
	out := map[string]float64{}
	lines := bufio.NewScanner(resp.Body)
	for lines.Scan() {
		name, value, ok := strings.Cut(lines.Text(), " ")
		if v, err := strconv.ParseFloat(value, 64); ok && err == nil {
			out[name] = v
		}
	}
	return out, lines.Err()
}

// longestRounds looks every few seconds how long the last round of each kind
// took, until the context ends, and gives the longest in seconds.
func longestRounds(ctx context.Context, base string) map[string]float64 {
	out := map[string]float64{}
	for {
		if figures, err := scrape(ctx, base); err == nil {
			for _, name := range []string{"watch", "record", "look"} {
				out[name] = max(out[name], figures[`firn_round_seconds{round="`+name+`"}`])
			}
		}
		select {
		case <-ctx.Done():
			return out
		case <-time.After(5 * time.Second):
		}
	}
}

// live is the heap that the last collection found in use: the next one comes
// when it has grown by GOGC percent. In it are 64 MiB of serve's that are never
// written.
func live(figures map[string]float64) float64 {
	return figures["go_memstats_next_gc_bytes"] / (1 + figures["go_gc_gogc_percent"]/100)
}

// sizes are bytes in the store: all of it, and what a table takes with its
// indexes.
type sizes struct {
	all    int64
	tables map[string]int64
}

// of sums tables.
func (s sizes) of(names ...string) (n int64) {
	for _, name := range names {
		n += s.tables[name]
	}
	return n
}

// The tables that grow with messages, and with alerts.
var (
	ofMessages = []string{"record", "record_card", "history"}
	ofAlerts   = []string{"alert", "outbox", "ack", "snooze"}
)

// measureStore measures an SQLite file or a PostgreSQL database.
func measureStore(ctx context.Context, file, address string) (sizes, error) {
	driver, name := "sqlite", "file:"+file+"?mode=ro&_pragma=busy_timeout(10000)"
	all := "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size"
	each := "SELECT coalesce(s.tbl_name, d.name), sum(d.pgsize) FROM dbstat d LEFT JOIN sqlite_schema s ON s.name = d.name GROUP BY 1"
	if address != "" {
		driver, name = "pgx", address
		all = "SELECT pg_database_size(current_database())"
		each = "SELECT relname, pg_total_relation_size(oid) FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace"
	}
	s := sizes{tables: map[string]int64{}}
	db, err := sql.Open(driver, name)
	if err != nil {
		return s, err
	}
	defer db.Close()
	if err := db.QueryRowContext(ctx, all).Scan(&s.all); err != nil {
		return s, fmt.Errorf("the store's size: %w", err)
	}
	rows, err := db.QueryContext(ctx, each)
	if err != nil {
		return s, fmt.Errorf("the tables' sizes: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var table string
		var n int64
		if err := rows.Scan(&table, &n); err != nil {
			return s, fmt.Errorf("the tables' sizes: %w", err)
		}
		s.tables[table] = n
	}
	return s, rows.Err()
}

// profile fetches a profile of firn into a writer.
func profile(ctx context.Context, address, kind string, out io.Writer) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+address+"/debug/pprof/"+kind, nil)
	if err != nil {
		return err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	_, err = io.Copy(out, resp.Body)
	return err
}
