-- Of a boot: numbers absent below the highest one that came and not written off, and that highest number.
ALTER TABLE mark ADD COLUMN missing INTEGER NOT NULL DEFAULT 0;
ALTER TABLE mark ADD COLUMN highest INTEGER NOT NULL DEFAULT -1;
UPDATE mark SET (highest, missing) = (
  SELECT max(mark.top, coalesce(max(seq), -1)),
    max(mark.top, coalesce(max(seq), -1)) - mark.top - count(seq)
  FROM (
    SELECT seq FROM reading JOIN probe ON probe.id = reading.probe
      WHERE probe.name = mark.probe AND boot = mark.boot AND seq > mark.top
    UNION
    SELECT seq FROM log WHERE log.probe = mark.probe AND log.boot = mark.boot AND seq > mark.top
  )
);

-- What became of the readings of one boot, counted as they settle and kept when readings are pruned.
-- late: not sent when measured. conflicting: the same number again with other content, each content once.
CREATE TABLE account (
  probe TEXT NOT NULL,
  boot INTEGER NOT NULL,
  received INTEGER NOT NULL,
  late INTEGER NOT NULL,
  duplicates INTEGER NOT NULL,
  conflicting INTEGER NOT NULL,
  by_arrival INTEGER NOT NULL,
  by_device INTEGER NOT NULL,
  by_anchors INTEGER NOT NULL,
  bounded INTEGER NOT NULL,
  by_file INTEGER NOT NULL,
  first_at REAL NOT NULL,
  last_at REAL NOT NULL,
  PRIMARY KEY (probe, boot)
) STRICT, WITHOUT ROWID;

-- Repetitions were counted for all probes together before: those of the past belong to none of them.
INSERT INTO account
SELECT name, boot, count(*),
  sum(placed_by IN (2, 3) OR placed_by < 2 AND arrived_at - coalesce(at, t) > 120000), 0, 0,
  sum(placed_by = 0), sum(placed_by = 1), sum(placed_by = 2), sum(placed_by = 3),
  sum(placed_by = 4),
  min(arrived_at), max(arrived_at)
FROM reading JOIN probe ON probe.id = reading.probe GROUP BY reading.probe, boot;

-- The name of a contradicting reading is probe/boot/number.
UPDATE account SET conflicting = (
  SELECT count(*) FROM quarantine
  WHERE same IS NOT NULL AND topic GLOB account.probe || '/' || account.boot || '/*'
);
