-- The record. What was kept as "result" stays readable there and is not
-- written any more.

-- +goose Up

CREATE TABLE record (
    id      text COLLATE "C" NOT NULL PRIMARY KEY, -- the name that people say
    surface text        NOT NULL,
    message text        NOT NULL,
    thread  text        NOT NULL,
    station text        NOT NULL,
    asked   timestamptz NOT NULL,
    expires timestamptz NOT NULL,
    made    text        NOT NULL, -- JSON, for ever as it is: its SHA-256 is in the history
    rev     bigint      NOT NULL,
    over    boolean     NOT NULL, -- nothing happens to it any more
    live    text        NOT NULL, -- JSON: what was done to it since
    UNIQUE (surface, message)
);

CREATE INDEX record_asked ON record (asked, id);
CREATE INDEX record_station ON record (station, asked, id);
CREATE INDEX record_thread ON record (surface, thread, asked, id);
CREATE INDEX record_live ON record (asked, id) WHERE NOT over;
CREATE INDEX record_due ON record (expires) WHERE NOT over;

-- Where a record is shown, and at which of its revisions.
CREATE TABLE record_card (
    surface text        NOT NULL,
    ref     text        NOT NULL,
    record  text        NOT NULL,
    told    bigint      NOT NULL,
    said    bigint      NOT NULL,
    want    bigint      NOT NULL, -- the record's revision
    tries   bigint      NOT NULL,
    again   timestamptz NOT NULL, -- not to be tried before
    PRIMARY KEY (surface, ref)
);

CREATE INDEX record_card_of ON record_card (record);
CREATE INDEX record_card_untold ON record_card (again) WHERE told < want;

-- The chain: body is JSON that holds the hash of the entry before, hash is
-- its SHA-256. Whoever appends holds the lock of history.go.
CREATE TABLE history (
    seq    bigint NOT NULL PRIMARY KEY,
    record text   NOT NULL,
    body   bytea  NOT NULL,
    hash   bytea  NOT NULL
);

CREATE INDEX history_record ON history (record, seq);

CREATE TABLE history_head (
    one  bigint NOT NULL PRIMARY KEY CHECK (one = 1),
    seq  bigint NOT NULL,
    hash bytea  NOT NULL
);

INSERT INTO history_head (one, seq, hash) VALUES (1, 0, decode(repeat('00', 32), 'hex'));
