// The photo in its frame: fitted, zoomed and panned; pointers in photo pixels.

const SVG = "http://www.w3.org/2000/svg";

export function svgNode(name, attributes = {}, parent = null) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  parent?.appendChild(node);
  return node;
}

const motion = () => matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth";

const pageScroller = () => document.querySelector('[data-testid="stMain"]');

/**
 * Whether a touch moves something here and not the page. What is only tapped is left to the browser,
 * which makes a click of it: that is gone once the touch is taken from it.
 * @param {number} fingers
 * @param {number} zoom
 * @param {{ closest(selector: string): unknown }} on
 */
export function isTheWalls(fingers, zoom, on) {
  if (fingers > 1) return true;
  return !on.closest(".tap") && (zoom > 1 || Boolean(on.closest(".grab")));
}

const PINNED_SHARE = 0.2, PINNED_WITH_MORE = 0.14; // of the page's height; the second over a strip of proposals
// Below this the page is low, as at twice its size: what the step asks begins in sight all the same.
const LOW_PAGE_PX = 520;
const SMALL_FROM_PX = 24;

/**
 * How high a wall is drawn of which the page has scrolled past a part: what is left of it in sight, but
 * no less than the least that stays.
 * @param {number} height
 * @param {number} past
 * @param {number} least
 */
export function heightInSight(height, past, least) {
  return Math.max(height - Math.max(past, 0), Math.min(least, height));
}

export class Stage {
  constructor(root, onScale) {
    this.frame = root.querySelector(".stage");
    this.world = root.querySelector(".world");
    this.svg = root.querySelector("svg.overlay");
    this.live = root.querySelector(".live");
    this.base = root.querySelector("img.base");
    this.mock = root.querySelector("img.mock");
    this.onScale = onScale;
    /** @type {(() => number) | null} */
    this.under = null; // how much of the page's height is wanted below the wall
    this.size = [1, 1];
    this.height = this.whole = this.least = 0; // of the frame: now, in full, and at the least
    this.scrolling = 0;
    this.zoom = 1;
    this.pan = [0, 0];
    this.fingers = new Map();
    this.observer = new ResizeObserver(() => this.layout());
    this.observer.observe(this.frame.parentElement);
    this.frame.addEventListener("wheel", (event) => this.onWheel(event), { passive: false });
    this.frame.addEventListener("pointerdown", (event) => this.onDown(event));
    this.frame.addEventListener("pointermove", (event) => this.onMove(event));
    for (const name of ["pointerup", "pointercancel"]) {
      this.frame.addEventListener(name, (event) => this.fingers.delete(event.pointerId));
    }
    // Chromium ignores touch-action on parts of an SVG; only this keeps the page from scrolling.
    this.frame.addEventListener(
      "touchstart",
      (event) => {
        if (isTheWalls(event.touches.length, this.zoom, event.target)) event.preventDefault();
      },
      { passive: false }
    );
    this.onResize = () => this.frame.isConnected ? this.layout() : removeEventListener("resize", this.onResize);
    addEventListener("resize", this.onResize);
    this.onScroll = () => { this.scrolling ||= requestAnimationFrame(() => this.scrolled()); };
    document.addEventListener("scroll", this.onScroll, { capture: true, passive: true });
    const bar = document.querySelector(".st-key-top-bar"); // what lies above moves the wall as it wraps
    if (bar) this.observer.observe(bar);
    this.grow = root.querySelector(".grow");
    this.grow.onclick = () => pageScroller()?.scrollTo({ top: 0, behavior: motion() });
    root.querySelector(".wall-view").addEventListener("keydown", (event) => this.onKey(event));
    root.querySelector(".zoom-in").onclick = () => this.zoomBy(1.5);
    root.querySelector(".zoom-out").onclick = () => this.zoomBy(1 / 1.5);
    root.querySelector(".zoom-fit").onclick = () => this.fit();
  }

