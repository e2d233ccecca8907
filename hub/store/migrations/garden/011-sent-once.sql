-- What was sent with a key of its own, so that sending it again stores nothing twice.
CREATE TABLE sent_once (
  key TEXT PRIMARY KEY,
  -- Of what was asked for: the same key with other content is a mistake.
  digest TEXT NOT NULL,
  at REAL NOT NULL,
  -- The entry as it was stored then, as JSON.
  answer TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sent_once_at ON sent_once (at);
