-- Messages of an ingest process as they came, on their way to the intake log.

CREATE TABLE spool (
  id         TEXT NOT NULL,              -- this life of the spool; numbers below belong to it
  base       INTEGER NOT NULL,           -- i - base is the number of a message in the log, from 1
  delivered  INTEGER NOT NULL,           -- i of the last message the log has confirmed
  taken      INTEGER NOT NULL            -- i of the last message the serving hub is known to have
) STRICT;

-- What the session at the broker listens to, or may still from earlier.
CREATE TABLE listening (topic TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;

-- Numbers are never given twice, also not after everything was trimmed.
CREATE TABLE message (
  i          INTEGER PRIMARY KEY AUTOINCREMENT,
  topic      TEXT NOT NULL,
  payload    BLOB NOT NULL,
  arrived_at INTEGER NOT NULL,           -- epoch ms
  flags      INTEGER NOT NULL,           -- 1: the broker may have held it back, 2: a copy the broker kept
  refused    TEXT                        -- why it is only kept aside
) STRICT;
