-- Indexes for the condition as it is written for both databases: SQLite takes
-- "over = 0" and "NOT over" for two.

-- +goose Up

DROP INDEX record_live;
DROP INDEX record_due;
DROP INDEX record_live_station;

CREATE INDEX record_live ON record (asked, id) WHERE NOT over;
CREATE INDEX record_due ON record (expires) WHERE NOT over;
CREATE INDEX record_live_station ON record (station, asked, id) WHERE NOT over;
