// Which pieces are chosen: one by a tap or the keyboard, several with Shift or by a box drawn round
// them. What is done to the chosen is the piece bar's.

export class Choosing {
  constructor(view) {
    this.view = view;
    this.ids = new Set();
    this.box = null; // where the box that is being drawn began, screen px
    this.frame = view.stage.frame;
    this.rubber = view.root.querySelector(".rubber");
    this.frame.addEventListener("pointerdown", (event) => this.onDown(event));
    this.frame.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.ids.size) this.set([]);
    });
  }

  has(id) {
    return this.ids.has(id);
  }

  // The chosen pieces that may be moved.
  get free() {
    return [...this.ids].filter((id) => !this.view.pieces.kept(id));
  }

  set(ids) {
    const wanted = new Set(ids);
    if (wanted.size === this.ids.size && [...wanted].every((id) => this.ids.has(id))) return;
    this.ids = wanted;
    this.shown();
  }

  toggle(id) {
    const others = [...this.ids].filter((other) => other !== id);
    this.set(this.ids.has(id) ? others : [...others, id]);
  }

  // Another state: what hangs no more is chosen no more.
  keepOnly(ids) {
    this.set([...this.ids].filter((id) => ids.has(id)));
  }

  shown() {
    for (const [id, { group }] of this.view.pieces.nodes) {
      group.classList.toggle("chosen", this.ids.has(id));
      group.setAttribute("aria-pressed", String(this.ids.has(id)));
    }
    this.view.bar.draw();
  }

  // On the bare wall a mouse or a pen draws a box; a finger scrolls the page, and a tap lets go.
  onDown(event) {
    if (event.button !== 0 || event.target.closest(".grab, .tap, .below, .piece-bar")) return;
    if (!this.view.pieces.items.length || this.view.data?.still) return;
    if (event.pointerType === "touch" || this.view.stage.zoom > 1.001) {
      this.set([]);
      return;
    }
    const from = [event.clientX, event.clientY];
    const before = event.shiftKey ? [...this.ids] : [];
    const move = (e) => {
      this.box = [from, [e.clientX, e.clientY]];
      this.drawBox();
      this.set([...new Set([...before, ...this.inBox()])]);
    };
    const up = () => {
      removeEventListener("pointermove", move);
      removeEventListener("pointerup", up);
      removeEventListener("pointercancel", up);
      if (!this.box) this.set(before);
      this.box = null;
      this.drawBox();
      this.view.bar.draw();
    };
    addEventListener("pointermove", move);
    addEventListener("pointerup", up);
    addEventListener("pointercancel", up);
  }

  drawBox() {
    this.rubber.hidden = !this.box;
    if (!this.box) return;
    const at = this.frame.parentElement.getBoundingClientRect();
    const [[x0, y0], [x1, y1]] = this.box;
    Object.assign(this.rubber.style, {
      left: `${Math.min(x0, x1) - at.left}px`, top: `${Math.min(y0, y1) - at.top}px`,
      width: `${Math.abs(x1 - x0)}px`, height: `${Math.abs(y1 - y0)}px`,
    });
  }

  inBox() {
    const [[x0, y0], [x1, y1]] = this.box;
    const [left, right] = [Math.min(x0, x1), Math.max(x0, x1)];
    const [top, bottom] = [Math.min(y0, y1), Math.max(y0, y1)];
    return [...this.view.pieces.nodes].filter(([, { outline }]) => {
      const b = outline.getBoundingClientRect();
      return b.left < right && b.right > left && b.top < bottom && b.bottom > top;
    }).map(([id]) => id);
  }
}
