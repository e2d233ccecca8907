-- What the watch over the hours remembers. All of it follows from the readings and the journal: this file may
-- be deleted, the hub then goes through its history again.

-- state: structured clone of the state after all hours before `hour` were taken in.
CREATE TABLE remembered (
  bed INTEGER NOT NULL,
  hour INTEGER NOT NULL,
  version INTEGER NOT NULL,
  state BLOB NOT NULL,
  PRIMARY KEY (bed, hour)
) STRICT, WITHOUT ROWID;

-- One row per probe, spot and UTC day. A value that is not known is NULL.
CREATE TABLE spot_day (
  bed INTEGER NOT NULL,
  day INTEGER NOT NULL,
  spot INTEGER NOT NULL,
  probe TEXT NOT NULL,
  ph REAL,
  hours INTEGER NOT NULL,
  moisture REAL,
  available REAL,
  temperature_c REAL,
  apart INTEGER NOT NULL CHECK (apart IN (0, 1)),
  PRIMARY KEY (bed, day, spot, probe)
) STRICT, WITHOUT ROWID;
