-- Script 3: a person's own crop is a decision, with its rectangle.

CREATE TABLE decision_with_crops (
    id     INTEGER PRIMARY KEY, -- in the order they were made
    at     TEXT NOT NULL,       -- UTC, RFC 3339
    who    TEXT NOT NULL,       -- '' unknown
    kind   TEXT NOT NULL CHECK (kind IN ('assign', 'choose', 'waive', 'crop', 'undo')),
    frame  TEXT NOT NULL,
    recipe TEXT NOT NULL,
    need   TEXT NOT NULL,
    why    TEXT NOT NULL,
    undoes INTEGER CHECK (undoes < id), -- an earlier decision; NULL unless kind is undo
    rect   TEXT                         -- JSON [x, y, width, height], upright pixels of the original; NULL unless kind is crop
) STRICT;

INSERT INTO decision_with_crops SELECT id, at, who, kind, frame, recipe, need, why, undoes, NULL FROM decision;

DROP TRIGGER decision_stays;
DROP TRIGGER decision_is_kept;
DROP TABLE decision;
ALTER TABLE decision_with_crops RENAME TO decision;

CREATE TRIGGER decision_stays BEFORE UPDATE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;

CREATE TRIGGER decision_is_kept BEFORE DELETE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;
