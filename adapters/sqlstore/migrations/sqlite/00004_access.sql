-- Links to the crew-room page and the browsers that came in by them. Only
-- hashes of secrets are kept.

-- +goose Up

CREATE TABLE page_link (
    name      TEXT    NOT NULL PRIMARY KEY,
    hash      BLOB    NOT NULL UNIQUE,
    scope     TEXT    NOT NULL,
    made      INTEGER NOT NULL,
    revoked   INTEGER, -- NULL: it is good
    last_used INTEGER  -- NULL: never
) STRICT;

CREATE TABLE page_session (
    hash BLOB    NOT NULL PRIMARY KEY,
    link BLOB    NOT NULL, -- its hash: a later link of the same name is another
    made INTEGER NOT NULL,
    used INTEGER NOT NULL
) STRICT;

CREATE INDEX page_session_of ON page_session (link);
CREATE INDEX page_session_used ON page_session (used);