  show(width, height) {
    if (this.size[0] === width && this.size[1] === height) return;
    this.size = [width, height];
    this.svg.setAttribute("viewBox", `-0.5 -0.5 ${width} ${height}`);
    this.fit();
  }

  fit() {
    this.zoom = 1;
    this.pan = [0, 0];
    this.layout();
  }

  // Beside the panel the wall has the whole height below it; above the panel no more than it needs,
  // and there it shrinks as the page is scrolled, to what stays in sight over the panel.
  layout() {
    const [w, h] = this.size;
    const room = this.frame.parentElement;
    const width = room.clientWidth;
    if (!width) return;
    const beside = matchMedia("(min-width: 900px) and (min-height: 520px)").matches;
    const column = this.column();
    const above = column ? room.getBoundingClientRect().top - column.getBoundingClientRect().top : 0;
    const page = document.documentElement.style;
    if (beside) {
      const scrolled = pageScroller()?.scrollTop ?? 0;
      const top = room.getBoundingClientRect().top + scrolled;
      page.setProperty("--wall-top", `${top - above}px`);
      this.setHeight(Math.max(innerHeight - top - (this.under?.() ?? 0) - 8, 260));
    } else {
      const most = innerHeight < LOW_PAGE_PX ? innerHeight * 0.42 : Math.max(innerHeight * 0.58, 220);
      const height = Math.min(width * h / w, Math.max(most, 160));
      const least = Math.min(height, innerHeight * (this.under?.() ? PINNED_WITH_MORE : PINNED_SHARE));
      page.setProperty("--wall-past", `${above + height - least}px`);
      this.setHeight(height, this.staysInSight() ? least : height);
    }
    this.place();
  }

  // The page's own column that the view stands in, which stays while the page is scrolled.
  column() {
    const root = this.frame.getRootNode();
    return root.host?.closest('[data-testid="stColumn"]');
  }

  staysInSight() {
    const column = this.column();
    return Boolean(column) && getComputedStyle(column).position === "sticky";
  }

  // The room keeps its height, so that what is below it stays where it is.
  setHeight(height, least = height) {
    const room = this.frame.parentElement;
    const past = (pageScroller()?.getBoundingClientRect().top ?? 0) - room.getBoundingClientRect().top;
    this.height = heightInSight(height, least < height ? past : 0, least);
    this.whole = height;
    this.least = least;
    room.style.paddingTop = `${height - this.height}px`;
    this.frame.style.height = `${this.height}px`;
    const small = height - this.height > SMALL_FROM_PX;
    room.classList.toggle("small", small);
    this.grow.hidden = !small;
  }

  scrolled() {
    this.scrolling = 0;
    if (!this.frame.isConnected) {
      document.removeEventListener("scroll", this.onScroll, { capture: true });
      return;
    }
    if (!(this.least < this.whole)) return;
    const before = this.height;
    this.setHeight(this.whole, this.least);
    if (this.height !== before) this.place();
  }

  // Fit, zoom and shift the photo in its frame.
  place() {
    const [w, h] = this.size;
    const width = this.frame.parentElement.clientWidth, { height } = this;
    const fitted = Math.min(width / w, height / h);
    this.scale = fitted * this.zoom;
    this.pan = [[width, w], [height, h]].map(([there, size], i) => {
      const slack = there - size * this.scale;
      return slack >= 0 ? slack / 2 : Math.min(0, Math.max(slack, this.pan[i]));
    });
    this.world.style.width = `${w * this.scale}px`;
    this.world.style.height = `${h * this.scale}px`;
    this.world.style.transform = `translate(${this.pan[0]}px, ${this.pan[1]}px)`;
    this.live.style.transform = `scale(${this.scale}) translate(0.5px, 0.5px)`;
    this.frame.classList.toggle("zoomed", this.zoom > 1.001);
    this.onScale(this.scale);
  }

