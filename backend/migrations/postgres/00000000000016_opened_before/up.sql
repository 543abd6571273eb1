-- How often anyone had opened a comparison when a plan was registered.
ALTER TABLE analysis_plan ADD COLUMN opened_before BIGINT NOT NULL DEFAULT 0;
