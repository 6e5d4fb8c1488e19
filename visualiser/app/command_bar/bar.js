// The unit, undo and redo, the keys for them, and the line that says what is not saved yet. It sends the
// outbox.

import { SavedElsewhere } from "../news.js";
import { stepAddress } from "./address.js";
import { pageOutbox } from "./outbox.js";
import { StepRow } from "./step_row.js";
import { watchNames } from "./typing.js";

const bars = new WeakMap();
const ANSWER_MS = [5000, 5000, 10000], LOOK_MS = 2000;
const FIELDS = "input:not([type=range]):not([type=checkbox]):not([type=radio]), textarea, select, [contenteditable=true]";

class CommandBar {
  constructor(root) {
    this.root = root;
    this.outbox = pageOutbox();
    watchNames();
    this.units = root.querySelector(".units");
    this.units.onkeydown = (event) => this.unitKey(event);
    this.undo = root.querySelector(".undo");
    this.redo = root.querySelector(".redo");
    this.line = root.querySelector(".unsaved");
    this.words = this.line.querySelector("span");
    this.again = this.line.querySelector("button");
    this.undo.onclick = () => this.command("undo");
    this.redo.onclick = () => this.command("redo");
    this.again.onclick = () => this.send();
    this.onKey = (event) => this.key(event);
    this.onLeave = () => this.outbox.flush();
    this.onOnline = () => this.send();
    this.onChange = () => this.draw();
    addEventListener("keydown", this.onKey, true);
    addEventListener("beforeunload", this.onLeave);
    addEventListener("online", this.onOnline);
    this.watcher = new MutationObserver(() => this.dismiss());
    this.watcher.observe(document.body, { childList: true });
    this.outbox.listeners.add(this.onChange);
    this.outbox.sender = () => this.send();
    this.row = new StepRow();
    this.elsewhere = new SavedElsewhere();
    this.onLook = () => this.look();
    this.looking = setInterval(this.onLook, LOOK_MS);
    document.addEventListener("visibilitychange", this.onLook);
    this.tries = 0;
    this.left = false;
  }

  update(data, setStateValue) {
    this.data = data;
    this.setStateValue = setStateValue;
    this.outbox.job = data.job;
    this.outbox.answered(data.answered);
    this.elsewhere.shows(data.job, data.saved, (saved) => setStateValue("news", { saved, at: performance.now() }));
    stepAddress().shows(data.step, (value) => setStateValue("step", value));
    this.row.follow();
    if (this.outbox.pending().length && !this.timer) this.send(); // from before a reload
    this.draw();
  }

  // What this page is about to save, or is being shown, is no news.
  look() {
    if (!this.undo.isConnected) return this.leave();
    if (document.hidden || this.outbox.pending().length) return;
    this.elsewhere.look();
  }

  command(kind, what = {}) {
    this.outbox.flush();
    this.outbox.push({ kind, ...what });
  }

  // The unit as the person has it: what was chosen last, or what the program says.
  unit() {
    const asked = this.outbox.missingFrom(this.data?.answered ?? {}).findLast((one) => one.kind === "unit");
    return asked?.unit ?? this.data?.unit;
  }

  setUnit(unit) {
    if (unit !== this.unit()) this.command("unit", { unit });
  }

  // Arrows go round a group of choices, as they do in any.
  unitKey(event) {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const units = this.data.units;
    const next = (units.indexOf(this.unit()) + step + units.length) % units.length;
    this.setUnit(units[next]);
    this.units.children[next].focus();
  }

  drawUnits() {
    const { units } = this.data ?? {};
    if (!units) return;
    if (this.units.children.length !== units.length) {
      this.units.replaceChildren(...units.map((unit) => {
        const button = document.createElement("button");
        button.type = "button";
        button.setAttribute("role", "radio");
        button.textContent = unit;
        button.onclick = () => this.setUnit(unit);
        return button;
      }));
    }
    for (const button of this.units.children) {
      const chosen = button.textContent === this.unit();
      button.setAttribute("aria-checked", String(chosen));
      button.tabIndex = chosen ? 0 : -1;
    }
  }

  key(event) {
    if (!this.root.isConnected && !this.undo.isConnected) return this.leave();
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    const kind = key === "y" || (key === "z" && event.shiftKey) ? "redo" : key === "z" ? "undo" : null;
    if (!kind || event.composedPath()[0].matches?.(FIELDS)) return; // a field undoes its own typing
    event.preventDefault();
    event.stopPropagation();
    this.command(kind);
  }

  // A message that is not answered is sent again: what has arrived before is not done twice.
  send() {
    clearTimeout(this.timer);
    this.timer = null;
    const batches = this.outbox.batches();
    if (!batches.length || !this.setStateValue) return;
    this.setStateValue("outbox", { batches, sent: (this.sent = (this.sent ?? 0) + 1) });
    const patience = ANSWER_MS[Math.min(this.tries, ANSWER_MS.length - 1)];
    this.timer = setTimeout(() => {
      this.timer = null;
      this.tries += 1;
      if (this.undo.isConnected) this.send();
      this.draw();
    }, patience);
  }

  draw() {
    const waiting = this.outbox.pending();
    if (!waiting.length) {
      clearTimeout(this.timer);
      this.timer = null;
      this.tries = 0;
    }
    this.drawUnits();
    const steps = (...kinds) => waiting.filter((command) => kinds.includes(command.kind)).length;
    this.undo.disabled = !(this.data?.can_undo || waiting.length > steps("undo", "unit"));
    this.redo.disabled = !(this.data?.can_redo || steps("undo"));
    this.line.hidden = !(this.tries && waiting.length);
    if (this.line.hidden) return;
    const what = waiting.length === 1 ? "Your last change is" : `Your last ${waiting.length} changes are`;
    this.words.textContent = `${what} kept here and not saved yet; sending again until the program answers.`;
  }

  // A dialogue that says the program does not answer would lock the page: work goes on, and the line
  // below the buttons says what is kept here meanwhile.
  dismiss() {
    if (!this.undo.isConnected) return;
    const dialogue = document.querySelector('[data-testid="stDialog"]');
    if (!dialogue || dialogue.querySelector('[data-testid="stVerticalBlock"]')) return;
    dialogue.querySelector("button")?.click();
  }

  // The page has put up another in its place.
  leave() {
    this.left = true;
    removeEventListener("keydown", this.onKey, true);
    removeEventListener("beforeunload", this.onLeave);
    removeEventListener("online", this.onOnline);
    clearInterval(this.looking);
    document.removeEventListener("visibilitychange", this.onLook);
    this.watcher.disconnect();
    this.outbox.listeners.delete(this.onChange);
    this.row.leave();
    clearTimeout(this.timer);
  }
}

export default function (component) {
  const { parentElement, data, setStateValue } = component;
  let bar = bars.get(parentElement);
  if (!bar?.undo.isConnected || bar.left) { // one that has left hears no keys, though it be put back
    bar?.leave();
    bar = new CommandBar(parentElement);
    bars.set(parentElement, bar);
  }
  bar.update(data, setStateValue);
}
