// What hands did and the program has not answered yet: numbered commands, in the order they were done.
// Every message carries all of them, so none is lost where a later message overtakes an earlier one;
// the program carries each number out once, however often it arrives.

const STORED_AS = "visualiser-outbox";
const ANSWERED_KEPT = 300;

export class Outbox {
  constructor(store = tabsStore()) {
    this.store = store;
    this.hand = newHand();
    this.last = 0;
    this.job = null;
    this.waiting = this.stored(); // [{ job, hand, number, kind, ... }]
    this.done = []; // answered, but perhaps not yet in what a view was drawn from
    this.listeners = new Set();
    this.flushers = new Set();
    this.sender = null;
  }

  // What an earlier page of this tab had not been answered: a reload loses nothing.
  stored() {
    try {
      const kept = JSON.parse(this.store?.getItem(STORED_AS) ?? "[]");
      return Array.isArray(kept) ? kept : [];
    } catch {
      return [];
    }
  }

  keep() {
    try {
      this.store?.setItem(STORED_AS, JSON.stringify(this.waiting));
    } catch { /* a full or forbidden store: the page itself still holds them */ }
  }

  // Do a command: number it and send it on.
  push(command) {
    this.last += 1;
    const numbered = { ...command, job: this.job, hand: this.hand, number: this.last };
    this.waiting.push(numbered);
    this.keep();
    this.changed();
    this.sender?.();
    return numbered;
  }

  // Commands of this job that wait for an answer, by the page that gave them.
  batches() {
    const hands = new Map();
    for (const { job, hand, ...command } of this.pending()) {
      if (!hands.has(hand)) hands.set(hand, { job, hand, commands: [] });
      hands.get(hand).commands.push(command);
    }
    return [...hands.values()];
  }

  pending() {
    return this.waiting.filter((command) => command.job === this.job);
  }

  // The program has dealt with every command up to these numbers.
  answered(numbers) {
    const there = (command) => command.number <= (numbers[command.hand] ?? 0);
    const done = this.waiting.filter(there);
    if (!done.length) return;
    this.waiting = this.waiting.filter((command) => !there(command));
    this.done = [...this.done, ...done].slice(-ANSWERED_KEPT);
    this.keep();
    this.changed();
  }

  // Commands that are not in a state yet which holds those up to these numbers.
  missingFrom(numbers) {
    return [...this.done, ...this.waiting].filter(
      (command) => command.job === this.job && command.number > (numbers[command.hand] ?? 0)
    );
  }

  // Whoever holds something back for a moment, such as arrow keys until they rest, hands it over.
  flush() {
    for (const flush of this.flushers) flush();
  }

  changed() {
    for (const listener of this.listeners) listener();
  }
}

// What this tab keeps over a reload; nothing where the browser forbids it.
function tabsStore() {
  try {
    return globalThis.sessionStorage;
  } catch {
    return null;
  }
}

function newHand() {
  const words = crypto.getRandomValues(new Uint32Array(4));
  return [...words].map((word) => word.toString(36)).join("-");
}

// The page has one, whichever of its parts needs it first.
export function pageOutbox() {
  globalThis.visualiserOutbox ??= new Outbox();
  return globalThis.visualiserOutbox;
}
