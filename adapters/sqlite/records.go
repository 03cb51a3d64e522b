package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"firn/bot/record"
)

// AddRecords keeps several in one transaction, each with its entry.
func (s *Store) AddRecords(ctx context.Context, all []record.Result) ([]record.Added, error) {
	out := make([]record.Added, len(all))
	err := s.chained(ctx, func(ctx context.Context, tx *sql.Tx, c *chain) error {
		for i, m := range all {
			var err error
			if out[i], err = c.add(ctx, tx, m); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("add records: %w", err)
	}
	return out, nil
}

func (c *chain) add(ctx context.Context, tx *sql.Tx, m record.Result) (record.Added, error) {
	body, entry, err := record.Opening(m)
	if err != nil {
		return 0, err
	}
	live, err := json.Marshal(record.Status{})
	if err != nil {
		return 0, err
	}
	n, err := exec(ctx, tx, `
		INSERT INTO record (id, surface, message, thread, station, asked, expires, made, rev, over, live)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, 0, ?) ON CONFLICT DO NOTHING`,
		m.ID, m.Surface, m.Message, m.Thread, m.Station(), micros(m.At), micros(m.Expires), string(body), string(live))
	if err != nil {
		return 0, err
	}
	if n == 0 {
		there, err := found(tx.QueryRowContext(ctx, "SELECT 1 FROM record WHERE surface = ? AND message = ?", m.Surface, m.Message).Scan(new(int)))
		if there || err != nil {
			return record.Already, because(ctx, err)
		}
		return record.Taken, nil
	}
	if err := c.append(ctx, tx, entry); err != nil {
		return 0, err
	}
	if m.Replaces == "" {
		return record.Fresh, nil
	}
	var old record.Status
	there, err := found(tx.QueryRowContext(ctx, "SELECT live FROM record WHERE id = ?", m.Replaces).Scan(document{&old}))
	if err != nil || !there {
		return record.Fresh, because(ctx, err)
	}
	change, ok := record.Replacing(old, m)
	if ok {
		_, err = c.apply(ctx, tx, m.Replaces, old, change)
	}
	return record.Fresh, err
}

// apply does a change to a record at a revision, and marks its cards.
func (c *chain) apply(ctx context.Context, tx *sql.Tx, id string, was record.Status, change record.Change) (held bool, err error) {
	is := was.With(change)
	live, err := json.Marshal(is)
	if err != nil {
		return false, err
	}
	n, err := exec(ctx, tx, "UPDATE record SET live = ?, rev = ?, over = ? WHERE id = ? AND rev = ?", string(live), is.Rev, is.Over(), id, was.Rev)
	if err != nil || n == 0 {
		return false, err
	}
	if _, err := exec(ctx, tx, "UPDATE record_card SET want = ? WHERE record = ?", is.Rev, id); err != nil {
		return false, err
	}
	return true, c.append(ctx, tx, record.Entry{Record: id, Rev: is.Rev, Change: change})
}

// Apply does a change to a record that is still as it was read.
func (s *Store) Apply(ctx context.Context, r record.Record, change record.Change) (held bool, err error) {
	err = s.chained(ctx, func(ctx context.Context, tx *sql.Tx, c *chain) (err error) {
		held, err = c.apply(ctx, tx, r.ID, r.Status, change)
		return err
	})
	if err != nil {
		return false, fmt.Errorf("record %s: %w", r.ID, err)
	}
	return held, nil
}

// Record is a record by its name.
func (s *Store) Record(ctx context.Context, id string) (r record.Record, there bool, err error) {
	there, err = found(s.read.QueryRowContext(ctx, "SELECT made, live FROM record WHERE id = ?", id).Scan(document{&r.Result}, document{&r.Status}))
	if err != nil {
		return record.Record{}, false, fmt.Errorf("record %s: %w", id, because(ctx, err))
	}
	return r, there, nil
}

// recordPage is how many records are read at a time: whoever goes through them
// may use the store meanwhile.
const recordPage = 200

// EachRecord gives those of a query in the order in which they were asked.
func (s *Store) EachRecord(ctx context.Context, q record.Query, yield func(record.Record) error) error {
	var last record.Record
	for n, more := 0, true; more; {
		limit := recordPage
		if q.Limit > 0 {
			limit = min(limit, q.Limit-n)
		}
		page, err := s.recordPage(ctx, q, last, limit)
		if err != nil {
			return fmt.Errorf("records: %w", because(ctx, err))
		}
		for _, r := range page {
			if err := yield(r); err != nil {
				return err
			}
			last = r
		}
		n += len(page)
		more = len(page) == limit && (q.Limit <= 0 || n < q.Limit)
	}
	return nil
}

// recordPage are those after the last one, which is zero for the first page.
func (s *Store) recordPage(ctx context.Context, q record.Query, last record.Record, limit int) ([]record.Record, error) {
	var where []string
	var args []any
	with := func(condition string, values ...any) {
		where, args = append(where, condition), append(args, values...)
	}
	order, after := "asked, id", ">"
	if q.Newest {
		order, after = "asked DESC, id DESC", "<"
	}
	if last.ID != "" {
		with("(asked, id) "+after+" (?, ?)", micros(last.At), last.ID)
	}
	if !q.From.IsZero() {
		with("asked >= ?", micros(q.From))
	}
	if !q.To.IsZero() {
		with("asked < ?", micros(q.To))
	}
	if q.Station != "" {
		with("station = ?", q.Station)
	}
	if q.Nowhere {
		with("station = ''")
	}
	if q.Surface != "" {
		with("surface = ? AND thread = ?", q.Surface, q.Thread)
	}
	if q.Live || !q.Due.IsZero() {
		with("over = 0")
	}
	if !q.Due.IsZero() {
		with("expires <= ?", micros(q.Due))
	}
	query := "SELECT made, live FROM record"
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	query += " ORDER BY " + order + " LIMIT ?"
	if err := keepable(args); err != nil {
		return nil, err
	}
	rows, err := s.read.QueryContext(ctx, query, append(args, limit)...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []record.Record
	for rows.Next() {
		var r record.Record
		if err := rows.Scan(document{&r.Result}, document{&r.Status}); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}

// AddCards keeps cards. One that is there belongs to the later record.
func (s *Store) AddCards(ctx context.Context, all []record.Mark) error {
	err := s.together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		for _, m := range all {
			if _, err := exec(ctx, tx, `
			INSERT INTO record_card (surface, ref, record, told, said, tries, again, want)
			VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, coalesce((SELECT rev FROM record WHERE id = ?3), 0))
			ON CONFLICT (surface, ref) DO UPDATE SET record = excluded.record, told = excluded.told, said = excluded.said,
				tries = excluded.tries, again = excluded.again, want = excluded.want`,
				m.Surface, m.Ref, m.Record, m.Told, m.Said, m.Tries, micros(m.Again)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("add cards: %w", err)
	}
	return nil
}

// DropCard forgets a card.
func (s *Store) DropCard(ctx context.Context, surface, ref string) error {
	_, err := s.one(ctx, "drop card", "DELETE FROM record_card WHERE surface = ? AND ref = ?", surface, ref)
	return err
}

// CardOf is the record that a card shows.
func (s *Store) CardOf(ctx context.Context, surface, ref string) (id string, there bool, err error) {
	there, err = found(s.read.QueryRowContext(ctx, "SELECT record FROM record_card WHERE surface = ? AND ref = ?", surface, ref).Scan(&id))
	if err != nil {
		return "", false, fmt.Errorf("card: %w", because(ctx, err))
	}
	return id, there, nil
}

// Untold are cards that are behind their record and may be tried now.
func (s *Store) Untold(ctx context.Context, now time.Time, limit int) ([]record.Mark, error) {
	rows, err := s.read.QueryContext(ctx, `
		SELECT surface, ref, record, told, said, tries, again, want FROM record_card
		WHERE told < want AND again <= ? ORDER BY again, surface, ref LIMIT ?`, micros(now), limit)
	if err != nil {
		return nil, fmt.Errorf("cards to change: %w", because(ctx, err))
	}
	defer rows.Close()
	var out []record.Mark
	for rows.Next() {
		var m record.Mark
		if err := rows.Scan(&m.Surface, &m.Ref, &m.Record, &m.Told, &m.Said, &m.Tries, moment{&m.Again}, &m.Want); err != nil {
			return nil, fmt.Errorf("cards to change: %w", because(ctx, err))
		}
		out = append(out, m)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("cards to change: %w", because(ctx, err))
	}
	return out, nil
}

// SetMark changes a card's mark that is still as it was read.
func (s *Store) SetMark(ctx context.Context, was, is record.Mark) (held bool, err error) {
	return s.one(ctx, "mark card", `
		UPDATE record_card SET told = ?, said = ?, tries = ?, again = ?
		WHERE surface = ? AND ref = ? AND record = ? AND told = ? AND said = ? AND tries = ?`,
		is.Told, is.Said, is.Tries, micros(is.Again), was.Surface, was.Ref, was.Record, was.Told, was.Said, was.Tries)
}
