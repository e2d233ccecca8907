-- Claims put to the test; treated and untreated: JSON arrays of bed ids.
CREATE TABLE trial (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  claim TEXT NOT NULL,
  direction TEXT NOT NULL CHECK (direction IN ('raises', 'lowers', 'changes')),
  material TEXT NOT NULL,
  least_effect REAL NOT NULL CHECK (least_effect > 0),
  treated TEXT NOT NULL,
  untreated TEXT NOT NULL,
  starts_at INTEGER NOT NULL,
  days INTEGER NOT NULL CHECK (days > 0),
  created_at INTEGER NOT NULL,
  given_up_at INTEGER
) STRICT;
