-- An import asks for the current revisions of five hundred codes at a time.
CREATE INDEX case_revision_current_by_code ON case_revision (code) WHERE superseded_by_seq IS NULL;
