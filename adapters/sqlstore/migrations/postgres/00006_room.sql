-- What stands on the crew-room page: conversations, and posts for everybody.

-- +goose Up

CREATE TABLE page_place (
    place text        NOT NULL PRIMARY KEY,
    rev   bigint      NOT NULL, -- grows with each edit, and when it is made anew
    used  timestamptz NOT NULL
);

CREATE INDEX page_place_used ON page_place (used);

CREATE TABLE page_entry (
    place text        NOT NULL,
    id    text        NOT NULL,
    under text        NOT NULL, -- the entry that it stands below, or ''
    born  bigint      NOT NULL, -- the place's revision when it was made
    rev   bigint      NOT NULL, -- and when it was last edited
    made  timestamptz NOT NULL,
    body  text        NOT NULL, -- JSON
    PRIMARY KEY (place, id)
);

CREATE INDEX page_entry_rev ON page_entry (place, rev);
CREATE INDEX page_entry_born ON page_entry (place, under, born);

CREATE TABLE page_file (
    place text   NOT NULL,
    entry text   NOT NULL,
    n     bigint NOT NULL,
    data  bytea  NOT NULL,
    PRIMARY KEY (place, entry, n)
);
