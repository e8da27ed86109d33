// Comfort only: every page works without it.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
// A form that takes a while is sent once.
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", () => {
    for (const button of form.querySelectorAll("button")) {
      button.setAttribute("aria-disabled", "true");
      button.dataset.said = button.textContent;
      button.textContent = "One moment …";
    }
    form.addEventListener("submit", (again) => again.preventDefault());
  });
}
// Back to a page from the browser's memory: the form may be sent again.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
// A long job: its steps as they come, then on.
const steps = document.querySelector("[data-work]");
if (steps) {
  const events = new EventSource(steps.dataset.work);
  const states = { done: "✓ done", now: "→ now", later: "" };
  events.addEventListener("step", (event) => {
    const { at, said } = JSON.parse(event.data);
    document.getElementById("said").textContent = said;
    [...steps.children].forEach((step, i) => {
      step.dataset.state = i < at ? "done" : i === at ? "now" : "later";
      step.querySelector(".step-state").textContent = states[step.dataset.state];
    });
  });
  events.addEventListener("end", (event) => {
    events.close();
    window.location.replace(event.data);
  });
}
// A child's card dragged onto another group opens the page that the select and its button open; the keyboard has those.
const cards = [...document.querySelectorAll("[data-child]")];
if (cards.length > 0) {
  const page = document.documentElement;
  let held = null;
  const groupAt = (event) => (held ? event.target.closest?.("[data-group]") : null);
  const mark = (over) => {
    for (const place of document.querySelectorAll(".drop-here")) if (place !== over) place.classList.remove("drop-here");
    over?.classList.add("drop-here");
  };
  const end = () => {
    held = null;
    mark(null);
    page.classList.remove("dragging");
  };
  page.classList.add("may-drag");
  for (const said of document.querySelectorAll("[data-drag]")) said.hidden = false;
  for (const card of cards) {
    card.draggable = true;
    card.addEventListener("dragstart", (event) => {
      held = card;
      // Nothing of the child leaves the page with the drag.
      event.dataTransfer.clearData();
      event.dataTransfer.setData("text/plain", "seat");
      event.dataTransfer.effectAllowed = "move";
      setTimeout(() => page.classList.toggle("dragging", held === card));
    });
    card.addEventListener("dragend", end);
  }
  document.addEventListener("dragover", (event) => {
    const group = groupAt(event);
    if (group) event.preventDefault();
    if (held) mark(group);
  });
  document.addEventListener("drop", (event) => {
    const [group, card] = [groupAt(event), held];
    if (!group) return;
    event.preventDefault();
    end();
    const seat = card.querySelector("select[name=to]");
    if (card.closest("[data-group]")?.dataset.group === group.dataset.group) return;
    seat.value = group.dataset.group;
    seat.form.requestSubmit();
  });
}
// Ticket results: a complete entry leads to the next field, and a row is saved as soon as nobody types in it.
const results = document.querySelector("form.results");
if (results) {
  const rows = [...results.querySelectorAll("tr[data-id]")];
  const said = document.getElementById("saved");
  const unsaved = new Set();
  let isSaving = false;
  let timer = 0;
  const fieldsOf = (row) => (row ? [...row.querySelectorAll("input[type=text]")] : []);
  const go = (field) => {
    if (!field) return;
    field.focus();
    field.select();
  };
  const beside = (row, step) => rows[rows.indexOf(row) + step];
  const next = (field) => {
    const row = field.closest("tr");
    const fields = fieldsOf(row);
    go(fields[fields.indexOf(field) + 1] ?? fieldsOf(beside(row, 1))[0]);
  };
  const nextChild = (row) => {
    const below = fieldsOf(beside(row, 1))[0];
    if (below) go(below);
    else results.querySelector("section:last-of-type button")?.focus();
  };
  const isComplete = (field, row) => {
    const text = field.value.trim();
    const [chosen] = row.querySelector("select").selectedOptions;
    const after = Number(chosen.dataset.complete.split(" ")[fieldsOf(row).indexOf(field)] ?? 0);
    return /^[rw]$/i.test(text) || (after > 0 && text.length >= after);
  };
  const tell = (name, says) => {
    const field = [...results.elements].find((e) => e.name === name);
    if (!field || unsaved.has(field.closest("tr"))) return;
    const words = document.createElement("p");
    words.className = "error";
    words.id = `e-${field.id}`;
    words.textContent = says;
    field.setAttribute("aria-describedby", words.id);
    field.setAttribute("aria-invalid", "true");
    field.closest("td").append(words);
  };
  const show = (sent, told) => {
    said.textContent = told.said;
    if (!told.standings) return;
    document.getElementById("counts").textContent = told.counts;
    for (const row of sent.filter((row) => !unsaved.has(row))) {
      for (const old of row.querySelectorAll("p.error")) old.remove();
      for (const field of row.querySelectorAll("[aria-describedby]")) {
        field.removeAttribute("aria-describedby");
        field.removeAttribute("aria-invalid");
      }
      row.querySelector(".standing").textContent = told.standings[row.dataset.id] ?? "";
    }
    for (const fault of told.faults) tell(fault.field, fault.says);
  };
  const save = async (keepalive = false) => {
    clearTimeout(timer);
    if (isSaving || unsaved.size === 0) return;
    isSaving = true;
    const sent = [...unsaved];
    unsaved.clear();
    const body = new URLSearchParams({ tag: results.elements.tag.value, "as-it-goes": "yes" });
    for (const row of sent) {
      for (const e of row.querySelectorAll("input, select")) {
        if (e.type !== "checkbox" || e.checked) body.append(e.name, e.value);
      }
    }
    let isOut = false;
    try {
      const answer = await fetch(results.action, { method: "POST", body, keepalive });
      isOut = answer.status === 401;
      show(sent, await answer.json());
    } catch {
      for (const row of sent) unsaved.add(row);
      said.textContent = isOut
        ? "Not saved: Sheaf has signed you out. Sign in in another window and leave this page open; it is saved then."
        : "Not saved: Sheaf does not answer. It is tried again; leave this page open.";
    }
    isSaving = false;
    if (unsaved.size > 0) saveIn(said.textContent.startsWith("Not saved: Sheaf") ? 5000 : 300);
  };
  const saveIn = (milliseconds) => {
    clearTimeout(timer);
    timer = setTimeout(save, milliseconds);
  };
  const changed = (row) => {
    unsaved.add(row);
    saveIn(1200);
  };
  results.addEventListener("input", (event) => {
    const row = event.target.closest("tr[data-id]");
    if (!row) return;
    changed(row);
    if (event.target.type === "text" && event.inputType !== "deleteContentBackward" && isComplete(event.target, row)) {
      next(event.target);
    }
  });
  results.addEventListener("focusout", (event) => {
    const row = event.target.closest("tr[data-id]");
    if (row && unsaved.has(row) && !row.contains(event.relatedTarget)) save();
  });
  results.addEventListener("keydown", (event) => {
    const field = event.target;
    if (field.type !== "text" || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    const row = field.closest("tr");
    const at = fieldsOf(row).indexOf(field);
    const atStart = field.selectionStart === 0;
    const atEnd = field.selectionEnd === field.value.length;
    const done = {
      Enter: () => nextChild(row),
      ArrowDown: () => go(fieldsOf(beside(row, 1))[at]),
      ArrowUp: () => go(fieldsOf(beside(row, -1))[at]),
      ArrowRight: atEnd && (() => next(field)),
      ArrowLeft: atStart && (() => go(fieldsOf(row)[at - 1] ?? fieldsOf(beside(row, -1)).at(-1))),
      Backspace: field.value === "" && (() => go(fieldsOf(row)[at - 1])),
      "-": () => {
        const box = row.querySelector("input[type=checkbox]");
        box.checked = !box.checked;
        changed(row);
        nextChild(row);
      },
    }[event.key];
    if (!done) return;
    event.preventDefault();
    done();
  });
  // The whole form is on its way: nothing is left to save by row.
  results.addEventListener("submit", () => unsaved.clear());
  window.addEventListener("pagehide", () => save(true));
}
