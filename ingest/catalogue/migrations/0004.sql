-- Second copies of originals, and when each was last read whole.

CREATE TABLE copy (
    file     TEXT NOT NULL REFERENCES file (path) ON UPDATE CASCADE ON DELETE CASCADE,
    root     TEXT NOT NULL,    -- absolute folder; the copy lies below it under the path of its file
    sha256   TEXT NOT NULL CHECK (length(sha256) = 64), -- of the copy; where the file's is another, the copy is of what it was
    apart    INTEGER NOT NULL CHECK (apart IN (0, 1)),  -- root surely lay on other devices than the shoot
    verified TEXT NOT NULL,    -- read back and found equal, UTC, RFC 3339
    checked  TEXT,             -- last read whole since and found equal, UTC, RFC 3339; NULL never
    PRIMARY KEY (file, root)
) STRICT, WITHOUT ROWID;

ALTER TABLE file ADD COLUMN checked TEXT; -- last read whole since it was verified and found equal, UTC, RFC 3339; NULL never

-- Verifications that have not come to their end.
CREATE TABLE verification (
    root  TEXT NOT NULL PRIMARY KEY, -- '' the shoot itself
    begun TEXT NOT NULL              -- UTC, RFC 3339
) STRICT;
