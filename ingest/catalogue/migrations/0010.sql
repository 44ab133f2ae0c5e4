-- Script 10: by what a frame's facts and measures are known to be those of before.

ALTER TABLE frame ADD COLUMN revision INTEGER NOT NULL DEFAULT 0; -- drawn by lot whenever the frame is stored; 0 not stored since script 10
