-- Hours of days that were thinned end with a CRC-32 of themselves, as blocks and rows of the log do; seal-hours.ts puts
-- it there right after this file, in the same transaction.

-- What was damaged can be settled: readings came back out of a backup, or somebody said that they are gone. Until then
-- its bytes lie here; afterwards only that it was so.
-- part: 'hours' are what stood for the readings of a thinned day. until: of blocks and hours the end of the stretch
-- that begins at `place`, epoch ms. back: how many readings a backup brought at most.
ALTER TABLE damaged RENAME TO old_damaged;
CREATE TABLE damaged (
  id INTEGER PRIMARY KEY,
  at INTEGER NOT NULL,
  part TEXT NOT NULL CHECK (part IN ('log', 'block', 'hours')),
  place INTEGER NOT NULL,
  until INTEGER,
  probe INTEGER,
  thinned INTEGER NOT NULL DEFAULT 0,
  n INTEGER NOT NULL,
  why TEXT NOT NULL,
  body BLOB NOT NULL,
  back INTEGER NOT NULL DEFAULT 0,
  settled_at INTEGER,
  outcome TEXT CHECK (outcome IN ('back', 'gone')),
  CHECK ((settled_at IS NULL) = (outcome IS NULL))
) STRICT;
-- The day of a moment before 1970 begins before it, too: the remainder is brought above zero first.
INSERT INTO damaged (id, at, part, place, until, probe, thinned, n, why, body)
SELECT id, at, part, place,
  CASE part WHEN 'block' THEN coalesce(
    (SELECT min(start) FROM block WHERE block.probe = old_damaged.probe AND start > place
       AND start < place - (place % 86400000 + 86400000) % 86400000 + 86400000),
    place - (place % 86400000 + 86400000) % 86400000 + 86400000
  ) END,
  probe, thinned, n, why, body
FROM old_damaged;
DROP TABLE old_damaged;
