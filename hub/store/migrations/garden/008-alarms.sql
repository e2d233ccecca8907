-- Alarms about the hub and about probes in no bed; how urgent they are; those kept out of sight for a while.
CREATE TABLE alarm_new (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  bed INTEGER REFERENCES bed (id),
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  priority TEXT NOT NULL CHECK (priority IN ('low', 'medium', 'high')),
  state TEXT NOT NULL CHECK (state IN ('normal', 'unacknowledged', 'acknowledged', 'returned')),
  raised_at REAL NOT NULL,
  acknowledged_at REAL,
  returned_at REAL,
  -- the off-delay runs since then
  over_since REAL,
  shelved_until REAL,
  changed_at REAL NOT NULL,
  -- JSON object
  evidence TEXT NOT NULL,
  sentence TEXT NOT NULL,
  advice TEXT NOT NULL
) STRICT;
INSERT INTO alarm_new (id, bed, kind, subject, priority, state, raised_at, acknowledged_at, returned_at,
    over_since, changed_at, evidence, sentence, advice)
  SELECT id, bed, kind, subject,
    CASE kind WHEN 'harmful-shift' THEN 'high' WHEN 'probe-check' THEN 'low' ELSE 'medium' END,
    state, raised_at, acknowledged_at, returned_at, over_since, changed_at, evidence, sentence, advice
  FROM alarm;
DROP TABLE alarm;
ALTER TABLE alarm_new RENAME TO alarm;
CREATE INDEX alarm_by_time ON alarm (raised_at);
CREATE INDEX alarm_of_bed ON alarm (bed, raised_at);
CREATE INDEX alarm_open ON alarm (raised_at) WHERE state <> 'normal';
-- What happened to each. snapshot: JSON, the alarm as it was then.
CREATE TABLE alarm_change (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  alarm INTEGER NOT NULL REFERENCES alarm (id),
  at REAL NOT NULL,
  what TEXT NOT NULL CHECK (what IN ('raised', 'changed', 'acknowledged', 'returned', 'closed',
    'shelved', 'unshelved', 'noted')),
  by_name TEXT,
  note TEXT NOT NULL,
  snapshot TEXT NOT NULL
) STRICT;
CREATE INDEX alarm_change_of_alarm ON alarm_change (alarm, id);
