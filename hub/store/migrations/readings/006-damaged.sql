-- What was changed on the disk by something other than the hub and could not be read any more, byte for byte, so that
-- everything else goes on (set-apart.ts). part: where it was. place: the row in the log, or the start of the block,
-- epoch ms. probe, thinned: of a block. n: the readings it held. at: when it was met, epoch ms.
CREATE TABLE damaged (
  id INTEGER PRIMARY KEY,
  at INTEGER NOT NULL,
  part TEXT NOT NULL CHECK (part IN ('log', 'block')),
  place INTEGER NOT NULL,
  probe INTEGER,
  thinned INTEGER NOT NULL DEFAULT 0,
  n INTEGER NOT NULL,
  why TEXT NOT NULL,
  body BLOB NOT NULL
) STRICT;
