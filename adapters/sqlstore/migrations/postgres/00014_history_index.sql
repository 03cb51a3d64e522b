-- Nothing looks for the entries of one record: the history is read in its order,
-- and the retention takes it from the front. Names are random, so that each entry
-- wrote a page of this index anew.

-- +goose Up

DROP INDEX history_record;
