-- A summary on its way is refused where it would give a count away beside what was published meanwhile,
-- and keeps what could be learnt from it. From there on nothing of it changes.
DROP TRIGGER safety_summary_updated;
CREATE TRIGGER safety_summary_updated BEFORE UPDATE ON safety_summary
WHEN NOT (NEW.id IS OLD.id AND NEW.cut IS OLD.cut AND NEW.content IS OLD.content
        AND NEW.content_hash IS OLD.content_hash AND NEW.drafted_at IS OLD.drafted_at
    AND (OLD.state = 'draft'
        OR (OLD.state = 'approved' AND NEW.state = 'refused' AND NEW.number IS NULL)
        OR (NEW.learnt IS OLD.learnt
            AND ((OLD.state = 'approved' AND NEW.state = 'published')
                OR (OLD.state = 'published' AND NEW.state = 'withdrawn' AND NEW.number IS OLD.number)))))
BEGIN SELECT RAISE(ABORT, 'safety_summary is frozen once approved'); END;
