// The pieces on the wall: shown in perspective, dragged, nudged, and measured while they move.

import { boxToPoints, lengthText, nudgeMm } from "./mapping.js";
import { showPicture } from "./pictures.js";
import { collide, edges, gapsAround, snapped } from "./snapping.js";
import { follow, svgNode } from "./stage.js";

export class Pieces {
  constructor(view) {
    this.view = view;
    this.layer = svgNode("g", { class: "pieces" }, view.stage.svg);
    this.hints = svgNode("g", { class: "hints", "aria-hidden": "true" }, view.stage.svg);
    this.nodes = new Map();
    this.items = [];
    this.busy = null; // the piece under the pointer
    this.hand = []; // that piece, and those that go with it
  }

  // Show the pieces of a state, with what was done to them since; one in the hand stays there.
  replace(items, since = []) {
    const held = (this.busy ? this.hand : this.nudged?.ids ?? []).map((id) => this.item(id));
    this.items = items.map((item) => ({ ...item }));
    for (const { kind, piece, option, to, places } of since) {
      if (option !== this.view.data.option) continue;
      const moved = kind === "move" ? [{ id: piece, x: to[0], y: to[1] }] : kind === "together" ? places : [];
      for (const { id, x, y } of moved) Object.assign(this.item(id) ?? {}, { x, y });
    }
    for (const was of held) {
      const own = was && this.item(was.id);
      if (own) Object.assign(own, { x: was.x, y: was.y });
    }
    const known = new Set(items.map((item) => item.id));
    if (!this.view.trial) this.view.choosing?.keepOnly(known);
    for (const [id, node] of this.nodes) {
      if (!known.has(id)) {
        node.group.remove();
        node.face.remove();
        this.nodes.delete(id);
      }
    }
    for (const item of this.items) this.ensure(item);
    this.order();
    this.draw();
  }

  // Put the nodes in the pieces' order, moving as few as can be: a node that is moved loses the focus.
  order() {
    let next = this.layer.firstChild;
    for (const item of this.items) {
      const { group } = this.nodes.get(item.id);
      if (group === next) next = next.nextSibling;
      else this.layer.insertBefore(group, next);
    }
  }

  ensure(item) {
    if (this.nodes.has(item.id)) return;
    const group = svgNode("g", { class: "piece grab", tabindex: "0", role: "button" }, this.layer);
    const casing = svgNode("path", { class: "casing" }, group);
    const outline = svgNode("path", { class: "outline" }, group);
    const face = document.createElement("img");
    face.alt = "";
    face.draggable = false;
    this.view.stage.live.appendChild(face);
    group.addEventListener("pointerdown", (event) => this.onDown(event, item.id));
    group.addEventListener("keydown", (event) => this.onKey(event, item.id));
    group.addEventListener("focus", () => this.measure(item.id));
    group.addEventListener("blur", () => {
      this.tellNow();
      this.clearHints();
    });
    this.nodes.set(item.id, { group, casing, outline, face });
  }

  item(id) {
    return this.items.find((item) => item.id === id);
  }

  // Whether a piece is to stay where it is, by the last that was said of it.
  kept(id) {
    const { data, since } = this.view;
    const said = since.findLast((c) => c.kind === "lock" && c.piece === id && c.option === data.option);
    return said ? said.kept : (data.kept ?? []).includes(id);
  }

  others(id, hand = []) {
    return this.items.filter((item) => item.id !== id && !hand.includes(item.id));
  }

  // What goes with a piece that is moved: the chosen ones, where it is one of them.
  together(id) {
    const { choosing } = this.view;
    return choosing.ids.size > 1 && choosing.has(id) ? choosing.free : [id];
  }

  draw() {
    for (const item of this.items) this.drawOne(item);
  }

  drawOne(item) {
    const { map } = this.view;
    const node = this.nodes.get(item.id);
    if (!node) return; // taken away elsewhere, while it was in the hand
    const e = edges(item);
    const corners = [[e.l, e.t], [e.r, e.t], [e.r, e.b], [e.l, e.b]];
    const path = [];
    corners.forEach((from, i) => {
      const to = corners[(i + 1) % 4];
      for (let k = 0; k < 6; k++) { // the lens bends straight edges
        const t = k / 6;
        path.push(map.toPhoto(from[0] + (to[0] - from[0]) * t, from[1] + (to[1] - from[1]) * t, item.z));
      }
    });
    const d = `M${path.map((p) => `${p[0].toFixed(2)} ${p[1].toFixed(2)}`).join("L")}Z`;
    node.outline.setAttribute("d", d);
    node.casing.setAttribute("d", d);
    const bad = this.others(item.id).some((other) => collide(item, other));
    node.group.classList.toggle("bad", bad);
    node.group.classList.toggle("held", Boolean(this.busy) && this.hand.includes(item.id));
    if (item.face) showPicture(node.face, item.face, this.view);
    node.face.hidden = !item.face;
    node.face.style.width = `${item.w}px`;
    node.face.style.height = `${item.h}px`;
    node.face.style.transform = boxToPoints(
      item.w, item.h, corners.map(([x, y]) => map.toPhoto(x, y, item.z))
    );
    node.group.setAttribute("aria-label", this.spoken(item, bad));
  }

