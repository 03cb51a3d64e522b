-- How far the forecast of an alert goes; of older alerts it is not known, which
-- is the time zero.

-- +goose Up

ALTER TABLE alert ADD COLUMN covered_from timestamptz NOT NULL DEFAULT '0001-01-01 00:00:00+00';
ALTER TABLE alert ADD COLUMN covered_to   timestamptz NOT NULL DEFAULT '0001-01-01 00:00:00+00';
