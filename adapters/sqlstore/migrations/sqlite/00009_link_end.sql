-- A link may have an end.

-- +goose Up

ALTER TABLE page_link ADD COLUMN ends INTEGER; -- NULL: it has none