  spoken(item, bad) {
    const { unit } = this.view.data;
    const place = `centre ${lengthText(item.x, unit)} from the side, ${lengthText(item.y, unit)} high`;
    return `${item.name}, ${place}${bad ? ", overlaps its neighbour" : ""}. ${this.kept(item.id) ? "It is kept where it is; L lets it go." : "Arrow keys move it, L keeps it where it is, Enter opens its bar."}`;
  }

  onDown(event, id) {
    if (event.button !== 0 || this.busy) return;
    const { stage, map, choosing, bar } = this.view;
    if (bar.swapWith(id) || event.shiftKey) {
      event.preventDefault();
      if (event.shiftKey) choosing.toggle(id);
      return;
    }
    if (!choosing.has(id)) choosing.set([id]);
    if (this.kept(id)) return;
    this.tellNow();
    let item = this.item(id);
    this.hand = this.together(id);
    const starts = this.hand.map((one) => ({ ...this.item(one) }));
    const start = { x: item.x, y: item.y };
    const at = (e) => map.toWall(...stage.toPhoto(e.clientX, e.clientY), item.z);
    const grip = at(event);
    this.busy = id;
    let moved = false;
    follow(event, this.nodes.get(id).group, {
      move: (e) => {
        item = this.item(id) ?? item; // another state may have come meanwhile
        const [x, y] = at(e);
        const wanted = { ...item, x: start.x + x - grip[0], y: start.y + y - grip[1] };
        const near = map.toWall(...stage.toPhoto(e.clientX + 7, e.clientY), item.z);
        const reach = e.altKey ? 0 : Math.hypot(near[0] - x, near[1] - y);
        const rest = snapped(wanted, this.others(id, this.hand), this.view.data.guides ?? {}, reach);
        if (!Number.isFinite(rest.x + rest.y)) return;
        const first = !moved;
        moved = true;
        for (const was of starts) {
          const own = this.item(was.id);
          if (!own) continue;
          own.x = was.x + rest.x - start.x;
          own.y = was.y + rest.y - start.y;
          this.drawOne(own);
        }
        if (first) {
          this.view.showLive(true);
          bar.draw();
        }
        this.measure(id, rest);
      },
      done: () => {
        this.busy = null;
        if (moved) this.tell(this.hand);
        this.view.settle();
        this.draw();
        this.measure(id);
      },
      cancelled: () => {
        this.busy = null;
        this.view.settle(); // where it is by now, which need not be where it was taken up
        this.draw();
        this.measure(id);
      },
    });
  }

