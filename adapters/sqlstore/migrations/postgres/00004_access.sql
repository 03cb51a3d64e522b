-- Links to the crew-room page and the browsers that came in by them. Only
-- hashes of secrets are kept.

-- +goose Up

CREATE TABLE page_link (
    name      text        NOT NULL PRIMARY KEY,
    hash      bytea       NOT NULL UNIQUE,
    scope     text        NOT NULL,
    made      timestamptz NOT NULL,
    revoked   timestamptz, -- NULL: it is good
    last_used timestamptz  -- NULL: never
);

CREATE TABLE page_session (
    hash bytea       NOT NULL PRIMARY KEY,
    link bytea       NOT NULL, -- its hash: a later link of the same name is another
    made timestamptz NOT NULL,
    used timestamptz NOT NULL
);

CREATE INDEX page_session_of ON page_session (link);
CREATE INDEX page_session_used ON page_session (used);
