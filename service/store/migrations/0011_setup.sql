-- The school's setup as it was last kept from the page. One row: what a plan was made with is kept with the plan.
CREATE TABLE setup (
  one          INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
  toml         TEXT    NOT NULL,
  given_sha256 TEXT    NOT NULL CHECK (length(given_sha256) = 64)  -- of the setup that Sheaf was started with then
) STRICT;
