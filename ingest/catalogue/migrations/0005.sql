-- Script 5: long straight edges, of tables, boards and trays.

ALTER TABLE frame ADD COLUMN lines TEXT; -- JSON array of {x1, y1, x2, y2} in shares of the upright width, the longest first; NULL none
