-- What people write into the report of a comparison. Nothing is written over: a change is another
-- version, and a blank one takes back what stood there.
CREATE TABLE report_text (
    comparison TEXT NOT NULL REFERENCES comparison (id),
    item INTEGER NOT NULL,
    version INTEGER NOT NULL,
    text TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (comparison, item, version)
) STRICT;

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER report_text_replaced BEFORE INSERT ON report_text
WHEN EXISTS (SELECT 1 FROM report_text AS known
    WHERE known.comparison = NEW.comparison AND known.item = NEW.item AND known.version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'report_text is append-only'); END;
CREATE TRIGGER report_text_deleted BEFORE DELETE ON report_text
BEGIN SELECT RAISE(ABORT, 'report_text is append-only'); END;
CREATE TRIGGER report_text_updated BEFORE UPDATE ON report_text
BEGIN SELECT RAISE(ABORT, 'report_text is append-only'); END;
