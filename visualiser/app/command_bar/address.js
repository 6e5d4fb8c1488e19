// The step stands in the page's address, so that it can be come back to. The browser alone writes it:
// what the program knows of the address may be older than where the person is by now.

import { pageOutbox } from "./outbox.js";

// How long the page may take to show a step before it is asked again. Every question draws it anew, so
// they become rarer: on a busy computer a page takes seconds. An address may name a step that there is
// none of, so they end.
const WAITS_MS = [1500, 3000, 6000, 12000, 24000];

export class StepAddress {
  constructor() {
    this.shown = null; // the step the address was last made to name
    this.going = null; // the step the person went back or forth to, until the page shows it
    this.times = this.asked = 0; // of all questions, and of those about this step
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
    addEventListener("popstate", () => this.follow());
  }

  named() {
    return new URL(location.href).searchParams.get("step");
  }

  // The page shows a step. With `tell` it can be asked for another.
  shows(step, tell) {
    this.tell = tell;
    if (!step) return;
    if (this.going && step !== this.going && this.timer) return; // drawn before it knew
    const first = this.shown === null || this.going !== null;
    this.going = null;
    clearTimeout(this.timer);
    this.timer = undefined;
    if (step === this.shown && !first) return;
    this.shown = step;
    if (this.named() === step) return;
    const url = new URL(location.href);
    url.searchParams.set("step", step);
    if (first) history.replaceState(history.state, "", url);
    else history.pushState(history.state, "", url);
  }

  follow() {
    const step = this.named();
    if (!step || (step === this.shown && !this.going)) return; // back and forth again is asked for too
    this.going = step;
    this.asked = 0;
    pageOutbox().flush();
    this.ask();
  }

  ask() {
    this.times += 1;
    this.tell?.({ to: this.going, times: this.times });
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.timer = undefined;
      if (this.asked < WAITS_MS.length) this.ask();
    }, WAITS_MS[this.asked]);
    this.asked += 1;
  }
}

export function stepAddress() {
  globalThis.visualiserStepAddress ??= new StepAddress();
  return globalThis.visualiserStepAddress;
}
