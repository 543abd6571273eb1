-- How often anyone had opened a comparison when a plan was registered.
ALTER TABLE analysis_plan ADD COLUMN opened_before INTEGER NOT NULL DEFAULT 0;
