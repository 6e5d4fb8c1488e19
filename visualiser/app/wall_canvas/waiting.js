// What the view is waiting for, said once that takes longer than a moment.

const MOMENT_MS = 1000;

export class Waiting {
  constructor(root) {
    this.note = root.querySelector(".waiting");
    this.words = root.querySelector(".waiting span");
    this.button = root.querySelector(".waiting button");
    this.reasons = new Map();
    this.button.onclick = () => this.press();
  }

  // Wait for something. With `again`, a button offers to try once more.
  begin(reason, words, { after = MOMENT_MS, again = null } = {}) {
    const known = this.reasons.get(reason);
    if (known?.words === words) return;
    const since = known?.since ?? performance.now();
    clearTimeout(known?.timer);
    const timer = setTimeout(() => this.draw(), after);
    this.reasons.set(reason, { words, again, since, after, timer });
    this.draw();
  }

  end(reason) {
    clearTimeout(this.reasons.get(reason)?.timer);
    if (this.reasons.delete(reason)) this.draw();
  }

  // Of what has taken long enough, the last is said.
  get told() {
    const now = performance.now() + 1;
    return [...this.reasons.values()].filter(({ since, after }) => now - since >= after).at(-1);
  }

  draw() {
    const { told } = this;
    this.note.hidden = !told;
    this.words.textContent = told?.words ?? "";
    this.button.hidden = !told?.again;
  }

  press() {
    this.told?.again?.();
  }
}
