-- Every ticket that was ever made, by the code printed on it: a plan made anew, a swapped item or a target set by hand takes no ticket
-- away that may lie printed on a table, so results on it find its own key. A ticket names no child.

CREATE TABLE ticket (
  form_code TEXT NOT NULL PRIMARY KEY CHECK (length(form_code) > 0),
  ticket    TEXT NOT NULL CHECK (json_valid(ticket))
) STRICT, WITHOUT ROWID;

INSERT OR REPLACE INTO ticket (form_code, ticket)
  SELECT t.value ->> 'form_code', t.value FROM earlier_plan, json_each(earlier_plan.published, '$.tickets') t
  WHERE t.value ->> 'form_code' IS NOT NULL;
INSERT OR REPLACE INTO ticket (form_code, ticket)
  SELECT t.value ->> 'form_code', t.value FROM plan, json_each(plan.published, '$.tickets') t
  WHERE t.value ->> 'form_code' IS NOT NULL;

CREATE TRIGGER tickets_made AFTER INSERT ON plan BEGIN
  INSERT OR REPLACE INTO ticket (form_code, ticket)
    SELECT t.value ->> 'form_code', t.value FROM json_each(NEW.published, '$.tickets') t
    WHERE t.value ->> 'form_code' IS NOT NULL;
END;
CREATE TRIGGER tickets_changed AFTER UPDATE OF published ON plan BEGIN
  INSERT OR REPLACE INTO ticket (form_code, ticket)
    SELECT t.value ->> 'form_code', t.value FROM json_each(NEW.published, '$.tickets') t
    WHERE t.value ->> 'form_code' IS NOT NULL;
END;
