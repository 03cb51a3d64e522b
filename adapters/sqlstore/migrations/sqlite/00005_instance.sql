-- Which copy of the store this is. restored is when a store was last put back
-- from a copy: what was posted since the copy was made is not known here.

-- +goose Up

CREATE TABLE instance (
    one      INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    mark     TEXT    NOT NULL, -- '': not known yet
    restored INTEGER           -- NULL: never
) STRICT;

INSERT INTO instance (one, mark) VALUES (1, '');
