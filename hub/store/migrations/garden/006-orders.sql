-- What the hub wants of probes: settings, commands, readings once more. id: unique over all probes, and
-- never given twice, for a probe carries a number out once.
CREATE TABLE probe_order (
  id INTEGER PRIMARY KEY,
  probe TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('settings', 'command', 'resend')),
  interval_s INTEGER,
  samples INTEGER,
  settle_s INTEGER,
  what TEXT,
  boot INTEGER,
  first INTEGER,
  count INTEGER,
  made_at REAL NOT NULL,
  expires_at REAL,
  sent_at REAL,
  times INTEGER NOT NULL DEFAULT 0,
  answered_at REAL,
  ok INTEGER,
  reason TEXT
) STRICT;
CREATE INDEX probe_order_of_probe ON probe_order (probe, kind, id);
