-- A third buffer, the set the buffers come from, and points of the gardener's own soil.
ALTER TABLE calibration ADD COLUMN ph_3 REAL;
ALTER TABLE calibration ADD COLUMN emf_mv_3 REAL;
ALTER TABLE calibration ADD COLUMN buffer_set TEXT;
-- JSON array of raw and vwc
ALTER TABLE calibration ADD COLUMN soil_points TEXT NOT NULL DEFAULT '[]';
