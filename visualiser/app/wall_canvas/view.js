// The wall view: the photo with everything that is marked, measured and hung on it. It shows the
// state that the page has sent, with the commands that are not in it yet carried out on it; what is
// under the pointer or the keyboard belongs to the hand until it lets go.

import { pageOutbox } from "../command_bar/outbox.js";
import { keepFocus } from "./focus.js";
import { Choosing } from "./choosing.js";
import { freestCorner, placeLabels, textWidth } from "./labels.js";
import { Mapping } from "./mapping.js";
import { showPicture } from "./pictures.js";
import { PieceBar } from "./piece_bar.js";
import { Pieces } from "./pieces.js";
import { Proposals } from "./proposals.js";
import { Shapes } from "./shapes.js";
import { Stage, svgNode } from "./stage.js";
import { Waiting } from "./waiting.js";

const views = new WeakMap();
const CLOCK_SET_BACK_US = 60e6;
const SAID_MS = 9000;
const EDGE_PX = 8;

class WallView {
  constructor(root) {
    this.root = root;
    this.said = root.querySelector(".said");
    this.slider = root.querySelector(".compare input");
    this.outbox = pageOutbox();
    keepFocus();
    this.since = [];
    this.font = "";
    this.waiting = new Waiting(root);
    this.stage = new Stage(root, (scale) => { this.scale = scale; this.redraw(); });
    this.shapes = new Shapes(this);
    this.contours = svgNode("g", { class: "contours", "aria-hidden": "true" });
    this.stage.svg.prepend(this.contours);
    this.pieces = new Pieces(this);
    this.choosing = new Choosing(this);
    this.bar = new PieceBar(this);
    this.proposals = new Proposals(this);
    this.trial = null; // pieces of the proposal that is rested on, shown in place of the job's own
    this.stage.under = () => this.proposals.strip.hidden ? 0 : this.proposals.strip.offsetHeight + 6;
    this.inside = false;
    this.slider.addEventListener("input", () => this.split());
    root.querySelector(".keep-place").onclick = () => this.shapes.keepPlace();
    this.stage.mock.addEventListener("load", () => this.showLive(false));
    this.flush = () => { this.pieces.tellNow(); this.shapes.tellNow(); };
    this.outbox.flushers.add(this.flush);
    this.onChange = () => this.stage.frame.isConnected ? this.settle() : this.leave();
    this.outbox.listeners.add(this.onChange);
  }

  update(data, setStateValue) {
    const late = (this.data?.made_us ?? 0) - data.made_us;
    if (late > 0 && late < CLOCK_SET_BACK_US) return; // overtaken by a message made after it
    const older = data.job === this.data?.job && data.revision < this.data.revision;
    if (older && -late < CLOCK_SET_BACK_US) return; // made after it, of a state from before it
    if (this.data && data.step !== this.data.step) this.leaveStep();
    this.data = data;
    this.outbox.job = data.job;
    this.setStateValue = setStateValue;
    this.map = data.mapping ? new Mapping(data.mapping) : null;
    this.stage.frame.setAttribute("aria-label", data.title);
    showPicture(this.stage.base, data.base, this);
    this.stage.show(data.width, data.height);
    this.root.querySelector(".wall-view").classList.toggle("still", Boolean(data.still));
    this.proposals.replace(this.map ? data.proposals ?? [] : []);
    this.settle();
    if (!this.shapes.busy) this.shapes.showSnapped(data.snapped);
    this.drawContours();
    if (data.mock) showPicture(this.stage.mock, data.mock, this);
    this.root.querySelector(".compare").hidden = !(data.compare && data.mock);
    if (data.awaited) this.waiting.begin("page", data.awaited);
    else this.waiting.end("page");
    this.showLive(false);
    this.split();
  }

  // Show the state with all that was done since.
  settle() {
    if (!this.data) return;
    this.since = this.outbox.missingFrom(this.data.answered ?? {});
    if (this.trial) this.pieces.replace(this.trial, []);
    else this.pieces.replace(this.map ? this.data.pieces ?? [] : [], this.since);
    this.bar.draw();
    this.shapes.replace(this.data.shapes ?? [], this.since);
    this.showLive(false);
  }

  // Another view has taken this one's place.
  leave() {
    this.outbox.listeners.delete(this.onChange);
    this.outbox.flushers.delete(this.flush);
  }

  redraw() {
    if (!this.data) return;
    this.shapes.draw();
    this.shapes.drawSnapped();
    if (this.map) this.pieces.draw();
    this.proposals.draw();
    this.bar.draw();
    this.pieces.clearHints();
    this.drawContours();
    this.keepOffHandles();
  }

  // The buttons lie in the wall's lower right corner, or in the next that covers fewer handles of marks.
  keepOffHandles() {
    if (this.shapes.busy) return;
    const { frame, svg } = this.stage, box = frame.getBoundingClientRect();
    const handles = [...svg.querySelectorAll(".handle .dot")].map((dot) => {
      const at = dot.getBoundingClientRect();
      return [(at.left + at.right) / 2 - box.left, (at.top + at.bottom) / 2 - box.top];
    });
    const bar = this.root.querySelector(".zooms").getBoundingClientRect();
    const { left, top } = freestCorner(bar, box, handles, EDGE_PX), { classList } = this.root.querySelector(".below");
    classList.toggle("to-left", left);
    classList.toggle("to-top", top);
  }

