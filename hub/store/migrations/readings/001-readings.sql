-- What was acknowledged, one row per reading as received, in order of arrival. AUTOINCREMENT: a cursor
-- into this table must never meet an id twice, also after the table was empty.
CREATE TABLE log (
  i INTEGER PRIMARY KEY AUTOINCREMENT,
  probe TEXT NOT NULL,
  boot INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  uptime REAL NOT NULL,
  at REAL NOT NULL,
  placed_by INTEGER NOT NULL,
  arrived_at REAL NOT NULL,
  device_at REAL,
  flags INTEGER NOT NULL,
  vals BLOB NOT NULL
) STRICT;

-- How far each user of the log has come. A log row goes once every cursor has passed it.
CREATE TABLE cursor (name TEXT PRIMARY KEY, i INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO cursor VALUES ('settled', 0);

CREATE TABLE probe (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;

-- timed = 0: values of readings whose time is only bounded. They are kept for ever, but apart from the
-- series that trends are made of.
CREATE TABLE series (
  id INTEGER PRIMARY KEY,
  probe INTEGER NOT NULL REFERENCES probe (id),
  channel TEXT NOT NULL,
  timed INTEGER NOT NULL CHECK (timed IN (0, 1)),
  UNIQUE (probe, channel, timed)
) STRICT;

-- Everything of a reading but its values. t: epoch ms under which the values stand in r.
-- at: null when it equals t; else the time as given (t is whole and differs between a probe's readings).
CREATE TABLE reading (
  probe INTEGER NOT NULL REFERENCES probe (id),
  boot INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  t INTEGER NOT NULL,
  at REAL,
  uptime REAL NOT NULL,
  placed_by INTEGER NOT NULL,
  arrived_at REAL NOT NULL,
  device_at REAL,
  flags INTEGER NOT NULL,
  PRIMARY KEY (probe, boot, seq)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX reading_by_time ON reading (probe, t);

-- v: INTEGER = value x 10000, exact; REAL = the value itself, when that would not be exact;
-- NULL = the sensor was tried and failed.
CREATE TABLE r (
  series INTEGER NOT NULL,
  t INTEGER NOT NULL,
  v ANY,
  PRIMARY KEY (series, t)
) STRICT, WITHOUT ROWID;

-- Roll-ups of r per UTC hour and UTC day; t = start of the bucket. n counts values, not failures.
CREATE TABLE hourly (
  series INTEGER NOT NULL,
  t INTEGER NOT NULL,
  n INTEGER NOT NULL,
  low REAL,
  mean REAL,
  high REAL,
  median REAL,
  PRIMARY KEY (series, t)
) STRICT, WITHOUT ROWID;
CREATE TABLE daily (
  series INTEGER NOT NULL,
  t INTEGER NOT NULL,
  n INTEGER NOT NULL,
  low REAL,
  mean REAL,
  high REAL,
  median REAL,
  PRIMARY KEY (series, t)
) STRICT, WITHOUT ROWID;

CREATE TABLE latest (series INTEGER PRIMARY KEY, t INTEGER NOT NULL, v ANY) STRICT;

CREATE TABLE mark (
  probe TEXT NOT NULL,
  boot INTEGER NOT NULL,
  top INTEGER NOT NULL,
  lost INTEGER NOT NULL,
  last_at REAL NOT NULL,
  PRIMARY KEY (probe, boot)
) STRICT, WITHOUT ROWID;

CREATE TABLE anchor (
  probe TEXT NOT NULL,
  boot INTEGER NOT NULL,
  uptime REAL NOT NULL,
  at REAL NOT NULL,
  PRIMARY KEY (probe, boot, uptime)
) STRICT, WITHOUT ROWID;

-- same: tells a contradicting reading that came again from a new one; null for messages.
CREATE TABLE quarantine (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  arrived_at REAL NOT NULL,
  topic TEXT NOT NULL,
  payload BLOB NOT NULL,
  reason TEXT NOT NULL,
  same TEXT UNIQUE
) STRICT;

CREATE TABLE tally (name TEXT PRIMARY KEY, n INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO tally VALUES ('readings', 0), ('duplicates', 0), ('quarantined', 0);
