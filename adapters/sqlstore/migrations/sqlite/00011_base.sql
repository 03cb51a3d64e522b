-- Bases that duty officers have added: what is watched besides the
-- configuration's own.

-- +goose Up

CREATE TABLE added_base (
    ident TEXT NOT NULL PRIMARY KEY,
    body  TEXT NOT NULL -- JSON of bot/bases
) STRICT;
