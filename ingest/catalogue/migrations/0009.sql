-- Script 9: what stood on a set, and variants of a dish, by their names.

CREATE TABLE decision_with_names (
    id     INTEGER PRIMARY KEY, -- in the order they were made
    at     TEXT NOT NULL,       -- UTC, RFC 3339
    who    TEXT NOT NULL,       -- '' unknown
    kind   TEXT NOT NULL CHECK (kind IN ('assign', 'choose', 'waive', 'crop', 'clock', 'on', 'prop', 'variant', 'undo')),
    frame  TEXT NOT NULL,
    recipe TEXT NOT NULL,
    title  TEXT NOT NULL,       -- of the recipe when it was said; '' not known
    need   TEXT NOT NULL,
    name   TEXT NOT NULL,       -- of a prop or variant; '' none
    why    TEXT NOT NULL,
    undoes INTEGER CHECK (undoes < id), -- an earlier decision; NULL unless kind is undo
    rect   TEXT,                        -- JSON [x, y, width, height], upright pixels of the original; NULL unless kind is crop
    act    INTEGER NOT NULL CHECK (act <= id), -- the first decision made in the same breath; 0 made alone
    body   TEXT NOT NULL,               -- of a clock, or of what is on set; '' all
    shift  INTEGER NOT NULL,            -- nanoseconds from the body's clock to the studio's
    since  TEXT                         -- wall clock, see wallClock in catalogue.go; NULL not stated
) STRICT;

INSERT INTO decision_with_names SELECT id, at, who, kind, frame, recipe, title, need, '', why, undoes, rect, act, body, shift, since FROM decision;

DROP TRIGGER decision_stays;
DROP TRIGGER decision_is_kept;
DROP TABLE decision;
ALTER TABLE decision_with_names RENAME TO decision;

CREATE TRIGGER decision_stays BEFORE UPDATE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;

CREATE TRIGGER decision_is_kept BEFORE DELETE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;
