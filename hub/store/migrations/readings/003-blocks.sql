-- Readings in blocks: one row for each probe and UTC day, instead of one for each reading and one for each value.
-- What is there is packed by to-blocks.ts right after this file, in the same transaction.
ALTER TABLE log RENAME TO old_log;
ALTER TABLE reading RENAME TO old_reading;
ALTER TABLE r RENAME TO old_r;
DROP INDEX reading_by_time;
CREATE UNIQUE INDEX old_reading_by_time ON old_reading (probe, t);

-- What was acknowledged: one row for each intake batch, in order of arrival, packed (packed-intake.ts).
-- AUTOINCREMENT: a cursor into this table must never meet an id twice, also after the table was empty.
CREATE TABLE log (i INTEGER PRIMARY KEY AUTOINCREMENT, readings INTEGER NOT NULL, body BLOB NOT NULL) STRICT;

-- Up to which row of the log the readings of this probe are in its blocks.
ALTER TABLE probe ADD COLUMN settled_to INTEGER NOT NULL DEFAULT 0;

-- The readings of one probe from `start` (epoch ms: a UTC day, or a moment within it) to the next block or the
-- end of the day, as columns (block.ts).
CREATE TABLE block (
  id INTEGER PRIMARY KEY,
  probe INTEGER NOT NULL REFERENCES probe (id),
  start INTEGER NOT NULL,
  n INTEGER NOT NULL,
  -- 1: values are gone, rows of `hourly` stand for them; names and times of the readings are still there.
  thinned INTEGER NOT NULL DEFAULT 0 CHECK (thinned IN (0, 1)),
  body BLOB NOT NULL
) STRICT;
CREATE UNIQUE INDEX block_by_start ON block (probe, start);

-- Which numbers of a boot a block holds, from and to.
CREATE TABLE span (
  probe INTEGER NOT NULL,
  boot INTEGER NOT NULL,
  block INTEGER NOT NULL REFERENCES block (id),
  low INTEGER NOT NULL,
  high INTEGER NOT NULL,
  PRIMARY KEY (probe, boot, block)
) STRICT, WITHOUT ROWID;

-- Hours are made of the blocks when they are read; rows stay only where raw readings have been thinned away.
DELETE FROM hourly;
