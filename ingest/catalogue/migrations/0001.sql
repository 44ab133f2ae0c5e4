-- Script 1: frames, their files, where those came from, cards, decisions.
-- A script is never edited after a release; the next one gets the next number.
-- Columns that may be NULL say what NULL means.

CREATE TABLE card (
    name       TEXT NOT NULL PRIMARY KEY,   -- of its folder or volume
    root       TEXT NOT NULL,               -- where it was mounted when last read
    files      INTEGER NOT NULL,            -- count, when last read
    bytes      INTEGER NOT NULL,            -- when last read
    first_read TEXT NOT NULL,               -- UTC, RFC 3339
    last_read  TEXT NOT NULL,               -- UTC, RFC 3339
    whole      INTEGER NOT NULL CHECK (whole IN (0, 1)) -- the last read came to its end without an unread file
) STRICT;

CREATE TABLE frame (
    id               TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 64), -- SHA-256, lower-case hexadecimal
    taken            TEXT,    -- the camera's wall clock, "2006-01-02T15:04:05.999999999"; NULL not written
    zone_offset      TEXT NOT NULL, -- of the wall clock from UTC, "+01:00"; '' not written
    make             TEXT NOT NULL, -- '' not written
    model            TEXT NOT NULL, -- '' not written
    serial           TEXT NOT NULL, -- of the body; '' not written
    lens             TEXT NOT NULL, -- '' not written
    focal_length     REAL,    -- millimetres; NULL not written, here and below
    focal_35         REAL,    -- millimetres, 35 mm equivalent
    f_number         REAL,    -- f-number
    shutter          REAL,    -- seconds
    iso              REAL,    -- ISO speed
    subject_distance REAL,    -- metres
    elevation        REAL,    -- degrees, Exif's sign: -90 looks straight down
    orientation      INTEGER NOT NULL, -- 1 to 8 as Exif has it; 0 not written
    colour_space     TEXT NOT NULL,    -- '' not written
    rating           REAL,    -- xmp:Rating, -1 to 5; NULL not written
    title            TEXT NOT NULL,    -- dc:title
    headline         TEXT NOT NULL,    -- photoshop:Headline
    subjects         TEXT NOT NULL,    -- dc:subject, JSON array of strings
    width            INTEGER NOT NULL, -- pixels, upright; 0 unknown
    height           INTEGER NOT NULL, -- pixels, upright; 0 unknown
    preview          TEXT NOT NULL,    -- which pixels were measured; '' none
    picture          TEXT NOT NULL,    -- upright preview, path below the shoot's folder; '' none
    palette          TEXT NOT NULL,    -- JSON array of swatches, Lab in D50
    surface          TEXT,    -- JSON swatch; NULL unknown
    unread           TEXT NOT NULL     -- why facts or pixels could not be read; '' all is well
) STRICT;

CREATE INDEX frame_taken ON frame (taken);

CREATE TABLE file (
    path     TEXT NOT NULL PRIMARY KEY, -- below the shoot's folder, forward slashes; absolute where taken in place
    fold     TEXT NOT NULL,    -- path in lower case: names that some disks hold for one
    frame    TEXT REFERENCES frame (id), -- NULL: kept and verified, but of no frame
    position INTEGER NOT NULL, -- in its frame, the leading file is 0
    kind     TEXT NOT NULL,
    name     TEXT NOT NULL,    -- on the card, byte for byte
    stem     TEXT NOT NULL,    -- of name: what stands before its first dot, in lower case
    size     INTEGER NOT NULL, -- bytes
    sha256   TEXT NOT NULL CHECK (length(sha256) = 64), -- lower-case hexadecimal
    card     TEXT NOT NULL,
    source   TEXT NOT NULL,    -- path on that card, forward slashes
    modified TEXT,             -- as the card's file system has it, UTC, RFC 3339; NULL unknown
    verified TEXT              -- read back and found equal, UTC, RFC 3339; NULL: taken in place
) STRICT;

CREATE INDEX file_fold ON file (fold);
CREATE INDEX file_frame ON file (frame, position);
CREATE INDEX file_stem ON file (stem);
CREATE INDEX file_sha256 ON file (sha256);

-- What a file on a card looked like when it was last taken, so that the next
-- run over the same card knows it without reading it whole.
CREATE TABLE source (
    path     TEXT NOT NULL,    -- on the card, forward slashes, byte for byte
    size     INTEGER NOT NULL, -- bytes
    modified INTEGER NOT NULL, -- nanoseconds since 1970, as the card's file system has it
    quick    TEXT NOT NULL,    -- SHA-256 of the first and last 64 KiB
    card     TEXT NOT NULL,    -- the card it was last seen on
    file     TEXT NOT NULL REFERENCES file (path) ON UPDATE CASCADE ON DELETE CASCADE, -- where its content is kept
    PRIMARY KEY (path, size, modified, quick)
) STRICT, WITHOUT ROWID;

CREATE INDEX source_file ON source (file);

-- Only ever added to. A frame is not a foreign key: decisions outlive a
-- catalogue that had to be made anew.
CREATE TABLE decision (
    id     INTEGER PRIMARY KEY, -- in the order they were made
    at     TEXT NOT NULL,       -- UTC, RFC 3339
    who    TEXT NOT NULL,       -- '' unknown
    kind   TEXT NOT NULL CHECK (kind IN ('assign', 'choose', 'waive', 'undo')),
    frame  TEXT NOT NULL,
    recipe TEXT NOT NULL,
    need   TEXT NOT NULL,
    why    TEXT NOT NULL,
    undoes INTEGER REFERENCES decision (id) -- NULL unless kind is undo
) STRICT;

CREATE TRIGGER decision_stays BEFORE UPDATE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;

CREATE TRIGGER decision_is_kept BEFORE DELETE ON decision
BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END;
