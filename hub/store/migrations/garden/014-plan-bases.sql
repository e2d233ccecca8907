-- What the buffering of a plan rests on, in every language and system of units (JSON); null: kept by a hub that knew one.
ALTER TABLE plan ADD COLUMN bases TEXT;
