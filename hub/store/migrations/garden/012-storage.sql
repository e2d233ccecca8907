-- How long raw readings are kept; null: for ever.
CREATE TABLE retention (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  raw_months INTEGER,
  decided_at REAL
) STRICT;
INSERT INTO retention (one) VALUES (1);

-- How full the disk was, a row a UTC day: what the forecast is made from.
CREATE TABLE storage_day (
  day INTEGER PRIMARY KEY,
  at REAL NOT NULL,
  used_bytes REAL NOT NULL,
  free_bytes REAL NOT NULL,
  total_bytes REAL NOT NULL,
  readings REAL NOT NULL
) STRICT;