  // While pieces move, their faces are laid over the bare wall; the finished picture returns once
  // it shows the places that were last sent.
  showLive(moving) {
    const { data, stage } = this;
    const ready = data?.mock && stage.mock.dataset.address === data.mock &&
      stage.mock.complete && stage.mock.naturalWidth;
    const { busy, nudged } = this.pieces;
    const current = ready && !this.since.length && !busy && !nudged && !moving && !this.trial;
    stage.mock.hidden = !current;
    stage.live.hidden = Boolean(current) || !this.map;
    stage.frame.dataset.showing = current ? "finished" : "live";
  }

  split() {
    const on = this.data?.compare && this.data?.mock;
    const share = on ? Number(this.slider.value) : 0;
    this.stage.mock.style.clipPath = on ? `inset(0 0 0 ${share}%)` : "none";
    const line = this.root.querySelector(".divide");
    line.hidden = !on || share === 0;
    line.style.left = `${share}%`;
  }

  drawContours() {
    this.contours.replaceChildren();
    for (const contour of this.data.contours ?? []) {
      const d = `M${contour.points.map((p) => p.join(" ")).join("L")}`;
      svgNode("path", { d, class: "casing" }, this.contours);
      svgNode("path", { d, class: `contour ${contour.kind ?? ""}` }, this.contours);
    }
    const said = (this.data.contours ?? []).filter(({ text }) => text).map(({ text, at, points, kind }) => {
      const middle = at ?? points[Math.floor(points.length / 2)];
      return { text, at: middle, places: kind === "of-hook" ? this.alongMeasure(points, middle) : undefined };
    });
    const pictures = said.length && this.map ? this.pieces.boxes() : [];
    this.drawPills(said, this.contours, [...this.shapes.titled, ...pictures]);
  }

  // Where a measure's words may stand: at its usual place, and else further along it or just beside it,
  // so that they lie on the wall and not on a picture.
  alongMeasure([from, to], at) {
    const { scale } = this;
    const along = [0.45, 0.55, 0.65, 0.75, 0.85, 0.2].map((t) =>
      [0, 1].map((i) => (from[i] + t * (to[i] - from[i]) - at[i]) * scale)
    );
    const beside = [-22, 22, -44, 44, -66].flatMap((down) => [0, -36, 36].map((across) => [across, down]));
    return [[0, 0], ...along, ...beside];
  }

  // Words on dark grounds, each at its place or just above or below it, clear of the others and of
  // what is taken: boxes on the screen, in the photo's scale.
  drawPills(said, parent, taken = []) {
    const { scale } = this, size = 12.5, h = 20, step = h + 2;
    const wanted = said.map(({ text, at, places }) => {
      const [x, y] = at.map((v) => v * scale), w = this.textWidth(text, size) + 16;
      const shifts = places ?? [[0, 0], [0, step], [0, -step], [0, 2 * step], [0, -2 * step]];
      return { w, h, places: shifts.map(([dx, dy]) => [x + dx - w / 2, y + dy - h / 2]) };
    });
    const boxes = placeLabels(wanted, taken, this.stage.size.map((v) => v * scale));
    boxes.forEach((box, i) => {
      const [x, y, w] = [box.x, box.y, box.w].map((v) => v / scale);
      svgNode("rect", { x, y, width: w, height: h / scale, rx: h / 2 / scale, class: "pill" }, parent);
      const node = svgNode("text", {
        x: x + w / 2, y: y + (h / 2 + size * 0.36) / scale, "font-size": size / scale, class: "measure",
      }, parent);
      node.textContent = said[i].text;
    });
    return boxes;
  }

  textWidth(text, size) {
    this.font ||= getComputedStyle(this.root.querySelector(".wall-view")).fontFamily;
    return textWidth(text, size, this.font);
  }

  // Ask for the pictures anew, from then on inside the page's messages where asked for.
  lost(inside) {
    this.inside ||= inside;
    this.setStateValue("lost", { at: Date.now(), inside: this.inside });
  }

  // Another step: what was chosen and said belongs to the one before.
  leaveStep() {
    this.choosing.set([]);
    this.pieces.clearHints();
    this.say("");
  }

  // Spoken by screen readers, and laid out with the page: a few times a second is enough. It goes
  // by itself: a note of what was done long ago would only lie over the wall.
  say(text) {
    this.saying = text;
    clearTimeout(this.saidLong);
    this.saidLong = setTimeout(() => { this.said.textContent = ""; }, SAID_MS);
    this.sayingSoon ||= setTimeout(() => {
      this.sayingSoon = null;
      this.said.textContent = this.saying;
    }, 150);
  }
}

export default function (component) {
  const { parentElement, data, setStateValue } = component;
  let view = views.get(parentElement);
  // Called again for every message; only new markup needs a new view. What is dropped with the
  // page goes by itself, as the map and the observer hold nothing alive.
  if (!view?.stage.frame.isConnected) {
    view = new WallView(parentElement);
    views.set(parentElement, view);
  }
  view.update(data, setStateValue);
}
