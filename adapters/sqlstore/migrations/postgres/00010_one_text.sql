-- Procedures are ordered by their bytes, as in SQLite, whatever the database's
-- own order is.

-- +goose Up

ALTER TABLE procedure
    ALTER COLUMN dataset TYPE text COLLATE "C",
    ALTER COLUMN code TYPE text COLLATE "C";
