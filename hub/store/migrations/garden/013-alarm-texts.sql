-- What is said of an alarm, in every language and system of units (JSON); null: raised by a hub that kept only its own.
ALTER TABLE alarm ADD COLUMN texts TEXT;