  onKey(event, id) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      this.choose(id, event);
      return;
    }
    if (event.key.toLowerCase() === "l" && !event.ctrlKey && !event.metaKey && !event.altKey) {
      event.preventDefault();
      this.tellNow();
      const { option } = this.view.data;
      this.view.outbox.push({ kind: "lock", option, piece: id, kept: !this.kept(id) });
      this.draw();
      return;
    }
    if (!way || event.ctrlKey || event.metaKey || this.busy || this.kept(id)) return;
    event.preventDefault();
    event.stopPropagation();
    if (this.nudged?.id !== id) this.tellNow();
    const ids = this.nudged?.ids ?? this.together(id);
    const step = nudgeMm(this.view.data.unit) * (event.shiftKey ? 10 : 1);
    for (const item of ids.map((one) => this.item(one)).filter(Boolean)) {
      item.x += way[0] * step;
      item.y += way[1] * step;
      this.drawOne(item);
    }
    this.view.showLive(true);
    this.measure(id);
    clearTimeout(this.nudged?.timer);
    this.nudged = { id, ids, timer: setTimeout(() => this.tellNow(), 250) };
  }

  // Space adds a piece to the chosen or takes it out; Enter chooses it and goes to its bar.
  choose(id, event) {
    const { choosing, bar } = this.view;
    this.tellNow();
    if (bar.swapWith(id)) return;
    if (event.key === " ") {
      choosing.toggle(id);
      return;
    }
    if (!choosing.has(id)) choosing.set([id]);
    bar.enter();
  }

  // Nudges are told together, once the keys rest or the person turns elsewhere.
  tellNow() {
    if (!this.nudged) return;
    const { ids, timer } = this.nudged;
    clearTimeout(timer);
    this.nudged = null;
    this.tell(ids);
  }

  tell(ids) {
    const items = ids.map((id) => this.item(id)).filter(Boolean);
    const { option } = this.view.data;
    const places = items.map(({ id, x, y }) => ({ id, x, y }));
    if (places.length > 1) this.view.outbox.push({ kind: "together", option, places });
    for (const { id, x, y } of places.length === 1 ? places : []) {
      this.view.outbox.push({ kind: "move", option, piece: id, to: [x, y] });
    }
  }

  clearHints() {
    this.hints.replaceChildren();
  }

  // Draw gaps, height and guides of one piece, and say them.
  measure(id, rest = null) {
    const { map, data } = this.view;
    const item = this.item(id);
    this.clearHints();
    if (!item) return;
    const line = (from, to, name) => {
      const [a, b] = [map.toPhoto(...from), map.toPhoto(...to)];
      svgNode("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: name }, this.hints);
      return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    };
    const [low, high, left, right] = data.extent ?? [0, 2500, 0, 4000];
    for (const x of rest?.vertical ?? []) line([x, low], [x, high], "guide");
    for (const y of rest?.horizontal ?? []) line([left, y], [right, y], "guide");
    const said = [], words = [];
    const sides = gapsAround(item, this.others(id));
    for (const [side, gap] of Object.entries(sides)) {
      const text = lengthText(gap.gap, data.unit), at = line(gap.from, gap.to, "gap");
      words.push({ text, at, places: this.besideGap(side, at, item, this.item(gap.other)) });
      said.push(`${text} ${side}`);
    }
    // Under the piece; where a gap is written there, above it or on it.
    const e = edges(item);
    const height = `${lengthText(item.y, data.unit)} to the centre`;
    const [x, low_px] = map.toPhoto(item.x, e.b), [, top_px] = map.toPhoto(item.x, e.t);
    const { scale } = this.view, tall = (low_px - top_px) * scale;
    words.push({
      text: `↕ ${height}`, at: [x, low_px],
      places: [16, -tall - 16, 38, -tall - 38, -16, -tall + 16].map((down) => [0, down]),
    });
    this.view.drawPills(words, this.hints, this.boxes());
    this.view.say(`${item.name}: ${height}${said.length ? `; gaps ${said.join(", ")}` : ""}`);
  }
  // Where the words of a gap may stand, from its middle: in it, else past the nearer or the farther
  // end of the two pieces, where the gap leads to.
  besideGap(side, at, item, other) {
    const { map } = this.view, { scale } = this.view;
    const a = edges(item), b = edges(other), upright = side === "left" || side === "right";
    const away = (x, y) => map.toPhoto(x, y).map((v, i) => (v - at[i]) * scale);
    const [x, y] = map.toWall(...at);
    const ends = upright
      ? [[x, Math.max(a.t, b.t)], [x, Math.min(a.b, b.b)]].map(([u, v], i) => [0, away(u, v)[1] + (i ? 13 : -13)])
      : [[Math.max(a.r, b.r), y], [Math.min(a.l, b.l), y]].map(([u, v], i) => [away(u, v)[0] + (i ? -34 : 34), 0]);
    const nearest = ends.sort((p, q) => Math.hypot(...p) - Math.hypot(...q));
    return [[0, 0], ...nearest];
  }

  // What the pieces cover, on the screen in the photo's scale.
  boxes() {
    return this.items.map((item) => this.boxOf(item)).filter((box) => box !== null);
  }

  boxOf(item) {
    const { scale, map } = this.view, e = edges(item);
    const corners = [[e.l, e.t], [e.r, e.t], [e.r, e.b], [e.l, e.b]].map(([x, y]) => map.toPhoto(x, y, item.z));
    if (!corners.flat().every(Number.isFinite)) return null;
    const [xs, ys] = [0, 1].map((i) => corners.map((p) => p[i] * scale));
    const [x, y] = [Math.min(...xs), Math.min(...ys)];
    return { x, y, w: Math.max(...xs) - x, h: Math.max(...ys) - y };
  }
}
