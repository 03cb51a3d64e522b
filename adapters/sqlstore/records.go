package sqlstore

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"firn/bot/record"
)

// AddRecords keeps several in one transaction, each with its entry, and their
// cards.
func (s *Store) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	out := make([]record.Added, len(all))
	err := s.chained(ctx, "add records", func(ctx context.Context, c *chain) error {
		fresh := true
		for i, m := range all {
			var err error
			if out[i], err = c.add(ctx, m); err != nil {
				return err
			}
			fresh = fresh && out[i] == record.Fresh
		}
		if !fresh {
			return nil
		}
		return addCards(ctx, c, cards)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// untouched is the status of a record that nothing was done to.
var untouched = func() string {
	live, err := json.Marshal(record.Status{})
	if err != nil {
		panic(err)
	}
	return string(live)
}()

func (c *chain) add(ctx context.Context, m record.Result) (record.Added, error) {
	body, entry, err := record.Opening(m)
	if err != nil {
		return 0, err
	}
	n, err := exec(ctx, c, `
		INSERT INTO record (id, surface, message, thread, station, asked, expires, made, rev, over, live, owner)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 0, false, $9, $10) ON CONFLICT DO NOTHING`,
		m.ID, m.Surface, m.Message, m.Thread, m.Station(), m.At, m.Expires, string(body), untouched, record.LookupOf(m, record.Status{}).Owner)
	if err != nil {
		return 0, err
	}
	if n == 0 {
		there, err := found(c.QueryRowContext(ctx, "SELECT 1 FROM record WHERE surface = $1 AND message = $2", m.Surface, m.Message).Scan(new(int)))
		if there || err != nil {
			return record.Already, err
		}
		return record.Taken, nil
	}
	if err := c.append(ctx, entry); err != nil {
		return 0, err
	}
	if m.Replaces == "" {
		return record.Fresh, nil
	}
	var old record.Status
	there, err := found(c.QueryRowContext(ctx, "SELECT live FROM record WHERE id = $1", m.Replaces).Scan(scanJSON{&old}))
	if err != nil || !there {
		return record.Fresh, err
	}
	change, ok := record.Replacing(old, m)
	if ok {
		_, err = c.apply(ctx, m.Replaces, old, change)
	}
	return record.Fresh, err
}

// apply does a change to a record at a revision, and marks its cards.
func (c *chain) apply(ctx context.Context, id string, was record.Status, change record.Change) (held bool, err error) {
	is := was.With(change)
	live, err := json.Marshal(is)
	if err != nil {
		return false, err
	}
	n, err := exec(ctx, c, "UPDATE record SET live = $1, rev = $2, over = $3 WHERE id = $4 AND rev = $5", string(live), is.Rev, is.Over(), id, was.Rev)
	if err != nil || n == 0 {
		return false, err
	}
	if !is.Posted.IsZero() && was.Posted.IsZero() {
		if _, err := exec(ctx, c, "UPDATE record SET owner = '' WHERE id = $1", id); err != nil {
			return false, err
		}
	}
	if _, err := exec(ctx, c, "UPDATE record_card SET want = $1 WHERE record = $2", is.Rev, id); err != nil {
		return false, err
	}
	return true, c.append(ctx, record.Entry{Record: id, Rev: is.Rev, Change: change})
}

// Apply does a change to a record that is still as it was read.
func (s *Store) Apply(ctx context.Context, r record.Record, change record.Change) (held bool, err error) {
	err = s.chained(ctx, "record "+r.ID, func(ctx context.Context, c *chain) (err error) {
		held, err = c.apply(ctx, r.ID, r.Status, change)
		return err
	})
	return held && err == nil, err
}

// Record is a record by its name.
func (s *Store) Record(ctx context.Context, id string) (r record.Record, there bool, err error) {
	there, err = found(scanRecord(s.reader.QueryRowContext(ctx, "SELECT made, live FROM record WHERE id = $1", id), &r))
	if err != nil {
		return record.Record{}, false, wrap(ctx, "record "+id, err)
	}
	return r, there, nil
}

func scanRecord(row scanner, r *record.Record) error {
	return row.Scan(scanJSON{&r.Result}, scanJSON{&r.Status})
}

// recordPage is how many records are read at a time: whoever goes through them
// may use the store meanwhile.
const recordPage = 200

// EachRecord gives those of a query in the order in which they were asked.
func (s *Store) EachRecord(ctx context.Context, q record.Query, yield func(record.Record) error) error {
	var last record.Record
	for n, more := 0, true; more; {
		limit := recordPage
		if q.Limit > 0 && q.Text == "" && len(q.By) == 0 {
			limit = min(limit, q.Limit-n)
		}
		page, err := s.recordPage(ctx, q, last, limit)
		if err != nil {
			return wrap(ctx, "records", err)
		}
		more = len(page) == limit
		for _, r := range page {
			if last = r; !q.Says(&r) {
				continue
			}
			if err := yield(r); err != nil {
				return err
			}
			if n++; n == q.Limit {
				return nil
			}
		}
	}
	return nil
}

// narrows is the longest run of plain letters and digits of a text: every
// database finds it in JSON as it stands, in any case.
func narrows(text string) string {
	runs := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	if len(runs) == 0 {
		return ""
	}
	return slices.MaxFunc(runs, func(a, b string) int { return len(a) - len(b) })
}

// madeBy narrows what is read to what may be asked by one of accounts; empty where
// one of them has nothing to narrow by.
func madeBy(accounts []string, arg func(any) string) string {
	var by []string
	for _, a := range accounts {
		run := narrows(a)
		if run == "" {
			return ""
		}
		by = append(by, "lower(made) LIKE "+arg("%"+run+"%"))
	}
	if len(by) == 0 {
		return ""
	}
	return "(" + strings.Join(by, " OR ") + ")"
}

// recordPage are those after the last one, which is zero for the first page.
func (s *Store) recordPage(ctx context.Context, q record.Query, last record.Record, limit int) ([]record.Record, error) {
	var where []string
	var args []any
	arg := func(v any) string {
		args = append(args, v)
		return fmt.Sprintf("$%d", len(args))
	}
	order, after := "asked, id", ">"
	if q.Newest {
		order, after = "asked DESC, id DESC", "<"
	}
	if last.ID != "" {
		where = append(where, "(asked, id) "+after+" ("+arg(last.At)+", "+arg(last.ID)+")")
	}
	if !q.From.IsZero() {
		where = append(where, "asked >= "+arg(q.From))
	}
	if !q.To.IsZero() {
		where = append(where, "asked < "+arg(q.To))
	}
	if q.Station != "" {
		where = append(where, "station = "+arg(q.Station))
	}
	if q.Nowhere {
		where = append(where, "station = ''")
	}
	if q.Surface != "" {
		where = append(where, "surface = "+arg(q.Surface), "thread = "+arg(q.Thread))
	}
	if q.Live || !q.Due.IsZero() {
		where = append(where, "NOT over")
	}
	if q.Over {
		where = append(where, "over")
	}
	if !q.Due.IsZero() {
		where = append(where, "expires <= "+arg(q.Due))
	}
	if run := narrows(q.Text); run != "" {
		like := " LIKE " + arg("%"+run+"%")
		where = append(where, "(lower(made)"+like+" OR lower(live)"+like+")")
	}
	if made := madeBy(q.By, arg); made != "" {
		where = append(where, made)
	}
	if q.For != nil {
		own := make([]string, len(q.For.Accounts))
		for i, a := range q.For.Accounts {
			own[i] = arg(a)
		}
		where = append(where, "owner IN ("+strings.Join(append(own, "''"), ", ")+")")
	}
	query := "SELECT made, live FROM record"
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	query += " ORDER BY " + order + " LIMIT " + arg(limit)
	if err := keepable(args); err != nil {
		return nil, err
	}
	return list(ctx, s.reader, scanRecord, query, args...)
}
