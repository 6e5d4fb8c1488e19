// The bar beside the chosen pieces: what can be done to them, each by one tap. It lies where it covers
// no piece, and on a narrow view along the lower edge.

import { lengthText } from "./mapping.js";

export class PieceBar {
  constructor(view) {
    this.view = view;
    this.node = view.root.querySelector(".piece-bar");
    this.parts = Object.fromEntries(
      ["keep", "swap", "line", "space", "smaller", "larger", "finish", "place", "exact"].map(
        (name) => [name, this.node.querySelector(`.${name}`)]
      )
    );
    this.swapping = null; // the piece that waits for another to change places with
    const { keep, swap, line, space, smaller, larger, finish, place, exact } = this.parts;
    keep.onclick = () => this.keep();
    swap.onclick = () => this.swap();
    line.onchange = () => this.chosen(line, (how) => this.edit(how));
    space.onchange = () => this.chosen(space, (how) => this.edit(how));
    smaller.onclick = () => this.size(false);
    larger.onclick = () => this.size(true);
    finish.onchange = () => this.chosen(finish, (value) => this.push({ kind: "finish", pieces: this.ids, finish: value }));
    place.onclick = () => this.openExact();
    exact.onsubmit = (event) => this.exactly(event);
    this.node.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      this.closeExact();
      this.focusPiece();
    });
  }

  get ids() {
    return [...this.view.choosing.ids];
  }

  push(command) {
    const { option } = this.view.data;
    this.view.outbox.push({ ...command, option });
  }

  // A choice of a list is carried out and the list shows its name again.
  chosen(list, act) {
    const { value } = list;
    list.value = "";
    if (value) act(value);
  }

  keep() {
    const keep = !this.ids.every((id) => this.view.pieces.kept(id));
    for (const id of this.ids) {
      if (this.view.pieces.kept(id) !== keep) this.push({ kind: "lock", piece: id, kept: keep });
    }
    this.view.pieces.draw();
    this.draw();
  }

  edit(how, pieces = this.ids) {
    this.push({ kind: "edit", how, pieces });
  }

  swap() {
    if (this.ids.length === 2) {
      this.edit("swap");
      return;
    }
    this.swapping = this.swapping ? null : this.ids[0];
    this.parts.swap.setAttribute("aria-pressed", String(Boolean(this.swapping)));
    if (this.swapping) this.view.say("Tap the piece to change places with.");
  }

  // A piece was tapped: it is the other one, where one waits for it.
  swapWith(id) {
    const one = this.swapping;
    if (!one) return false;
    this.swapping = null;
    this.parts.swap.setAttribute("aria-pressed", "false");
    if (one !== id) this.edit("swap", [one, id]);
    return true;
  }

  size(larger) {
    this.push({ kind: "size", piece: this.ids[0], larger });
  }

  openExact() {
    const { exact, place } = this.parts;
    if (!exact.hidden) return this.closeExact();
    const item = this.view.pieces.item(this.ids[0]);
    const { unit } = this.view.data;
    exact.elements.across.value = lengthText(item.x, unit);
    exact.elements.up.value = lengthText(item.y, unit);
    exact.hidden = false;
    place.setAttribute("aria-expanded", "true");
    this.draw();
    exact.elements.across.select();
  }

  closeExact() {
    this.parts.exact.hidden = true;
    this.parts.place.setAttribute("aria-expanded", "false");
  }

  // What was only shown is not typed: it keeps its full precision.
  exactly(event) {
    event.preventDefault();
    const { exact } = this.parts;
    const item = this.view.pieces.item(this.ids[0]);
    const typed = (field, mm) => field.value === lengthText(mm, this.view.data.unit) ? "" : field.value;
    const across = typed(exact.elements.across, item.x), up = typed(exact.elements.up, item.y);
    if (across || up) this.push({ kind: "place", piece: item.id, across, up });
    this.closeExact();
    this.focusPiece();
  }

  focusPiece() {
    this.view.pieces.nodes.get(this.ids[0])?.group.focus({ preventScroll: true });
  }

  enter() {
    this.node.querySelector("button:not([hidden])")?.focus();
  }

  draw() {
    const { view, node, ids } = this;
    const { choosing, data, pieces } = view;
    const shown = ids.length > 0 && data?.bar && !data.still && !pieces.busy && !choosing.box && !view.trial;
    node.hidden = !shown;
    view.root.querySelector(".wall-view").classList.toggle("with-bar", Boolean(shown));
    if (!shown) {
      if (!ids.length) this.swapping = null;
      this.closeExact();
      return;
    }
    const one = ids.length === 1;
    const names = ids.map((id) => pieces.item(id)?.name ?? id);
    node.setAttribute("aria-label", one ? `What to do with ${names[0]}` : `What to do with ${ids.length} pieces`);
    const { keep, swap, line, space, smaller, larger, finish, place } = this.parts;
    const kept = ids.every((id) => pieces.kept(id));
    keep.setAttribute("aria-pressed", String(kept));
    keep.textContent = kept ? "Let it move" : "Keep in place";
    swap.hidden = ids.length > 2;
    swap.textContent = one ? "Swap with …" : "Swap";
    line.hidden = ids.length < 2;
    space.hidden = ids.length < 2;
    for (const part of [smaller, larger, place]) part.hidden = !one;
    if (!one) this.closeExact();
    if (finish.options.length <= 1) {
      for (const value of data.bar.finishes) finish.add(new Option(value, value));
    }
    this.lay();
  }

  // Of the places round the chosen pieces, the one that covers least of any piece.
  lay() {
    const { node, view } = this;
    const at = view.stage.frame.getBoundingClientRect();
    const [w, h] = [node.offsetWidth, node.offsetHeight];
    const boxes = [...view.pieces.nodes].map(([id, { outline }]) => [id, outline.getBoundingClientRect()]);
    const own = boxes.filter(([id]) => view.choosing.has(id)).map(([, b]) => b);
    if (!own.length || !at.width) return;
    const left = Math.min(...own.map((b) => b.left)) - at.left, right = Math.max(...own.map((b) => b.right)) - at.left;
    const top = Math.min(...own.map((b) => b.top)) - at.top, bottom = Math.max(...own.map((b) => b.bottom)) - at.top;
    const gap = 30; // clear of the measure under a piece
    const inside = (x, y) => [
      Math.min(Math.max(x, 6), Math.max(at.width - w - 6, 6)), Math.min(Math.max(y, 6), Math.max(at.height - h - 52, 6)),
    ];
    /** @type {(place: number[]) => number} */
    const covered = ([x, y]) => boxes.reduce((sum, [, b]) => {
      const across = Math.min(x + w, b.right - at.left) - Math.max(x, b.left - at.left);
      const up = Math.min(y + h, b.bottom - at.top) - Math.max(y, b.top - at.top);
      return sum + (across > 0 && up > 0 ? across * up : 0);
    }, 0);
    const middle = (left + right - w) / 2;
    const places = [
      inside(middle, top - h - gap), inside(middle, bottom + gap), inside(right + gap, top),
      inside(left - w - gap, top), inside(middle, 6), inside(middle, at.height),
    ];
    const [x, y] = places.reduce((best, place) => covered(place) < covered(best) - 1 ? place : best);
    node.style.left = `${x}px`;
    node.style.top = `${y}px`;
  }
}
