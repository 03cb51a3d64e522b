-- The results of a station that hold: looked for when its weather changes.

-- +goose Up

CREATE INDEX record_live_station ON record (station, asked, id) WHERE over = 0;
