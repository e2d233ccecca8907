-- What a probe must give at the broker. Passwords themselves are shown once and kept nowhere.
CREATE TABLE credential (
  probe TEXT PRIMARY KEY REFERENCES probe (id),
  -- When the password was made, or taken away (epoch ms).
  set_at INTEGER NOT NULL,
  -- For the hub's own broker: scrypt. NULL: taken away, nothing is let in under this id.
  hash TEXT,
  -- The same password as a line of mosquitto's password file wants it.
  broker_hash TEXT,
  CHECK ((hash IS NULL) = (broker_hash IS NULL))
) STRICT, WITHOUT ROWID;
