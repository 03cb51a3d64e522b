-- What stands on the crew-room page: conversations, and posts for everybody.

-- +goose Up

CREATE TABLE page_place (
    place TEXT    NOT NULL PRIMARY KEY,
    rev   INTEGER NOT NULL, -- grows with each edit, and when it is made anew
    used  INTEGER NOT NULL
) STRICT;

CREATE INDEX page_place_used ON page_place (used);

CREATE TABLE page_entry (
    place TEXT    NOT NULL,
    id    TEXT    NOT NULL,
    under TEXT    NOT NULL, -- the entry that it stands below, or ''
    born  INTEGER NOT NULL, -- the place's revision when it was made
    rev   INTEGER NOT NULL, -- and when it was last edited
    made  INTEGER NOT NULL,
    body  TEXT    NOT NULL, -- JSON
    PRIMARY KEY (place, id)
) STRICT;

CREATE INDEX page_entry_rev ON page_entry (place, rev);
CREATE INDEX page_entry_born ON page_entry (place, under, born);

CREATE TABLE page_file (
    place TEXT    NOT NULL,
    entry TEXT    NOT NULL,
    n     INTEGER NOT NULL,
    data  BLOB    NOT NULL,
    PRIMARY KEY (place, entry, n)
) STRICT;
