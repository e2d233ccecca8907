-- What decides a dose and is not part of the bed itself; kg/m3.
CREATE TABLE bed_soil (
  bed INTEGER PRIMARY KEY REFERENCES bed (id),
  bulk_density REAL CHECK (bulk_density > 0),
  planting TEXT CHECK (planting IN ('bare', 'standing')),
  hard_water INTEGER CHECK (hard_water IN (0, 1))
) STRICT;

CREATE TABLE soil_test (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER NOT NULL REFERENCES bed (id),
  at INTEGER NOT NULL,
  text TEXT NOT NULL,
  -- JSON object with its kind
  body TEXT NOT NULL
) STRICT;
CREATE INDEX soil_test_by_bed ON soil_test (bed, at);

CREATE TABLE plan (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER NOT NULL REFERENCES bed (id),
  created_at INTEGER NOT NULL,
  material TEXT NOT NULL,
  strength REAL NOT NULL CHECK (strength > 0),
  from_ph REAL NOT NULL,
  target_ph REAL NOT NULL,
  -- JSON object: low, typical, high
  buffering TEXT NOT NULL,
  basis TEXT NOT NULL,
  closed_at INTEGER,
  ending TEXT CHECK (ending IN ('reached', 'stopped', 'given up')),
  CHECK ((closed_at IS NULL) = (ending IS NULL))
) STRICT;
CREATE INDEX plan_by_bed ON plan (bed, created_at);
-- Two plans at once would spoil each other's answer.
CREATE UNIQUE INDEX one_running_plan ON plan (bed) WHERE closed_at IS NULL;

CREATE TABLE plan_stage (
  plan INTEGER NOT NULL REFERENCES plan (id),
  -- counted from 0
  stage INTEGER NOT NULL,
  due_at INTEGER NOT NULL,
  amount_g REAL NOT NULL CHECK (amount_g > 0),
  -- JSON object: low, typical, high
  change TEXT NOT NULL,
  full_from INTEGER NOT NULL,
  full_by INTEGER NOT NULL,
  -- JSON array of epoch ms
  retests TEXT NOT NULL,
  -- the treatment that did it; it lies ahead again when that is removed
  entry INTEGER REFERENCES journal (id) ON DELETE SET NULL,
  PRIMARY KEY (plan, stage)
) STRICT, WITHOUT ROWID;
CREATE INDEX plan_stage_by_entry ON plan_stage (entry) WHERE entry IS NOT NULL;

CREATE TABLE planning (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  season_from TEXT,
  season_to TEXT,
  currency TEXT,
  CHECK ((season_from IS NULL) = (season_to IS NULL))
) STRICT;
INSERT INTO planning VALUES (1, NULL, NULL, NULL);

-- In the garden's currency, per kg of the product.
CREATE TABLE price (
  material TEXT PRIMARY KEY,
  per_kg REAL NOT NULL CHECK (per_kg > 0)
) STRICT, WITHOUT ROWID;

CREATE TABLE photo (
  entry INTEGER PRIMARY KEY REFERENCES journal (id) ON DELETE CASCADE,
  type TEXT NOT NULL,
  bytes BLOB NOT NULL
) STRICT;
