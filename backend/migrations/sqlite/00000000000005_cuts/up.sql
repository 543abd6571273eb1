CREATE TABLE data_cut (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    boundary_seq INTEGER NOT NULL,
    screening_boundary_seq INTEGER NOT NULL,
    cases INTEGER NOT NULL,
    content_hash TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;

CREATE TABLE comparison (
    id TEXT NOT NULL PRIMARY KEY,
    cut TEXT NOT NULL REFERENCES data_cut (id),
    request TEXT NOT NULL,
    request_hash TEXT NOT NULL,
    result TEXT NOT NULL,
    result_hash TEXT NOT NULL,
    software_version TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;
CREATE INDEX comparison_of_cut ON comparison (cut, request_hash);

CREATE TABLE safety_summary (
    id TEXT NOT NULL PRIMARY KEY,
    number INTEGER UNIQUE,
    cut TEXT NOT NULL REFERENCES data_cut (id),
    state TEXT NOT NULL,
    stage TEXT NOT NULL,
    content TEXT NOT NULL,
    content_hash TEXT NOT NULL,
    drafted_at TEXT NOT NULL
) STRICT;

CREATE TRIGGER data_cut_deleted BEFORE DELETE ON data_cut
BEGIN SELECT RAISE(ABORT, 'data_cut is append-only'); END;
CREATE TRIGGER data_cut_updated BEFORE UPDATE ON data_cut
BEGIN SELECT RAISE(ABORT, 'data_cut is append-only'); END;
CREATE TRIGGER comparison_deleted BEFORE DELETE ON comparison
BEGIN SELECT RAISE(ABORT, 'comparison is append-only'); END;
CREATE TRIGGER comparison_updated BEFORE UPDATE ON comparison
BEGIN SELECT RAISE(ABORT, 'comparison is append-only'); END;

-- What was approved is what is published, and what was published stays as it was.
CREATE TRIGGER safety_summary_deleted BEFORE DELETE ON safety_summary
BEGIN SELECT RAISE(ABORT, 'safety_summary is never deleted'); END;
CREATE TRIGGER safety_summary_updated BEFORE UPDATE ON safety_summary
WHEN OLD.state <> 'draft' AND NOT (
    NEW.id IS OLD.id AND NEW.cut IS OLD.cut AND NEW.content IS OLD.content
    AND NEW.content_hash IS OLD.content_hash AND NEW.drafted_at IS OLD.drafted_at
    AND (NEW.number IS OLD.number OR (OLD.state = 'approved' AND NEW.state = 'published'))
    AND ((OLD.state = 'approved' AND NEW.state = 'published')
        OR (OLD.state = 'published' AND NEW.state = 'withdrawn')))
BEGIN SELECT RAISE(ABORT, 'safety_summary is frozen once approved'); END;
