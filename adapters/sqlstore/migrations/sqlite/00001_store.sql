-- The store's first schema. Times are microseconds since 1970 in UTC, truths
-- are 0 and 1, texts as received are blobs, replies are JSON.

-- +goose Up

-- "firn" in ASCII: what tells our file from another program's.
PRAGMA application_id = 1718186606;

CREATE TABLE alert (
    base          TEXT    NOT NULL,
    day           TEXT    NOT NULL, -- local, 2026-01-15
    seq           INTEGER NOT NULL,
    kind          TEXT    NOT NULL,
    state         TEXT    NOT NULL,
    low_c         REAL    NOT NULL,
    low_at        INTEGER NOT NULL,
    below_from    INTEGER NOT NULL,
    below_to      INTEGER NOT NULL,
    hours_known   INTEGER NOT NULL,
    covered       INTEGER NOT NULL,
    restriction_c REAL    NOT NULL,
    source        TEXT    NOT NULL,
    issued        INTEGER NOT NULL,
    note          TEXT    NOT NULL,
    made          INTEGER NOT NULL,
    PRIMARY KEY (base, day, seq)
) STRICT;

CREATE TABLE ack (
    base         TEXT    NOT NULL,
    day          TEXT    NOT NULL,
    seq          INTEGER NOT NULL,
    by           TEXT    NOT NULL,
    acknowledged INTEGER NOT NULL,
    PRIMARY KEY (base, day, seq, by)
) STRICT;

CREATE TABLE snooze (
    base  TEXT    NOT NULL,
    day   TEXT    NOT NULL,
    until INTEGER NOT NULL,
    by    TEXT    NOT NULL,
    PRIMARY KEY (base, day)
) STRICT;

-- Rows stay for ever: key and channel are what makes a post happen once.
CREATE TABLE outbox (
    id      INTEGER PRIMARY KEY,
    key     TEXT    NOT NULL,
    channel TEXT    NOT NULL,
    line    TEXT    NOT NULL, -- the key without its number
    seq     INTEGER NOT NULL, -- the number
    body    TEXT    NOT NULL,
    made    INTEGER NOT NULL,
    due     INTEGER NOT NULL,
    again   INTEGER,          -- not to be tried before
    state   TEXT    NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'sent', 'given-up')),
    attempt INTEGER NOT NULL DEFAULT 0,
    until   INTEGER,          -- end of the lease
    ref     TEXT,             -- the platform's
    reason  TEXT,             -- of the last failure
    ended   INTEGER,
    UNIQUE (key, channel)
) STRICT;

CREATE INDEX outbox_due ON outbox (due, id) WHERE state = 'waiting';
CREATE INDEX outbox_line ON outbox (channel, line, seq) WHERE state = 'waiting';
CREATE INDEX outbox_given_up ON outbox (id) WHERE state = 'given-up';

CREATE TABLE lease (
    name   TEXT    NOT NULL PRIMARY KEY,
    holder TEXT    NOT NULL,
    until  INTEGER NOT NULL
) STRICT;

CREATE TABLE observation (
    id       INTEGER PRIMARY KEY,
    ident    TEXT    NOT NULL,
    source   TEXT    NOT NULL,
    observed INTEGER NOT NULL,
    c        REAL    NOT NULL,
    raw      BLOB    NOT NULL,
    received INTEGER NOT NULL,
    digest   BLOB    NOT NULL UNIQUE -- SHA-256 of all but the time received
) STRICT;

CREATE INDEX observation_latest ON observation (ident, observed, received, id);

CREATE TABLE forecast (
    id         INTEGER PRIMARY KEY,
    ident      TEXT    NOT NULL,
    source     TEXT    NOT NULL,
    issued     INTEGER NOT NULL,
    valid_from INTEGER NOT NULL,
    valid_to   INTEGER NOT NULL,
    hourly     TEXT    NOT NULL, -- JSON, and so are the extremes
    minimums   TEXT    NOT NULL,
    maximums   TEXT    NOT NULL,
    raw        BLOB    NOT NULL,
    received   INTEGER NOT NULL,
    digest     BLOB    NOT NULL UNIQUE
) STRICT;

CREATE INDEX forecast_latest ON forecast (ident, issued, received, id);

CREATE TABLE result (
    surface TEXT    NOT NULL,
    id      TEXT    NOT NULL,
    thread  TEXT    NOT NULL,
    person  TEXT    NOT NULL,
    text    BLOB    NOT NULL,
    asked   INTEGER NOT NULL,
    reply   TEXT    NOT NULL,
    PRIMARY KEY (surface, id)
) STRICT;
