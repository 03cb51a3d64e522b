-- Procedures from coded files, one row an approach.

-- +goose Up

CREATE TABLE procedure (
    dataset TEXT NOT NULL,
    ident   TEXT NOT NULL, -- the station
    code    TEXT NOT NULL,
    cycle   TEXT NOT NULL, -- 2609; later ones sort behind
    body    TEXT NOT NULL, -- JSON
    PRIMARY KEY (dataset, ident, code)
);

CREATE INDEX procedure_of ON procedure (ident, code, dataset);
