-- Whoever alone sees a record: what was asked in a direct message is its
-- person's until it is posted.

-- +goose Up

ALTER TABLE record ADD COLUMN owner text COLLATE "C" NOT NULL DEFAULT ''; -- an account; empty: all see it
