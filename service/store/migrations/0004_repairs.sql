-- Days of a plan issued anew because somebody was out: a JSON list of {"without": ["Teacher B@mon-1"], "reason": ""}, in order.
-- Part of the recipe: a plan is made again with them.

ALTER TABLE plan ADD COLUMN repairs TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(repairs));
ALTER TABLE earlier_plan ADD COLUMN repairs TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(repairs));
