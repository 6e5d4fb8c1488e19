// What the client is shown: nothing but pictures and names, over the whole screen. Options lie side by
// side or one over the other in the same place; all of them are uncovered from the bare wall together.
// One tap on a picture chooses it.

import { pageOutbox } from "../command_bar/outbox.js";
import { showPicture } from "../wall_canvas/pictures.js";
import { largestGrid } from "./fitting.js";

const NAME_PX = 34, GAP_PX = 16;
const shows = new WeakMap();

class ClientShow {
  constructor(root) {
    this.root = root;
    this.outbox = pageOutbox();
    const part = (name) => root.querySelector(name);
    this.dialog = part("dialog");
    this.screen = part(".screen");
    this.pictures = part(".pictures");
    this.turn = part(".turn");
    this.side = part(".side");
    this.over = part(".over");
    this.slider = part(".before input");
    this.coming = part(".coming");
    this.opener = part(".open");
    this.inside = false; // whether pictures come inside the messages
    this.stacked = false; // whether they lie one over the other
    this.top = null; // the one on top
    this.cards = new Map();
    this.waiting = { begin() {}, end() {} };
    this.opener.onclick = () => this.open();
    part(".close").onclick = () => this.close();
    this.side.onclick = () => this.lay(false);
    this.over.onclick = () => this.lay(true);
    this.slider.oninput = () => this.uncover();
    this.dialog.addEventListener("keydown", (event) => this.onKey(event));
    this.dialog.addEventListener("close", () => this.closed());
    this.screen.addEventListener("fullscreenchange", () => {
      if (!this.full) return;
      if (this.root.fullscreenElement || document.fullscreenElement) this.fit();
      else this.close();
    });
    this.onResize = () => this.dialog.isConnected ? this.fit() : removeEventListener("resize", this.onResize);
    addEventListener("resize", this.onResize);
    this.onChange = () => this.dialog.isConnected ? this.mark() : this.outbox.listeners.delete(this.onChange);
    this.outbox.listeners.add(this.onChange);
  }

  update(data, setStateValue) {
    this.data = data;
    this.setStateValue = setStateValue;
    this.outbox.job = data.job;
    this.opener.disabled = !data.options.length;
    this.draw();
  }

  open() {
    this.setStateValue("asked", { at: Date.now() });
    this.dialog.showModal();
    this.full = false;
    this.screen.requestFullscreen?.().then(() => { this.full = true; this.fit(); }, () => {});
    this.draw();
    (this.cards.get(this.chosen) ?? this.cards.values().next().value)?.button.focus();
  }

  close() {
    this.dialog.close();
  }

  closed() {
    this.full = false;
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    this.opener.focus();
  }

  // The option that is chosen, with what was tapped since the page was drawn.
  get chosen() {
    const since = this.outbox.missingFrom(this.data.answered ?? {});
    return since.findLast((command) => command.kind === "choose")?.option ?? this.data.chosen;
  }

  choose(id) {
    this.top = id;
    this.outbox.push({ kind: "choose", option: id });
  }

  draw() {
    const { options } = this.data;
    const known = new Set(options.map(({ id }) => id));
    for (const [id, { button, turn }] of this.cards) {
      if (known.has(id)) continue;
      button.remove();
      turn.remove();
      this.cards.delete(id);
    }
    for (const option of options) this.card(option);
    if (!known.has(this.top)) this.top = this.data.chosen ?? options[0]?.id;
    const missing = options.filter(({ picture }) => !picture).length;
    this.coming.hidden = !missing;
    this.coming.textContent = missing ? `Drawing ${missing === options.length ? "the pictures" : `${missing} more`} …` : "";
    this.root.querySelector(".ways").hidden = options.length < 2;
    this.root.querySelector(".before").hidden = !this.data.before;
    this.lay(this.stacked);
    this.uncover();
    this.mark();
  }

  card(option) {
    if (!this.cards.has(option.id)) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "option";
      button.innerHTML = '<span class="picture"><img class="was" alt=""><img class="will" alt=""></span><span class="name"></span>';
      button.onclick = () => this.choose(option.id);
      this.pictures.append(button);
      const turn = document.createElement("button");
      turn.type = "button";
      turn.onclick = () => this.turnTo(option.id);
      this.turn.append(turn);
      this.cards.set(option.id, { button, turn });
    }
    const { button, turn } = this.cards.get(option.id);
    turn.textContent = option.name;
    const [was, will] = button.querySelectorAll("img");
    for (const [image, address] of [[was, this.data.before], [will, option.picture]]) {
      image.hidden = !address;
      if (address && this.dialog.open) showPicture(image, address, this);
    }
  }

  lay(stacked) {
    this.stacked = stacked && this.data.options.length > 1;
    this.side.setAttribute("aria-pressed", String(!this.stacked));
    this.over.setAttribute("aria-pressed", String(this.stacked));
    this.turn.hidden = !this.stacked;
    for (const [id, { button, turn }] of this.cards) {
      button.hidden = this.stacked && id !== this.top;
      turn.setAttribute("aria-pressed", String(id === this.top));
    }
    this.fit();
  }

  turnTo(id) {
    const held = this.pictures.contains(this.root.activeElement);
    this.top = id;
    this.lay(true);
    if (held) this.cards.get(id).button.focus();
  }

  fit() {
    if (!this.dialog.open || !this.data.options.length) return;
    const count = this.stacked ? 1 : this.data.options.length;
    const aspect = this.data.width / this.data.height;
    const { clientWidth: width, clientHeight: height } = this.pictures;
    const { wide } = largestGrid(count, aspect, { width: width - 8, height: height - 8, gap: GAP_PX, line: NAME_PX });
    for (const { button } of this.cards.values()) {
      button.style.width = `${Math.floor(wide)}px`;
      button.firstChild.style.height = `${Math.floor(wide / aspect)}px`;
    }
  }

  // Uncover so much of every option from its left end; the rest is the wall as it was.
  uncover() {
    const share = this.data.before ? Number(this.slider.value) : 100;
    for (const { button } of this.cards.values()) {
      button.querySelector(".will").style.clipPath = `inset(0 ${100 - share}% 0 0)`;
    }
  }

  mark() {
    const { chosen } = this;
    for (const { id, name } of this.data.options) {
      const { button } = this.cards.get(id) ?? {};
      if (!button) continue;
      button.setAttribute("aria-pressed", String(id === chosen));
      button.setAttribute("aria-label", id === chosen ? `${name}, chosen` : `Choose ${name}`);
      button.querySelector(".name").textContent = id === chosen ? `${name} ✓` : name;
    }
  }

  onKey(event) {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!step || !this.stacked || event.target === this.slider) return;
    event.preventDefault();
    const ids = this.data.options.map(({ id }) => id);
    this.turnTo(ids[(ids.indexOf(this.top) + step + ids.length) % ids.length]);
  }

  // A picture has not come by its address: from then on they come inside the messages.
  lost(inside) {
    this.inside ||= inside;
    this.setStateValue("asked", { at: Date.now(), inside: this.inside });
  }
}

export default function (component) {
  const { parentElement, data, setStateValue } = component;
  let show = shows.get(parentElement);
  if (!show?.dialog.isConnected) {
    show = new ClientShow(parentElement);
    shows.set(parentElement, show);
  }
  show.update(data, setStateValue);
}
