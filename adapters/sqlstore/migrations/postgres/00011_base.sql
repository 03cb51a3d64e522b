-- Bases that duty officers have added: what is watched besides the
-- configuration's own.

-- +goose Up

CREATE TABLE added_base (
    ident text COLLATE "C" NOT NULL PRIMARY KEY,
    body  text NOT NULL -- JSON of bot/bases
);
