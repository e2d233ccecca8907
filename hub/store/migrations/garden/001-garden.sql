CREATE TABLE garden (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  name TEXT NOT NULL,
  zone TEXT NOT NULL,
  units TEXT NOT NULL CHECK (units IN ('metric', 'us'))
) STRICT;

CREATE TABLE bed (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL,
  area_m2 REAL NOT NULL,
  depth_m REAL NOT NULL,
  texture TEXT NOT NULL,
  -- JSON array of slugs
  crops TEXT NOT NULL,
  band_low REAL,
  band_high REAL,
  rank INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  retired_at INTEGER,
  CHECK ((band_low IS NULL) = (band_high IS NULL))
) STRICT;

CREATE TABLE spot (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER NOT NULL REFERENCES bed (id),
  name TEXT NOT NULL
) STRICT;
CREATE INDEX spot_by_bed ON spot (bed);

CREATE TABLE probe (
  id TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  adopted_at INTEGER,
  first_seen_at INTEGER NOT NULL,
  last_seen_at INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('on', 'off', 'sleep', 'unknown')),
  state_at INTEGER NOT NULL,
  expected_at REAL,
  firmware TEXT,
  hardware TEXT,
  interval_s REAL
) STRICT, WITHOUT ROWID;

CREATE TABLE channel (
  probe TEXT NOT NULL REFERENCES probe (id),
  name TEXT NOT NULL,
  senses TEXT NOT NULL,
  unit TEXT NOT NULL,
  low REAL,
  high REAL,
  resolution REAL,
  depth_m REAL,
  derived_from TEXT,
  described INTEGER NOT NULL CHECK (described IN (0, 1)),
  PRIMARY KEY (probe, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE placement (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  probe TEXT NOT NULL REFERENCES probe (id),
  spot INTEGER NOT NULL REFERENCES spot (id),
  since INTEGER NOT NULL,
  until INTEGER,
  CHECK (until IS NULL OR until > since)
) STRICT;
CREATE INDEX placement_by_spot ON placement (spot);
CREATE INDEX placement_by_probe ON placement (probe, since);

CREATE TABLE calibration (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  kind TEXT NOT NULL CHECK (kind IN ('electrode', 'moisture')),
  probe TEXT NOT NULL REFERENCES probe (id),
  channel TEXT NOT NULL,
  at INTEGER NOT NULL,
  ph_1 REAL,
  emf_mv_1 REAL,
  ph_2 REAL,
  emf_mv_2 REAL,
  temperature_c REAL,
  dry_raw REAL,
  wet_raw REAL,
  note TEXT NOT NULL,
  CHECK (
    CASE kind
      WHEN 'electrode' THEN ph_1 + emf_mv_1 + ph_2 + emf_mv_2 + temperature_c IS NOT NULL
      ELSE dry_raw + wet_raw IS NOT NULL
    END
  )
) STRICT;
CREATE INDEX calibration_by_probe ON calibration (probe, at);

CREATE TABLE journal (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER NOT NULL REFERENCES bed (id),
  at INTEGER NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('treatment', 'irrigation', 'service', 'sample', 'note')),
  material TEXT,
  amount_g REAL,
  water_l REAL,
  probe TEXT,
  ph REAL,
  method TEXT,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX journal_by_bed ON journal (bed, at);

CREATE TABLE alarm (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER NOT NULL REFERENCES bed (id),
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('normal', 'unacknowledged', 'acknowledged', 'returned')),
  raised_at INTEGER NOT NULL,
  acknowledged_at INTEGER,
  returned_at INTEGER,
  -- the off-delay runs since then
  over_since INTEGER,
  changed_at INTEGER NOT NULL,
  -- JSON object
  evidence TEXT NOT NULL,
  sentence TEXT NOT NULL,
  advice TEXT NOT NULL
) STRICT;
CREATE INDEX alarm_by_time ON alarm (raised_at);
CREATE INDEX alarm_open ON alarm (raised_at) WHERE state <> 'normal';
