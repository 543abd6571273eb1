CREATE TABLE audit_event (
    seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    role TEXT COLLATE "C" NOT NULL,
    deed TEXT COLLATE "C" NOT NULL,
    subject TEXT COLLATE "C" NOT NULL,
    subject_id TEXT COLLATE "C" NOT NULL,
    centre TEXT COLLATE "C",
    revision BIGINT,
    before TEXT COLLATE "C",
    after TEXT COLLATE "C",
    reason TEXT COLLATE "C",
    request_id TEXT COLLATE "C" NOT NULL
);
CREATE INDEX audit_event_of_subject ON audit_event (subject, subject_id, seq);
CREATE INDEX audit_event_of_centre ON audit_event (centre, seq);

CREATE TRIGGER audit_event_changed BEFORE UPDATE OR DELETE ON audit_event
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER audit_event_truncated BEFORE TRUNCATE ON audit_event
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
