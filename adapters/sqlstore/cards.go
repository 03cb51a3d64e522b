package sqlstore

import (
	"context"
	"time"

	"firn/bot/record"
)

// AddCards keeps cards. One that is there belongs to the later record. It is
// done under the history's lock: an action at the same time would not see the
// card, and the card not the action.
func (s *Store) AddCards(ctx context.Context, all []record.Mark) error {
	return s.write(ctx, "add cards", func(ctx context.Context, t *tx) error {
		if err := t.lock(ctx, s.sql.lockHistory); err != nil {
			return err
		}
		return addCards(ctx, t, all)
	})
}

func addCards(ctx context.Context, on conn, all []record.Mark) error {
	for _, m := range all {
		if _, err := exec(ctx, on, `
			INSERT INTO record_card (surface, ref, record, told, tries, again, want)
			VALUES ($1, $2, $3, $4, $5, $6, coalesce((SELECT rev FROM record WHERE id = $3), 0))
			ON CONFLICT (surface, ref) DO UPDATE SET record = excluded.record, told = excluded.told,
				tries = excluded.tries, again = excluded.again, want = excluded.want`,
			m.Surface, m.Ref, m.Record, m.Told, m.Tries, m.Again); err != nil {
			return err
		}
	}
	return nil
}

// DropCard forgets a card.
func (s *Store) DropCard(ctx context.Context, surface, ref string) error {
	_, err := s.one(ctx, "drop card", "DELETE FROM record_card WHERE surface = $1 AND ref = $2", surface, ref)
	return err
}

// CardOf is the record that a card shows.
func (s *Store) CardOf(ctx context.Context, surface, ref string) (id string, there bool, err error) {
	there, err = found(s.reader.QueryRowContext(ctx, "SELECT record FROM record_card WHERE surface = $1 AND ref = $2", surface, ref).Scan(&id))
	return id, there, wrap(ctx, "card", err)
}

// Untold are cards that are behind their record and may be tried now.
func (s *Store) Untold(ctx context.Context, now time.Time, limit int) ([]record.Mark, error) {
	all, err := list(ctx, s.reader, func(row scanner, m *record.Mark) error {
		return row.Scan(&m.Surface, &m.Ref, &m.Record, &m.Told, &m.Tries, scanTime{&m.Again}, &m.Want)
	}, `
		SELECT surface, ref, record, told, tries, again, want FROM record_card
		WHERE told < want AND again <= $1 ORDER BY again, surface, ref LIMIT $2`, now, limit)
	return all, wrap(ctx, "cards to change", err)
}

// SetMark changes a card's mark that is still as it was read.
func (s *Store) SetMark(ctx context.Context, was, is record.Mark) (held bool, err error) {
	return s.one(ctx, "mark card", `
		UPDATE record_card SET told = $1, tries = $2, again = $3
		WHERE surface = $4 AND ref = $5 AND record = $6 AND told = $7 AND tries = $8`,
		is.Told, is.Tries, is.Again, was.Surface, was.Ref, was.Record, was.Told, was.Tries)
}
