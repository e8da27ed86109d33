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
