-- Script 6: pictures that were cut since the camera wrote them.

ALTER TABLE frame ADD COLUMN cut INTEGER NOT NULL DEFAULT 0 CHECK (cut IN (0, 1)); -- 1: another shape than the camera wrote
