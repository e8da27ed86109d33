-- What a person decided against the suggestion, in order, and what was undone: {"done": [...], "undone": [...]}. Part of the recipe: a
-- plan is made again with them.

ALTER TABLE plan ADD COLUMN overrules TEXT NOT NULL DEFAULT '{"done":[],"undone":[]}' CHECK (json_valid(overrules));
ALTER TABLE earlier_plan ADD COLUMN overrules TEXT NOT NULL DEFAULT '{"done":[],"undone":[]}' CHECK (json_valid(overrules));
