-- How a member likes the pages: kept here, so that it holds on every machine.
ALTER TABLE member ADD COLUMN theme TEXT NOT NULL DEFAULT 'system';
ALTER TABLE member ADD COLUMN single_keys TEXT NOT NULL DEFAULT 'on';
