-- Script 8: two cards of one name are two. A name is the volume's, and a number
-- where another card had it first; by files that were on a card it is known again.
ALTER TABLE card ADD COLUMN volume TEXT NOT NULL DEFAULT ''; -- the name that it is mounted under; '' that of the card
ALTER TABLE card ADD COLUMN marks TEXT NOT NULL DEFAULT '[]'; -- JSON array of {path, size in bytes, modified}: files that were on it when last read; [] not known
UPDATE card SET volume = name;
