-- What the team decided for a group at the end of a cycle, with the reason and who said so. The last word on a group counts.

CREATE TABLE memo_decision (
  week     TEXT NOT NULL REFERENCES week (monday) ON DELETE CASCADE,  -- the last week of the memo
  group_id TEXT NOT NULL CHECK (length(group_id) > 0),
  decision TEXT NOT NULL CHECK (decision IN ('keep', 'regroup', 'change-teaching', 'more-time', 'exit')),
  reason   TEXT NOT NULL CHECK (length(reason) BETWEEN 1 AND 500),
  name     TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 100),
  decided  TEXT NOT NULL DEFAULT (date('now')),
  PRIMARY KEY (week, group_id)
) STRICT, WITHOUT ROWID;
