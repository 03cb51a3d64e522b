-- A link may have an end.

-- +goose Up

ALTER TABLE page_link ADD COLUMN ends timestamptz; -- NULL: it has none
