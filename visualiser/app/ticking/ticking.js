// What is being done and for how long; once it has ended, the page is drawn anew.

import { isBusy, newsOf } from "../news.js";

const LOOK_MS = 250, AGAIN_TICKS = 20;
const tickings = new WeakMap();

class Ticking {
  constructor(root) {
    this.words = root.querySelector(".words");
    this.seconds = root.querySelector(".seconds"); // nobody is read every second aloud
    this.timer = setInterval(() => this.tick(), LOOK_MS);
    this.patience = this.begun = 0; // the first: ticks until the page is asked again
    this.drawnAt = -Infinity;
    this.what = this.token = "";
    this.looking = false;
    this.setStateValue = (_name, _value) => {};
  }

  update({ words, seconds, token }, setStateValue) {
    if (token !== this.token) this.patience = 0;
    this.drawnAt = performance.now();
    this.begun = this.drawnAt - 1000 * seconds;
    Object.assign(this, { what: words, token, setStateValue });
    this.draw();
  }

  draw() {
    const text = `${this.what} …`;
    if (this.words.textContent !== text) this.words.textContent = text;
    this.seconds.textContent = `${Math.floor((performance.now() - this.begun) / 1000)} s`;
  }

  async tick() {
    if (!this.words.isConnected) return this.leave();
    this.draw();
    if (this.patience > 0) this.patience -= 1;
    if (this.patience || this.looking || isBusy(this.drawnAt)) return;
    this.looking = true;
    const { token } = this;
    const news = await newsOf({ work: token });
    this.looking = false;
    if (news?.says && token === this.token) this.what = news.says;
    if (!news?.ended || token !== this.token || isBusy(this.drawnAt) || !this.words.isConnected) return;
    this.patience = AGAIN_TICKS;
    this.setStateValue("ended", { token, at: performance.now() });
  }

  leave() {
    clearInterval(this.timer);
  }
}

export default function ({ parentElement, data, setStateValue }) {
  let ticking = tickings.get(parentElement);
  if (!ticking?.words.isConnected) {
    ticking?.leave();
    ticking = new Ticking(parentElement);
    tickings.set(parentElement, ticking);
  }
  ticking.update(data, setStateValue);
}
