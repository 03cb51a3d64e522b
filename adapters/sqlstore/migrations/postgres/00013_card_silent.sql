-- Cards are changed in silence: what newer weather changed is a post, kept as
-- every other.

-- +goose Up

ALTER TABLE record_card DROP COLUMN said;
