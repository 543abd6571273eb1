-- An approval never changes: a renewal is another one, and that it was taken back stands beside it.
CREATE TABLE centre_approval (
    id TEXT NOT NULL PRIMARY KEY,
    centre TEXT NOT NULL REFERENCES centre (code),
    kind TEXT NOT NULL,
    reference TEXT NOT NULL,
    valid_from TEXT NOT NULL,
    valid_until TEXT NOT NULL,
    renews TEXT REFERENCES centre_approval (id),
    actor TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;
CREATE INDEX centre_approval_of_centre ON centre_approval (centre, id);

CREATE TABLE approval_withdrawal (
    approval TEXT NOT NULL PRIMARY KEY REFERENCES centre_approval (id),
    reason TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER centre_approval_replaced BEFORE INSERT ON centre_approval
WHEN EXISTS (SELECT 1 FROM centre_approval AS known WHERE known.id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'centre_approval is append-only'); END;
CREATE TRIGGER centre_approval_deleted BEFORE DELETE ON centre_approval
BEGIN SELECT RAISE(ABORT, 'centre_approval is append-only'); END;
CREATE TRIGGER centre_approval_updated BEFORE UPDATE ON centre_approval
BEGIN SELECT RAISE(ABORT, 'centre_approval is append-only'); END;
CREATE TRIGGER approval_withdrawal_replaced BEFORE INSERT ON approval_withdrawal
WHEN EXISTS (SELECT 1 FROM approval_withdrawal AS known WHERE known.approval = NEW.approval)
BEGIN SELECT RAISE(ABORT, 'approval_withdrawal is append-only'); END;
CREATE TRIGGER approval_withdrawal_deleted BEFORE DELETE ON approval_withdrawal
BEGIN SELECT RAISE(ABORT, 'approval_withdrawal is append-only'); END;
CREATE TRIGGER approval_withdrawal_updated BEFORE UPDATE ON approval_withdrawal
BEGIN SELECT RAISE(ABORT, 'approval_withdrawal is append-only'); END;
