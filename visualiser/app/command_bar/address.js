// The step stands in the page's address, so that it can be come back to. The browser alone writes it:
// what the program knows of the address may be older than where the person is by now.

import { pageOutbox } from "./outbox.js";

const MOST_ASKED = 5; // an address may name a step that there is none of
const STEP_SHOWN_MS = 3000;

export class StepAddress {
  constructor() {
    this.shown = null; // the step the address was last made to name
    this.going = null; // the step the person went back or forth to, until the page shows it
    this.times = this.asked = 0;
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
    if (this.going && step !== this.going && this.asked < MOST_ASKED) {
      this.ask(); // drawn before it knew
      return;
    }
    const first = this.shown === null || this.going !== null;
    this.going = null;
    clearTimeout(this.timer);
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
    if (!step || step === this.shown) return;
    this.going = step;
    this.asked = 0;
    pageOutbox().flush();
    this.ask();
  }

  ask() {
    this.times += 1;
    this.asked += 1;
    this.tell?.({ to: this.going, times: this.times });
    // A page that is drawn as it was is not drawn at all, and then says nothing.
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      if (this.going && this.asked < MOST_ASKED) this.ask();
    }, STEP_SHOWN_MS * this.asked);
  }
}

export function stepAddress() {
  globalThis.visualiserStepAddress ??= new StepAddress();
  return globalThis.visualiserStepAddress;
}
