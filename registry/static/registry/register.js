/* The little script there is. Every page works without it. */
"use strict";

/* A scanner types a code and presses Enter. In a form marked data-scan-flow,
   Enter goes to the next empty scan field and sends the form only from the last. */
function followScanner(form) {
  form.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || event.isComposing || !field.matches("[data-scan]")) return;
    const fields = [...form.querySelectorAll("[data-scan]:not([disabled])")];
    const later = fields.slice(fields.indexOf(field) + 1);
    const next = later.find((other) => other.value.trim() === "");
    const stays = field.required && field.value.trim() === "";
    const isList = field.matches("select");
    if (stays || next || isList) event.preventDefault();
    if (!stays && next) next.focus();
    // Browsers do not send a form for Enter in a list; here it is the last scan field.
    if (!stays && !next && isList) form.requestSubmit();
  });
}

/* Many codes go into one field, one to a line. The last kind of them, such as a shelf
   after its boxes, ends the list: the Enter that the scanner sends with it sends all. */
function followScannerToTheLast(field) {
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    const before = field.value.slice(0, field.selectionStart);
    const line = before.slice(before.lastIndexOf("\n") + 1).trim().toUpperCase();
    if (!line.startsWith(field.dataset.scanUntil)) return;
    event.preventDefault();
    field.form.requestSubmit();
  });
}

/* Ask before a half-entered form is left; a second press of Enter sends nothing twice. */
function guardEntry(form) {
  // A form sent back with errors holds work that is not saved yet.
  let changed = form.querySelector(".errorlist") !== null;
  let sent = false;
  form.addEventListener("input", () => { changed = true; });
  form.addEventListener("submit", (event) => {
    if (sent) event.preventDefault();
    sent = true;
  });
  window.addEventListener("beforeunload", (event) => {
    if (changed && !sent) event.preventDefault();
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) sent = false;
  });
}

/* What a person opened stays open on the next record they look at. Storage may
   be refused by the browser; then each page simply starts closed. */
function rememberDisclosure(details) {
  const key = `register.open.${details.dataset.remember}`;
  try {
    if (localStorage.getItem(key) === "yes") details.open = true;
    details.addEventListener("toggle", () => {
      localStorage.setItem(key, details.open ? "yes" : "no");
    });
  } catch {
    return;
  }
}

/* Paper cannot be clicked: open every disclosure to print, close it afterwards. */
function openForPaper() {
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    opened.forEach((details) => { details.open = true; });
  });
  window.addEventListener("afterprint", () => {
    opened.forEach((details) => { details.open = false; });
  });
}

document.querySelectorAll("form[data-scan-flow]").forEach(followScanner);
document.querySelectorAll("[data-scan-until]").forEach(followScannerToTheLast);
document.querySelectorAll("form[data-keep]").forEach(guardEntry);
document.querySelectorAll("details[data-remember]").forEach(rememberDisclosure);
openForPaper();
/* What was scanned into a field before is replaced by the next scan. */
document.querySelector("[data-scan][autofocus]")?.select();
document.querySelector("[data-problems]")?.focus();
