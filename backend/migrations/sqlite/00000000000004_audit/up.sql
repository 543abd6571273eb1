CREATE TABLE audit_event (
    seq INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    at TEXT NOT NULL,
    actor TEXT NOT NULL,
    role TEXT NOT NULL,
    deed TEXT NOT NULL,
    subject TEXT NOT NULL,
    subject_id TEXT NOT NULL,
    centre TEXT,
    revision INTEGER,
    before TEXT,
    after TEXT,
    reason TEXT,
    request_id TEXT NOT NULL
) STRICT;
CREATE INDEX audit_event_of_subject ON audit_event (subject, subject_id, seq);
CREATE INDEX audit_event_of_centre ON audit_event (centre, seq);

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER audit_event_replaced BEFORE INSERT ON audit_event
WHEN EXISTS (SELECT 1 FROM audit_event AS known WHERE known.seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'audit_event is append-only'); END;
CREATE TRIGGER audit_event_deleted BEFORE DELETE ON audit_event
BEGIN SELECT RAISE(ABORT, 'audit_event is append-only'); END;
CREATE TRIGGER audit_event_updated BEFORE UPDATE ON audit_event
BEGIN SELECT RAISE(ABORT, 'audit_event is append-only'); END;
