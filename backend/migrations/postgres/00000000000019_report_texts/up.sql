-- What people write into the report of a comparison. Nothing is written over: a change is another
-- version, and a blank one takes back what stood there.
CREATE TABLE report_text (
    comparison TEXT COLLATE "C" NOT NULL REFERENCES comparison (id),
    item BIGINT NOT NULL,
    version BIGINT NOT NULL,
    text TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (comparison, item, version)
);

CREATE TRIGGER report_text_changed BEFORE UPDATE OR DELETE ON report_text
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER report_text_truncated BEFORE TRUNCATE ON report_text
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
