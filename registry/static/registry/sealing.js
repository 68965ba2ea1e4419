/* The sealing table. Each answer is kept as its field is left, so that a power cut
   loses nothing; Enter goes on to the next open question and from the last finishes.
   Without this script each section has a button that keeps it. */
"use strict";

const IDLE = 1500; // milliseconds without typing after which a half-left field is kept
const AGAIN = 3000; // milliseconds until a failed sending is tried again

class SealingTable {
  constructor(form) {
    this.form = form;
    this.names = [...new Set([...form.elements]
      .filter((control) => control.name.includes(":")).map((control) => control.name))];
    this.kept = new Map(this.names.map((name) => [name, this.isCarried(name) ? "" : this.value(name)]));
    this.touched = new Set();
    this.unsettled = new Set();
    this.sending = false;
    this.sent = false;
    this.typed = "";
    form.addEventListener("input", (event) => this.onInput(event));
    form.addEventListener("change", (event) => this.onChange(event));
    form.addEventListener("keydown", (event) => this.onKey(event));
    form.addEventListener("submit", (event) => this.onSubmit(event));
    window.addEventListener("pagehide", () => this.keep(true));
    window.addEventListener("beforeunload", (event) => {
      if (!this.sent && this.open().length) event.preventDefault();
    });
    window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
    this.foldAbsent();
  }

  control(name) { return this.form.elements.namedItem(name); }
  first(name) {
    const control = this.control(name);
    return control instanceof RadioNodeList ? control[0] : control;
  }
  value(name) { return (this.control(name).value ?? "").trim(); }
  isCarried(name) { return "carried" in this.first(name).dataset; }
  isShown(name) {
    const control = this.first(name);
    return control.offsetParent !== null && !control.closest("details:not([open])");
  }

  /* The fields whose answer is not on the register yet. */
  open() {
    return this.names.filter((name) => this.touched.has(name)
      && this.value(name) !== this.kept.get(name));
  }

  onInput(event) {
    const { name } = event.target;
    if (!name.includes(":")) return;
    this.touched.add(name);
    this.unsettled.delete(name);
    clearTimeout(this.idle);
    this.idle = setTimeout(() => this.keep(), IDLE);
  }

  onChange(event) {
    if (!event.target.name.includes(":")) return;
    this.touched.add(event.target.name);
    this.unsettled.delete(event.target.name);
    this.foldAbsent();
    this.keep();
  }

  /* The questions of a set that is stated absent fall away. */
  foldAbsent() {
    for (const section of this.form.querySelectorAll("[data-section]")) {
      const questions = section.querySelector("[data-questions]");
      const absent = section.querySelector("[name$=':absent']");
      if (questions && absent) questions.hidden = absent.value.trim() !== "";
    }
  }

  onKey(event) {
    const field = event.target;
    if (!field.name?.includes(":") || event.isComposing) return;
    const isTick = field.type === "radio";
    if (event.key === "Enter") {
      event.preventDefault();
      const scanned = isTick && this.typed.length > 2;
      this.typed = "";
      if (scanned) this.say("A code was scanned where yes or no is asked: press the space bar.");
      else this.goOn(field.name, () => this.form.requestSubmit(this.finishButton()));
    } else if (isTick && event.key === " ") {
      event.preventDefault();
      this.typed = "";
      field.checked = true;
      field.dispatchEvent(new Event("change", { bubbles: true }));
      // A yes does not finish by itself: the button is looked at and pressed.
      this.goOn(field.name, () => this.finishButton().focus());
    } else if (isTick && event.key.length === 1) {
      this.typed += event.key;
    }
  }

  isOpenQuestion(name) {
    return this.isShown(name) && (this.value(name) === "" || this.unsettled.has(name));
  }

  finishButton() { return this.form.querySelector("[data-finish]"); }

  goOn(from, otherwise) {
    this.foldAbsent();
    // Enter in a field about which two people differ says: mine is right.
    if (this.unsettled.delete(from)) {
      this.touched.add(from);
      this.keep();
    }
    const later = this.names.slice(this.names.indexOf(from) + 1);
    const next = later.find((name) => this.isOpenQuestion(name))
      ?? this.names.find((name) => this.isOpenQuestion(name)
        && ("required" in this.first(name).dataset || this.unsettled.has(name)));
    if (next) this.moveTo(next);
    else otherwise();
  }

  moveTo(name) {
    const control = this.first(name);
    control.focus();
    control.select?.();
  }

  onSubmit(event) {
    if (this.sent) event.preventDefault();
    this.sent = true;
  }

  say(words) { this.form.querySelector("[data-kept]").textContent = words; }

  async keep(leaving = false) {
    clearTimeout(this.idle);
    const names = this.open().filter((name) => !this.unsettled.has(name));
    if (!names.length || this.sent) return;
    if (this.sending && !leaving) { this.again = true; return; }
    this.sending = true;
    const values = new Map(names.map((name) => [name, this.value(name)]));
    try {
      const answer = await fetch(this.form.dataset.sealing, {
        method: "POST",
        headers: { "X-CSRFToken": this.form.elements.csrfmiddlewaretoken.value },
        body: new URLSearchParams([["seen", this.form.elements.seen.value], ...values]),
        keepalive: leaving,
      });
      if (answer.status === 409) this.ended((await answer.json()).refused);
      else if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
      else this.take(await answer.json(), values);
    } catch {
      this.say("Not kept yet: the register does not answer. It is tried again.");
      setTimeout(() => this.keep(), AGAIN);
    }
    this.sending = false;
    if (this.again) { this.again = false; this.keep(); }
  }

  ended(reason) {
    this.touched.clear();
    this.say(reason);
  }

  take(told, values) {
    for (const [name, value] of values) {
      if (name in told.conflicts) this.unsettled.add(name);
      else this.kept.set(name, value);
    }
    this.takeOthers(told.answers);
    // Until what is typed here is kept, this page has not seen what others entered.
    if (!this.open().some((name) => !this.unsettled.has(name))) this.form.elements.seen.value = told.seen;
    for (const place of this.form.querySelectorAll("[data-told]")) {
      const { told: name } = place.dataset;
      place.textContent = told.conflicts[name] ?? told.told[name] ?? "";
    }
    const left = told.left === 1 ? "1 question" : `${told.left} questions`;
    const look = Object.keys({ ...told.told, ...told.conflicts }).length ? " Look at what stands beside the answers." : "";
    this.say(`Kept ${told.at}. ${left} still to be answered.${look}`);
    this.form.querySelector("[data-others]").textContent = told.others
      .map((other) => `${other.name} works at this station too, last entry ${other.at}.`).join(" ");
  }

  /* What another person answered meanwhile stands here as well. */
  takeOthers(answers) {
    const busy = new Set([...this.open(), ...this.unsettled, document.activeElement?.name]);
    for (const [name, value] of Object.entries(answers)) {
      if (!this.names.includes(name) || busy.has(name)) continue;
      this.kept.set(name, value);
      this.control(name).value = value;
    }
    this.foldAbsent();
  }
}

document.querySelectorAll("form[data-sealing]").forEach((form) => {
  const table = new SealingTable(form);
  // A page that was sent back, or a second unit set, begins at its first open question.
  if (!document.querySelector("[data-problems]")) form.querySelector("[autofocus]")?.focus();
  return table;
});
