CREATE TABLE centre (
    code TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    region TEXT,
    kind TEXT NOT NULL,
    annual_volume TEXT NOT NULL,
    zero_fluoroscopy_since TEXT,
    created_at TEXT NOT NULL
) STRICT;

CREATE TABLE room (
    centre TEXT NOT NULL REFERENCES centre (code),
    code TEXT NOT NULL,
    definition TEXT NOT NULL,
    recorded_at TEXT NOT NULL,
    PRIMARY KEY (centre, code)
) STRICT;

-- A line of the screening log is a chain of revisions; signing adds one.
CREATE TABLE screening_revision (
    seq INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    centre TEXT NOT NULL REFERENCES centre (code),
    period TEXT NOT NULL,
    procedure_group TEXT NOT NULL,
    revision INTEGER NOT NULL,
    superseded_by_seq INTEGER REFERENCES screening_revision (seq),
    counts TEXT NOT NULL,
    signed_by TEXT,
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    reason TEXT,
    UNIQUE (centre, period, procedure_group, revision)
) STRICT;

CREATE TRIGGER screening_revision_replaced BEFORE INSERT ON screening_revision
WHEN EXISTS (SELECT 1 FROM screening_revision AS known WHERE known.seq = NEW.seq
    OR (known.centre = NEW.centre AND known.period = NEW.period
        AND known.procedure_group = NEW.procedure_group AND known.revision = NEW.revision))
BEGIN SELECT RAISE(ABORT, 'screening_revision is append-only'); END;
CREATE TRIGGER screening_revision_deleted BEFORE DELETE ON screening_revision
BEGIN SELECT RAISE(ABORT, 'screening_revision is append-only'); END;
CREATE TRIGGER screening_revision_updated BEFORE UPDATE ON screening_revision
WHEN NOT (OLD.superseded_by_seq IS NULL AND NEW.superseded_by_seq IS NOT NULL
    AND NEW.seq IS OLD.seq AND NEW.centre IS OLD.centre AND NEW.period IS OLD.period
    AND NEW.procedure_group IS OLD.procedure_group AND NEW.revision IS OLD.revision
    AND NEW.counts IS OLD.counts AND NEW.signed_by IS OLD.signed_by
    AND NEW.actor IS OLD.actor AND NEW.at IS OLD.at AND NEW.reason IS OLD.reason)
BEGIN SELECT RAISE(ABORT, 'screening_revision is append-only'); END;
