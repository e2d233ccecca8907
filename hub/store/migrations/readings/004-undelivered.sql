-- Readings that are to go to an InfluxDB and have not been taken by it yet, as the lines they go there with: some of
-- one probe in a row, which were kept together. low, high: their first and last moment, epoch ms.
CREATE TABLE undelivered (
  i INTEGER PRIMARY KEY AUTOINCREMENT,
  probe TEXT NOT NULL,
  low INTEGER NOT NULL,
  high INTEGER NOT NULL,
  n INTEGER NOT NULL,
  lines TEXT NOT NULL
) STRICT;
CREATE INDEX undelivered_by_time ON undelivered (probe, high);

-- Lines that the server did not take, and what it said; these readings are answered from here.
CREATE TABLE refused (
  probe TEXT NOT NULL,
  t INTEGER NOT NULL,
  line TEXT NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (probe, t)
) STRICT, WITHOUT ROWID;

-- What the hub knows of the InfluxDB that keeps its readings; empty while they are kept in this file alone.
CREATE TABLE forwarding (name TEXT PRIMARY KEY, said TEXT NOT NULL) STRICT, WITHOUT ROWID;
