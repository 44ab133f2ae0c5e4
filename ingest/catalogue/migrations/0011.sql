-- Script 11: by what a frame is known not to have been stored since, in any of
-- its columns.

ALTER TABLE frame ADD COLUMN stored INTEGER NOT NULL DEFAULT 0; -- drawn by lot whenever anything of the row is stored; 0 not since script 11

CREATE INDEX frame_stored ON frame (id, stored);
