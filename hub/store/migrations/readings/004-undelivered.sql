-- Readings that are to go to an InfluxDB and have not been taken by it yet, each as the line it goes there with.
-- timed = 0: its time is only bounded. refused: what the server said of a line it did not take; the reading is then
-- answered from here.
CREATE TABLE undelivered (
  i INTEGER PRIMARY KEY AUTOINCREMENT,
  probe TEXT NOT NULL,
  t INTEGER NOT NULL,
  timed INTEGER NOT NULL CHECK (timed IN (0, 1)),
  line TEXT NOT NULL,
  refused TEXT
) STRICT;
CREATE UNIQUE INDEX undelivered_by_time ON undelivered (probe, t);

-- What the hub knows of the InfluxDB that keeps its readings; empty while they are kept in this file alone.
CREATE TABLE forwarding (name TEXT PRIMARY KEY, said TEXT NOT NULL) STRICT, WITHOUT ROWID;
