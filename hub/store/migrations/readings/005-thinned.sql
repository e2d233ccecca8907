-- Of a UTC day whose values are gone: what stands for them (hour-columns.ts), with the first block of the day.
ALTER TABLE block ADD COLUMN hours BLOB;
DROP TABLE hourly;

-- Before this (epoch ms, a UTC day) the days of a probe that were worth it are thinned; null: it never was.
ALTER TABLE probe ADD COLUMN thinned_to INTEGER;

-- Readings and values that are gone, the hours of channels that stand for them, and the bytes of these.
INSERT INTO tally VALUES ('thinned', 0), ('thinned values', 0), ('hours', 0), ('hour bytes', 0);
