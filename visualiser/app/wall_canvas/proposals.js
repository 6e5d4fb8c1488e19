// Proposals as a strip of small true pictures below the wall. To rest on one shows it on the wall at
// full size; one tap takes it.

import { boxToPoints } from "./mapping.js";
import { showPicture } from "./pictures.js";
import { edges } from "./snapping.js";

export class Proposals {
  constructor(view) {
    this.view = view;
    this.strip = view.root.querySelector(".strip");
    this.row = this.strip.querySelector(".row");
    this.list = [];
    this.strip.addEventListener("pointerleave", () => this.rest(null));
    this.strip.addEventListener("focusout", (event) => {
      if (!this.strip.contains(event.relatedTarget)) this.rest(null);
    });
  }

  replace(list) {
    const told = JSON.stringify(list);
    if (told !== this.told) {
      this.told = told;
      this.list = list;
      this.rest(null);
      this.row.replaceChildren(...list.map((one) => this.card(one)));
      const shown = !this.strip.hidden;
      this.strip.hidden = !list.length;
      if (shown === this.strip.hidden) this.view.stage.layout(); // the wall makes room for it
    }
    this.draw();
  }

  card(one) {
    const card = document.createElement("button");
    card.type = "button";
    card.className = "proposal";
    card.title = one.name;
    card.setAttribute("aria-label", `Take the proposal ${one.name}, ${one.words}`);
    const picture = document.createElement("span");
    picture.className = "picture";
    const wall = document.createElement("img");
    wall.alt = "";
    wall.draggable = false;
    picture.append(wall);
    for (const item of one.items) {
      const face = document.createElement("img");
      face.alt = "";
      face.className = "face";
      face.draggable = false;
      face.dataset.piece = item.id;
      picture.append(face);
    }
    const words = document.createElement("span");
    words.className = "words";
    words.textContent = one.name;
    card.append(picture, words);
    card.addEventListener("pointerenter", (event) => {
      if (event.pointerType !== "touch") this.rest(one);
    });
    card.addEventListener("focus", () => this.rest(one));
    card.addEventListener("click", () => this.take(one));
    return card;
  }

  // Drawn as the wall view draws them, at the strip's scale: the same lens, the same places.
  draw() {
    const { map, data } = this.view;
    if (!map || this.strip.hidden) return;
    this.list.forEach((one, index) => {
      const card = this.row.children[index];
      const picture = card.querySelector(".picture");
      const height = picture.clientHeight || 84;
      const scale = height / data.height;
      card.style.width = picture.style.width = `${Math.round(data.width * scale)}px`;
      showPicture(picture.firstChild, data.base, this.view);
      const faces = [...picture.querySelectorAll(".face")];
      one.items.forEach((item, k) => {
        const e = edges(item);
        const corners = [[e.l, e.t], [e.r, e.t], [e.r, e.b], [e.l, e.b]].map(
          ([x, y]) => map.toPhoto(x, y, item.z).map((v) => (v + 0.5) * scale)
        );
        if (item.face) showPicture(faces[k], item.face, this.view);
        faces[k].style.width = `${item.w}px`;
        faces[k].style.height = `${item.h}px`;
        faces[k].style.transform = boxToPoints(item.w, item.h, corners);
      });
    });
  }

  rest(one) {
    if (this.view.trial === (one?.items ?? null)) return;
    this.view.trial = one?.items ?? null;
    this.view.settle();
    if (one) this.view.say(`${one.name}: ${one.words}. Take it with a tap or Enter.`);
  }

  take(one) {
    const places = one.items.map(({ id, x, y }) => ({ id, x, y }));
    this.view.outbox.push({ kind: "take", name: one.name, family: one.family, places });
    this.rest(null);
    this.view.say(`${one.name} is taken.`);
  }
}
