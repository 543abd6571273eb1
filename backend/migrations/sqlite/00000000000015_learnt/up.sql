-- What every seat could learn from a summary and all before it: read by whoever drafts and approves.
-- It is attacked anew whenever something else was published meanwhile, until it is approved.
ALTER TABLE safety_summary ADD COLUMN learnt TEXT;

DROP TRIGGER safety_summary_updated;
CREATE TRIGGER safety_summary_updated BEFORE UPDATE ON safety_summary
WHEN NOT (OLD.state = 'draft' AND NEW.content IS OLD.content AND NEW.content_hash IS OLD.content_hash
        AND NEW.cut IS OLD.cut AND NEW.id IS OLD.id)
    AND NOT (
    NEW.id IS OLD.id AND NEW.cut IS OLD.cut AND NEW.content IS OLD.content
    AND NEW.content_hash IS OLD.content_hash AND NEW.drafted_at IS OLD.drafted_at
    AND NEW.learnt IS OLD.learnt
    AND (NEW.number IS OLD.number OR (OLD.state = 'approved' AND NEW.state = 'published'))
    AND ((OLD.state = 'approved' AND NEW.state = 'published')
        OR (OLD.state = 'published' AND NEW.state = 'withdrawn')))
BEGIN SELECT RAISE(ABORT, 'safety_summary is frozen once approved'); END;