  zoomBy(factor, clientX = null, clientY = null) {
    const box = this.frame.getBoundingClientRect();
    const x = clientX === null ? box.width / 2 : clientX - box.left;
    const y = clientY === null ? box.height / 2 : clientY - box.top;
    const before = this.zoom;
    this.zoom = Math.min(12, Math.max(1, this.zoom * factor));
    const grown = this.zoom / before;
    this.pan = [x - (x - this.pan[0]) * grown, y - (y - this.pan[1]) * grown];
    this.layout();
  }

  toPhoto(clientX, clientY) {
    const box = this.world.getBoundingClientRect();
    return [(clientX - box.left) / this.scale - 0.5, (clientY - box.top) / this.scale - 0.5];
  }

  // Where the page itself has nothing to scroll, the wheel is the wall's.
  onWheel(event) {
    const page = pageScroller();
    const scrolls = page && page.scrollHeight > page.clientHeight + 1;
    if (scrolls && !event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    if (event.shiftKey && !event.ctrlKey) this.panBy(-(event.deltaX || event.deltaY), 0);
    else this.zoomBy(Math.exp(-event.deltaY / 300), event.clientX, event.clientY);
  }

  panBy(dx, dy) {
    this.pan = [this.pan[0] + dx, this.pan[1] + dy];
    this.layout();
  }

  // Plus, minus and nought, wherever in the view the keyboard is; arrows where they move nothing else.
  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches?.("input")) return;
    const step = 60;
    const pan = {
      ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step],
    }[event.key];
    if (event.key === "+" || event.key === "=") this.zoomBy(1.25);
    else if (event.key === "-") this.zoomBy(1 / 1.25);
    else if (event.key === "0") this.fit();
    else if (pan && event.target.closest?.(".zooms")) this.panBy(...pan);
    else return;
    event.preventDefault();
  }

  onDown(event) {
    if (event.target.closest(".grab, .tap")) return;
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.zoom > 1 || this.fingers.size > 1) this.frame.setPointerCapture(event.pointerId);
  }

  onMove(event) {
    const last = this.fingers.get(event.pointerId);
    if (!last) return;
    const now = [event.clientX, event.clientY];
    const others = [...this.fingers].filter(([id]) => id !== event.pointerId);
    if (others.length) {
      const other = others[0][1];
      const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
      const middle = [(now[0] + other[0]) / 2, (now[1] + other[1]) / 2];
      this.zoomBy(apart(now) / apart(last), ...middle);
    } else if (this.zoom > 1) {
      this.pan = [this.pan[0] + now[0] - last[0], this.pan[1] + now[1] - last[1]];
      this.layout();
    }
    this.fingers.set(event.pointerId, now);
  }
}

// Follow one pointer from down to up, at most once a frame. Escape takes everything back. Others
// that touch the same thing, such as the palm beside a pen, are not listened to.
export function follow(event, node, { move, done, cancelled }) {
  event.preventDefault();
  event.stopPropagation();
  node.focus({ preventScroll: true });
  node.setPointerCapture(event.pointerId);
  let pending = null, frame = 0;
  const flush = () => { frame = 0; if (pending) move(pending); pending = null; };
  const stranger = (e) => e.pointerId !== undefined && e.pointerId !== event.pointerId;
  const onMove = (e) => {
    if (stranger(e)) return;
    pending = e;
    frame ||= requestAnimationFrame(flush);
  };
  const end = (finish) => (e) => {
    if (stranger(e) || (e.type === "keydown" && e.key !== "Escape")) return;
    cancelAnimationFrame(frame);
    if (finish === done && pending) move(pending);
    node.removeEventListener("pointermove", onMove);
    node.removeEventListener("pointerup", up);
    node.removeEventListener("pointercancel", off);
    node.removeEventListener("keydown", off);
    finish();
  };
  const up = end(done), off = end(cancelled);
  node.addEventListener("pointermove", onMove);
  node.addEventListener("pointerup", up);
  node.addEventListener("pointercancel", off);
  node.addEventListener("keydown", off);
}
