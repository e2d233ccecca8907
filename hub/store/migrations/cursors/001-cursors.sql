-- How far the serving hub has taken the logs of the ingest processes. May be lost: then they are read again.

-- Of which file of readings this holds: with another one everything is read again.
CREATE TABLE owner (id TEXT NOT NULL) STRICT;

CREATE TABLE cursor (
  writer   TEXT NOT NULL,
  spool    TEXT NOT NULL,
  row      INTEGER NOT NULL,             -- the last one taken
  taken_at INTEGER NOT NULL,             -- epoch ms
  PRIMARY KEY (writer, spool)
) STRICT, WITHOUT ROWID;

-- Where a log stood at the end of each day, so that it can be trimmed by age.
CREATE TABLE day_end (
  writer TEXT NOT NULL,
  spool  TEXT NOT NULL,
  day    INTEGER NOT NULL,               -- epoch ms of its beginning, UTC
  row    INTEGER NOT NULL,
  PRIMARY KEY (writer, spool, day)
) STRICT, WITHOUT ROWID;
