-- An approval never changes: a renewal is another one, and that it was taken back stands beside it.
CREATE TABLE centre_approval (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    kind TEXT COLLATE "C" NOT NULL,
    reference TEXT COLLATE "C" NOT NULL,
    valid_from TEXT COLLATE "C" NOT NULL,
    valid_until TEXT COLLATE "C" NOT NULL,
    renews TEXT COLLATE "C" REFERENCES centre_approval (id),
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX centre_approval_of_centre ON centre_approval (centre, id);

CREATE TABLE approval_withdrawal (
    approval TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES centre_approval (id),
    reason TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL
);

CREATE TRIGGER centre_approval_changed BEFORE UPDATE OR DELETE ON centre_approval
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER centre_approval_truncated BEFORE TRUNCATE ON centre_approval
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
CREATE TRIGGER approval_withdrawal_changed BEFORE UPDATE OR DELETE ON approval_withdrawal
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER approval_withdrawal_truncated BEFORE TRUNCATE ON approval_withdrawal
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
