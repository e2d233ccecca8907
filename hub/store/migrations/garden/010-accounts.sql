-- Who may do what. Of passwords and secrets only what they are checked with is kept.
CREATE TABLE person (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL,
  -- The name in small letters: two people cannot be told apart by capitals.
  name_key TEXT NOT NULL UNIQUE,
  role TEXT NOT NULL CHECK (role IN ('owner', 'viewer')),
  created_at REAL NOT NULL,
  password_at REAL NOT NULL,
  hash TEXT NOT NULL
) STRICT;
CREATE TABLE session (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  started_at REAL NOT NULL,
  seen_at REAL NOT NULL,
  device TEXT NOT NULL,
  hash TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX session_of_person ON session (person);
CREATE TABLE access_key (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  kind TEXT NOT NULL CHECK (kind IN ('token', 'share', 'feed')),
  name TEXT NOT NULL,
  -- Scopes of a token, with blanks between them.
  scopes TEXT NOT NULL,
  bed INTEGER,
  made_at REAL NOT NULL,
  ends_at REAL,
  used_at REAL,
  hash TEXT NOT NULL UNIQUE
) STRICT;
-- Who wrote it; null: nobody had to say who they are.
ALTER TABLE journal ADD COLUMN by_name TEXT;
