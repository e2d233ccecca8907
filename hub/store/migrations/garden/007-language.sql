-- Language of sentences, pages and messages.
ALTER TABLE garden ADD COLUMN language TEXT NOT NULL DEFAULT 'en' CHECK (language IN ('en', 'de', 'es'));
