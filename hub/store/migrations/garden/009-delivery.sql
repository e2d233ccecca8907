-- By what ways messages reach the gardener. settings: JSON, everything of a route that is shown. secret: a password, key or
-- address that is written and never read back by anything but the sender. state: JSON, what the route remembers
-- between two looks at the alarms.
CREATE TABLE route (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  created_at REAL NOT NULL,
  paused_until REAL,
  settings TEXT NOT NULL,
  secret TEXT,
  state TEXT NOT NULL
) STRICT;
-- The outbox. items: JSON, what the message says. Of one route they are sent in the order of their ids.
CREATE TABLE message (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  route INTEGER NOT NULL REFERENCES route (id) ON DELETE CASCADE,
  uid TEXT NOT NULL UNIQUE,
  made_at REAL NOT NULL,
  held TEXT,
  items TEXT NOT NULL,
  state TEXT NOT NULL DEFAULT 'waiting'
    CHECK (state IN ('waiting', 'sending', 'failed', 'sent', 'given-up')),
  tries INTEGER NOT NULL DEFAULT 0,
  last_try_at REAL,
  next_try_at REAL,
  sent_at REAL,
  answer TEXT,
  maybe_sent INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX message_of_route ON message (route, id);
CREATE INDEX message_open ON message (id) WHERE state IN ('waiting', 'sending', 'failed');
-- What the hub made for itself and must keep: its own name for the world, its keys.
CREATE TABLE hub_own (
  name TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
