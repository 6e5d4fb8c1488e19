// Marks on the photo: corners of the sheet, lines, zones. Points are photo px; each can be dragged
// or moved by arrow keys, under a loupe.

import { hookNames, placeLabels } from "./labels.js";
import { follow, svgNode } from "./stage.js";

const distance = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]);

// Whether a shape can be shown by the nodes of another; only its name need be written anew.
const sameParts = (a, b) =>
  a.kind === b.kind && a.closed === b.closed && a.editable === b.editable && Boolean(a.offer) === Boolean(b.offer) &&
  a.points.length === b.points.length;

const samePlace = (p, q) => p.every((point, i) => distance(point, q[i]) === 0);

const HOOK_PX = 7, SMALL_HOOK_PX = 4.5, NARROW_PX = 640;
const TITLE_PX = 12.5, TITLE_HIGH_PX = 16;

export class Shapes {
  constructor(view) {
    this.view = view;
    this.layer = svgNode("g", { class: "shapes" }, view.stage.svg);
    this.snaps = svgNode("g", { class: "snaps", "aria-hidden": "true" }, view.stage.svg);
    this.items = [];
    this.busy = null; // the shape under the pointer
    this.titled = []; // what titles and hooks cover, on the screen in the photo's scale
    this.loupe = view.root.querySelector("canvas.loupe");
  }

  // Show the marks of a state, with what was done to them since; one in the hand stays there. What is
  // made of the same parts keeps its nodes, and with them the focus.
  replace(items, since = []) {
    const before = new Map(this.items.map((item) => [item.id, item]));
    const hand = this.busy ?? this.nudged?.item;
    this.items = items.map((given) => {
      const old = before.get(given.id);
      const held = old === hand && hand && old.points.length === given.points.length;
      const item = old && (held || sameParts(old, given)) ? old : { ...given };
      if (item === old) before.delete(given.id);
      if (item.group && item.label !== given.label) this.rename(item, given.label); // measured meanwhile
      if (held) return item;
      // What is offered is numbered anew when one is taken: another stands under its number then.
      if (item === old && !samePlace(old.drawn, given.points)) item.taken = false;
      item.offer = given.offer;
      item.points = given.points.map((p) => [...p]);
      item.drawn = given.points;
      for (const { kind, id, moved, points } of since) {
        if (!(kind === "mark" || kind === "keep") || id !== item.id) continue;
        if (points.length === item.points.length) for (const i of moved) item.points[i] = [...points[i]];
      }
      return item;
    });
    for (const gone of before.values()) gone.group.remove();
    let next = this.layer.firstChild;
    for (const item of this.items) {
      if (!item.group) this.build(item);
      if (item.group === next) next = next.nextSibling;
      else this.layer.insertBefore(item.group, next);
    }
    this.draw();
  }

