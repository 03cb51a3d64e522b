-- Which copy of the store this is. restored is when a store was last put back
-- from a copy: what was posted since the copy was made is not known here.

-- +goose Up

CREATE TABLE instance (
    one      bigint NOT NULL PRIMARY KEY CHECK (one = 1),
    mark     text   NOT NULL, -- '': not known yet
    restored timestamptz      -- NULL: never
);

INSERT INTO instance (one, mark) VALUES (1, '');
