-- The store's first schema. Texts as received are bytea, for text holds
-- neither NUL nor what is not UTF-8; replies are json and not jsonb, which
-- would refuse a NUL in them.

-- +goose Up

CREATE TABLE alert (
    base          text             NOT NULL,
    day           text             NOT NULL, -- local, 2026-01-15
    seq           bigint           NOT NULL,
    kind          text             NOT NULL,
    state         text             NOT NULL,
    low_c         double precision NOT NULL,
    low_at        timestamptz      NOT NULL,
    below_from    timestamptz      NOT NULL,
    below_to      timestamptz      NOT NULL,
    hours_known   boolean          NOT NULL,
    covered       boolean          NOT NULL,
    restriction_c double precision NOT NULL,
    source        text             NOT NULL,
    issued        timestamptz      NOT NULL,
    note          text             NOT NULL,
    made          timestamptz      NOT NULL,
    PRIMARY KEY (base, day, seq)
);

CREATE TABLE ack (
    base         text        NOT NULL,
    day          text        NOT NULL,
    seq          bigint      NOT NULL,
    by           text        NOT NULL,
    acknowledged timestamptz NOT NULL,
    PRIMARY KEY (base, day, seq, by)
);

CREATE TABLE snooze (
    base  text        NOT NULL,
    day   text        NOT NULL,
    until timestamptz NOT NULL,
    by    text        NOT NULL,
    PRIMARY KEY (base, day)
);

-- Rows stay for ever: key and channel are what makes a post happen once.
CREATE TABLE outbox (
    id      bigint      GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    key     text        NOT NULL,
    channel text        NOT NULL,
    line    text        NOT NULL, -- the key without its number
    seq     bigint      NOT NULL, -- the number
    body    json        NOT NULL,
    made    timestamptz NOT NULL,
    due     timestamptz NOT NULL,
    again   timestamptz,          -- not to be tried before
    state   text        NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'sent', 'given-up')),
    attempt bigint      NOT NULL DEFAULT 0,
    until   timestamptz,          -- end of the lease
    ref     text,                 -- the platform's
    reason  text,                 -- of the last failure
    ended   timestamptz,
    UNIQUE (key, channel)
);

CREATE INDEX outbox_due ON outbox (due, id) WHERE state = 'waiting';
CREATE INDEX outbox_line ON outbox (channel, line, seq) WHERE state = 'waiting';
CREATE INDEX outbox_given_up ON outbox (id) WHERE state = 'given-up';

CREATE TABLE lease (
    name   text        NOT NULL PRIMARY KEY,
    holder text        NOT NULL,
    until  timestamptz NOT NULL
);

CREATE TABLE observation (
    id       bigint           GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    ident    text             NOT NULL,
    source   text             NOT NULL,
    observed timestamptz      NOT NULL,
    c        double precision NOT NULL,
    raw      bytea            NOT NULL,
    received timestamptz      NOT NULL,
    digest   bytea            NOT NULL UNIQUE -- SHA-256 of all but the time received
);

CREATE INDEX observation_latest ON observation (ident, observed, received, id);

CREATE TABLE forecast (
    id         bigint      GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    ident      text        NOT NULL,
    source     text        NOT NULL,
    issued     timestamptz NOT NULL,
    valid_from timestamptz NOT NULL,
    valid_to   timestamptz NOT NULL,
    hourly     json        NOT NULL,
    minimums   json        NOT NULL,
    maximums   json        NOT NULL,
    raw        bytea       NOT NULL,
    received   timestamptz NOT NULL,
    digest     bytea       NOT NULL UNIQUE
);

CREATE INDEX forecast_latest ON forecast (ident, issued, received, id);

CREATE TABLE result (
    surface text        NOT NULL,
    id      text        NOT NULL,
    thread  text        NOT NULL,
    person  text        NOT NULL,
    text    bytea       NOT NULL,
    asked   timestamptz NOT NULL,
    reply   json        NOT NULL,
    PRIMARY KEY (surface, id)
);
