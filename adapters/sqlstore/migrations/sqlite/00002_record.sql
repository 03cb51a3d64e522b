-- The record. What was kept as "result" stays readable there and is not
-- written any more.

-- +goose Up

CREATE TABLE record (
    id      TEXT    NOT NULL PRIMARY KEY, -- the name that people say
    surface TEXT    NOT NULL,
    message TEXT    NOT NULL,
    thread  TEXT    NOT NULL,
    station TEXT    NOT NULL,
    asked   INTEGER NOT NULL,
    expires INTEGER NOT NULL,
    made    TEXT    NOT NULL, -- JSON, for ever as it is: its SHA-256 is in the history
    rev     INTEGER NOT NULL,
    over    INTEGER NOT NULL, -- nothing happens to it any more
    live    TEXT    NOT NULL, -- JSON: what was done to it since
    UNIQUE (surface, message)
) STRICT;

CREATE INDEX record_asked ON record (asked, id);
CREATE INDEX record_station ON record (station, asked, id);
CREATE INDEX record_thread ON record (surface, thread, asked, id);
CREATE INDEX record_live ON record (asked, id) WHERE over = 0;
CREATE INDEX record_due ON record (expires) WHERE over = 0;

-- Where a record is shown, and at which of its revisions.
CREATE TABLE record_card (
    surface TEXT    NOT NULL,
    ref     TEXT    NOT NULL,
    record  TEXT    NOT NULL,
    told    INTEGER NOT NULL,
    said    INTEGER NOT NULL,
    want    INTEGER NOT NULL, -- the record's revision
    tries   INTEGER NOT NULL,
    again   INTEGER NOT NULL, -- not to be tried before
    PRIMARY KEY (surface, ref)
) STRICT;

CREATE INDEX record_card_of ON record_card (record);
CREATE INDEX record_card_untold ON record_card (again) WHERE told < want;

-- The chain: body is JSON that holds the hash of the entry before, hash is
-- its SHA-256.
CREATE TABLE history (
    seq    INTEGER NOT NULL PRIMARY KEY,
    record TEXT    NOT NULL,
    body   BLOB    NOT NULL,
    hash   BLOB    NOT NULL
) STRICT;

CREATE INDEX history_record ON history (record, seq);

CREATE TABLE history_head (
    one  INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    seq  INTEGER NOT NULL,
    hash BLOB    NOT NULL
) STRICT;

INSERT INTO history_head (one, seq, hash) VALUES (1, 0, zeroblob(32));
