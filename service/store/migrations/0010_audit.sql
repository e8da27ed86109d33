-- Who changed what, and when: one row a change, written in the transaction of the change itself, and never changed after.
-- Each row holds the hash of the one before, so that a row that was changed, left out or put between no longer fits.
-- No name of a child, no score and no reason stands here; a child is a reference that means something only in `audit_child`.

CREATE TABLE audit (
  sequence INTEGER NOT NULL PRIMARY KEY CHECK (sequence > 0),
  at       TEXT    NOT NULL,                                 -- UTC, ISO text
  who      TEXT    NOT NULL CHECK (length(who) > 0),         -- an account, or launch, script, command, program
  what     TEXT    NOT NULL CHECK (length(what) > 0),        -- a code
  about    TEXT    NOT NULL,                                 -- week=, upload=, group=, account=, apart by blanks
  child    TEXT,                                             -- a reference; what it stands for may be gone
  previous TEXT    NOT NULL CHECK (length(previous) = 64),
  hash     TEXT    NOT NULL CHECK (length(hash) = 64)
) STRICT;

-- How many rows there are and the hash of the last, so that rows cut off at the end are missed.
CREATE TABLE audit_head (
  one  INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
  n    INTEGER NOT NULL CHECK (n >= 0),
  hash TEXT    NOT NULL CHECK (length(hash) = 64)
) STRICT;

INSERT INTO audit_head (one, n, hash) VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');

-- Which child a reference stands for. Forgetting the child takes the row away, and the reference then means nobody.
CREATE TABLE audit_child (
  reference TEXT NOT NULL PRIMARY KEY CHECK (length(reference) = 16),
  student   TEXT NOT NULL UNIQUE CHECK (length(student) > 0)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER audit_is_not_rewritten BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'the list of changes is only added to'); END;
CREATE TRIGGER audit_is_not_shortened BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'the list of changes is only added to'); END;
-- A row put in place of another one deletes without a word to the trigger above, so only the next number is taken.
CREATE TRIGGER audit_is_added_to_in_order BEFORE INSERT ON audit
  WHEN NEW.sequence <> (SELECT n + 1 FROM audit_head) BEGIN SELECT RAISE(ABORT, 'the list of changes is only added to'); END;
CREATE TRIGGER audit_head_stays BEFORE DELETE ON audit_head BEGIN SELECT RAISE(ABORT, 'the list of changes is only added to'); END;
CREATE TRIGGER audit_head_goes_on BEFORE UPDATE ON audit_head
  WHEN NEW.n <> OLD.n + 1 BEGIN SELECT RAISE(ABORT, 'the list of changes is only added to'); END;
