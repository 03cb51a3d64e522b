-- How far the forecast of an alert goes; of older alerts it is not known, which
-- is the time zero.

-- +goose Up

ALTER TABLE alert ADD COLUMN covered_from INTEGER NOT NULL DEFAULT -62135596800000000;
ALTER TABLE alert ADD COLUMN covered_to   INTEGER NOT NULL DEFAULT -62135596800000000;