  build(item) {
    const group = item.group = svgNode("g", { class: `shape ${item.kind}` }, this.layer);
    item.casing = svgNode("path", { class: "casing" }, group);
    item.reach = item.offer ? svgNode("path", { class: "reach tap" }, group) : null;
    item.path = svgNode("path", { class: "outline" }, group);
    item.title = svgNode("text", { class: "title", "aria-hidden": "true" }, group);
    item.handles = !item.editable ? [] : item.points.map((_, index) => {
      const handle = svgNode("g", {
        class: "handle grab", tabindex: "0", role: "button", "data-handle": `${item.id}/${index}`,
      }, group);
      svgNode("circle", { class: "reach" }, handle);
      svgNode("circle", { class: "ring" }, handle);
      svgNode("circle", { class: "dot" }, handle);
      handle.addEventListener("pointerdown", (event) => {
        const nearest = this.nearest(event, item); // reaches of a small outline overlap
        this.onDown(event, item, nearest, item.handles[nearest]);
      });
      handle.addEventListener("keydown", (event) => this.onKey(event, item, index));
      handle.addEventListener("blur", () => {
        this.tellNow();
        this.showLoupe(null);
      });
      return handle;
    });
    if (item.offer) {
      item.path.classList.add("offered", "tap");
      for (const [name, value] of Object.entries({ tabindex: "0", role: "button" })) {
        item.path.setAttribute(name, value);
      }
      for (const part of [item.path, item.reach]) part.addEventListener("click", () => this.take(item));
      item.path.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        this.take(item);
      });
    }
    if (item.editable && item.closed) {
      item.path.classList.add("grab");
      item.path.addEventListener("pointerdown", (event) => this.onDown(event, item, null, item.path));
    }
    this.rename(item, item.label);
  }

  // Its nodes stay, and with them the focus and what the hand holds.
  rename(item, label) {
    item.label = item.title.textContent = label;
    item.handles.forEach((handle, index) => {
      const point = item.names?.[index] ?? `point ${index + 1}`;
      handle.setAttribute("aria-label", `${point} of ${label}. Arrow keys move it.`);
    });
    if (item.offer) item.path.setAttribute("aria-label", `Take it as found: ${label}`);
  }

  // Where the program put the mark that was let go last: said once, drawn whenever the view moves.
  showSnapped(snapped) {
    this.snapped = snapped;
    const { item, on } = this.drawSnapped();
    if (!on.length) return;
    const far = Math.max(...on.map((i) => distance(snapped.hand[i], snapped.points[i])));
    const name = on.length === 1 && item.names ? `${item.names[on[0]]} of ${item.label}` : item.label;
    this.view.say(`${name}: put on the edge, ${far.toFixed(1)} px from where you let go.`);
  }

  // What was found in the photo is as it was found: from now on it is the person's.
  take(item) {
    if (item.taken) return;
    item.taken = true;
    this.view.outbox.push({ kind: "found", points: item.points, ...item.offer });
    this.view.say(`${item.label}: taken.`);
  }

  // The edge's place and the hand's; the mark, and which of its points were moved.
  drawSnapped() {
    const { snapped } = this;
    const item = snapped && this.items.find((other) => other.id === snapped.id);
    const on = item ? snapped.points.flatMap((p, i) => (distance(snapped.hand[i], p) > 0 ? [i] : [])) : [];
    this.snaps.replaceChildren();
    for (const other of this.items) {
      other.handles.forEach((handle, i) => handle.classList.toggle("on-edge", other === item && on.includes(i)));
    }
    this.view.root.querySelector(".keep-place").hidden = !on.length;
    const { scale } = this.view;
    for (const i of on) {
      const [a, b] = [snapped.hand[i], snapped.points[i]];
      svgNode("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1] }, this.snaps);
      svgNode("circle", { class: "hand", cx: a[0], cy: a[1], r: 3 / scale }, this.snaps);
    }
    return { item, on };
  }

  draw() {
    const { scale } = this.view;
    for (const item of this.items) {
      const d = this.path(item);
      item.path.setAttribute("d", d);
      item.casing.setAttribute("d", d);
      item.reach?.setAttribute("d", d); // a switch in a phone's picture is smaller than a finger
      // Rings of a small outline are drawn small, or they would hide it.
      const room = item.points.map((p, i) => {
        const q = item.points[(i + 1) % item.points.length];
        return item.points.length > 1 ? distance(p, q) * scale : 100;
      });
      const ringSize = Math.min(8, Math.max(3.5, 0.3 * Math.min(...room)));
      item.handles.forEach((handle, index) => {
        const [x, y] = item.points[index];
        handle.setAttribute("transform", `translate(${x} ${y})`);
        const [reach, ring, dot] = handle.children;
        reach.setAttribute("r", 20 / scale);
        ring.setAttribute("r", ringSize / scale);
        dot.setAttribute("r", 1.6 / scale);
      });
    }
    this.drawTitles();
  }

  // Each beside its shape's highest point, clear of the others. A hook's stands on the side that its
  // piece is on, and is left out where there is no room, as its name stands in the list as well.
  drawTitles() {
    const { scale } = this.view;
    const widthOf = (text) => this.view.textWidth(text, TITLE_PX) + 4;
    const hooks = this.items.filter(({ kind }) => kind.startsWith("hook"));
    const r = this.hookRadius;
    const crosses = hooks.map(({ points: [[x, y]] }) => ({ x: x * scale - r, y: y * scale - r, w: 2 * r, h: 2 * r }));
    const datums = this.items.filter(({ kind }) => kind === "datum").map(({ points }) => {
      const [xs, ys] = [0, 1].map((axis) => points.map((p) => p[axis] * scale));
      const [x, y] = [Math.min(...xs) - 2, Math.min(...ys)];
      return { x, y, w: Math.max(...xs) + 2 - x, h: Math.max(...ys) - y };
    });
    const names = hookNames(
      hooks.map(({ points: [[x, y]], label, kind }) => ({ label, x: x * scale, y: y * scale, next: kind === "hook next" })),
      widthOf
    );
    const nameOf = new Map(hooks.map((item, i) => [item, names[i]]));
    for (const { title } of this.items) title.style.display = "none";
    const named = this.items.filter((item) => item.label && nameOf.get(item) !== null);
    const wanted = named.map((item) => {
      const name = nameOf.get(item);
      const [x, y] = name ? [name.x, name.y] : item.points.reduce((a, b) => (b[1] < a[1] ? b : a)).map((v) => v * scale);
      const w = widthOf(name?.text ?? item.label), above = y - TITLE_HIGH_PX - 6, below = y + 8;
      const right = [[x + 6, above], [x + 6, below]], left = [[x - w - 6, above], [x - w - 6, below]];
      // A hook's name on its other side would lie on another piece: rather further down, or left out.
      const lower = below + TITLE_HIGH_PX + 4;
      const sides = {
        right: [...right, [x + 6, lower]], left: [...left, [x - w - 6, lower]], middle: [[x - w / 2, below], [x - w / 2, above]],
      };
      const places = name ? sides[name.side] : [right[0], left[0], right[1], left[1]];
      return { w, h: TITLE_HIGH_PX, places, optional: Boolean(name) };
    });
    const within = this.view.stage.size.map((v) => v * scale);
    const boxes = placeLabels(wanted, [...crosses, ...datums], within);
    this.titled = [...crosses, ...boxes.filter(Boolean)];
    named.forEach((item, i) => {
      const box = boxes[i], { title } = item;
      if (!box) return;
      title.textContent = nameOf.get(item)?.text ?? item.label;
      title.style.display = "";
      title.setAttribute("x", box.x / scale);
      title.setAttribute("y", (box.y + 12) / scale);
      title.setAttribute("font-size", TITLE_PX / scale);
    });
  }

  // A hook is a cross of the same size whatever the zoom; all else is its points.
  path({ kind, points, closed }) {
    if (!kind.startsWith("hook")) return `M${points.map((p) => p.join(" ")).join("L")}${closed ? "Z" : ""}`;
    const [[x, y]] = points, r = this.hookRadius / this.view.scale;
    return `M${x - r} ${y}H${x + r}M${x} ${y - r}V${y + r}`;
  }

  get hookRadius() {
    return this.view.stage.frame.clientWidth < NARROW_PX ? SMALL_HOOK_PX : HOOK_PX;
  }

  nearest(event, item) {
    const [x, y] = this.view.stage.toPhoto(event.clientX, event.clientY);
    const away = item.points.map((p) => distance(p, [x, y]));
    return away.indexOf(Math.min(...away));
  }

  onDown(event, item, index, node) {
    if (event.button !== 0) return;
    const { stage } = this.view;
    this.tellNow();
    const start = item.points.map((p) => [...p]);
    const grip = stage.toPhoto(event.clientX, event.clientY);
    let moved = false;
    this.busy = item;
    follow(event, node, {
      move: (e) => {
        const now = stage.toPhoto(e.clientX, e.clientY);
        const shift = [now[0] - grip[0], now[1] - grip[1]];
        start.forEach((p, i) => {
          if (index === null || i === index) item.points[i] = this.inside(p[0] + shift[0], p[1] + shift[1]);
        });
        moved = true;
        this.free = e.altKey; // as with pieces: let go where the hand is
        this.draw();
        if (index !== null) this.showLoupe(item.points[index]);
      },
      done: () => {
        this.busy = null;
        this.showLoupe(null);
        const points = item.points.flatMap((_, i) => (index === null || i === index ? [i] : []));
        if (moved) this.tell(item, points, Boolean(this.free));
        this.view.settle();
      },
      cancelled: () => {
        this.busy = null;
        item.points = start;
        this.showLoupe(null);
        this.view.settle();
        this.draw();
      },
    });
  }

  onKey(event, item, index) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!way || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    if (this.nudged && this.nudged.item !== item) this.tellNow();
    const step = event.shiftKey ? 10 : 1;
    const [x, y] = item.points[index];
    item.points[index] = this.inside(x + way[0] * step, y + way[1] * step);
    this.draw();
    this.showLoupe(item.points[index]);
    clearTimeout(this.nudged?.timer);
    const moved = new Set(this.nudged?.moved).add(index);
    this.nudged = { item, moved, timer: setTimeout(() => this.tellNow(), 350) };
  }

  tellNow() {
    if (!this.nudged) return;
    const { item, moved, timer } = this.nudged;
    clearTimeout(timer);
    this.nudged = null;
    this.tell(item, [...moved], true); // a key places more finely than an edge would
  }

  inside(x, y) {
    const [w, h] = this.view.stage.size;
    return [Math.min(Math.max(x, -0.5), w - 0.5), Math.min(Math.max(y, -0.5), h - 0.5)];
  }

  // Which of its points were put where; the others go along only to show what lies beside them.
  tell(item, moved, free) {
    const points = item.points.map((p) => [...p]);
    this.view.outbox.push({ kind: "mark", id: item.id, points, moved, free, drawn: item.drawn });
  }

  // Take back what the edge did to the mark that was let go last.
  keepPlace() {
    const { id, hand, moved } = this.snapped ?? {};
    if (id) this.view.outbox.push({ kind: "keep", id, points: hand, moved });
  }

  // A round glass over the point, four times as large, in the corner away from it.
  showLoupe(point) {
    const { stage, data } = this.view;
    this.loupe.hidden = !point || !stage.base.naturalWidth;
    if (this.loupe.hidden) return;
    const context = this.loupe.getContext("2d");
    const side = this.loupe.width, ratio = stage.base.naturalWidth / data.width;
    const seen = side / (4 * this.view.scale * devicePixelRatio) * ratio;
    context.fillStyle = "#222";
    context.fillRect(0, 0, side, side);
    context.drawImage(
      stage.base, (point[0] + 0.5) * ratio - seen / 2, (point[1] + 0.5) * ratio - seen / 2,
      seen, seen, 0, 0, side, side
    );
    context.strokeStyle = "#fff";
    context.lineWidth = 3;
    const cross = () => {
      context.beginPath();
      context.moveTo(side / 2 - 26, side / 2); context.lineTo(side / 2 + 26, side / 2);
      context.moveTo(side / 2, side / 2 - 26); context.lineTo(side / 2, side / 2 + 26);
      context.stroke();
    };
    cross();
    context.strokeStyle = "#b3261e";
    context.lineWidth = 1;
    cross();
    const right = point[0] < stage.size[0] / 2;
    this.loupe.style.left = right ? "auto" : "8px";
    this.loupe.style.right = right ? "8px" : "auto";
  }
}
