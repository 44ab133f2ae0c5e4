-- Script 2: what pixels tell of focus, light, rims and what matters; the
-- profile their colours were read by; where an elevation comes from.
-- A script is never edited after a release; the next one gets the next number.

ALTER TABLE frame ADD COLUMN profile TEXT NOT NULL DEFAULT '';        -- how codes became colours, in words; '' not known
ALTER TABLE frame ADD COLUMN focus TEXT;                              -- JSON, scores 0 to 1, grid of bytes in base64; NULL not measured
ALTER TABLE frame ADD COLUMN light TEXT;                              -- JSON, shares 0 to 1, level in stops from white; NULL not measured
ALTER TABLE frame ADD COLUMN rims TEXT;                               -- JSON array, lengths in shares of the upright width, the surest first; NULL none
ALTER TABLE frame ADD COLUMN matters TEXT;                            -- JSON, weights of bytes in base64; NULL not measured
ALTER TABLE frame ADD COLUMN elevation_from TEXT NOT NULL DEFAULT ''; -- what tells elevation: 'exif', 'gravity'; '' where there is none
ALTER TABLE frame ADD COLUMN measured INTEGER NOT NULL DEFAULT 0;     -- number of the way in which facts and look were measured; 0 before they were counted

-- The first script knew of no other source.
UPDATE frame SET elevation_from = 'exif' WHERE elevation IS NOT NULL;

CREATE INDEX frame_measured ON frame (measured);
