CREATE TABLE analysis_plan (
    id TEXT NOT NULL PRIMARY KEY,
    number INTEGER NOT NULL,
    version INTEGER NOT NULL,
    title TEXT NOT NULL,
    content TEXT NOT NULL,
    content_hash TEXT NOT NULL,
    reason TEXT,
    cases_before INTEGER NOT NULL,
    comparisons_before INTEGER NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    UNIQUE (number, version)
) STRICT;

CREATE TRIGGER analysis_plan_deleted BEFORE DELETE ON analysis_plan
BEGIN SELECT RAISE(ABORT, 'analysis_plan is append-only'); END;
CREATE TRIGGER analysis_plan_updated BEFORE UPDATE ON analysis_plan
BEGIN SELECT RAISE(ABORT, 'analysis_plan is append-only'); END;
