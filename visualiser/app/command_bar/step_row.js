// The row of steps where it is longer than the page is wide: the present step is brought into sight,
// and the row fades out on the sides where there is more of it.

const ROW = '.st-key-top-steps [data-testid="stButtonGroup"] > div';
const SCROLLED = '[data-testid="stMain"], [data-testid="stColumn"]:has(.st-key-panel-side)';

/**
 * The sides on which a scrolled row goes on out of sight.
 * @param {number} before how far it is scrolled, px
 * @param {number} shown
 * @param {number} whole
 */
export function sidesWithMore(before, shown, whole) {
  const sides = [];
  if (before > 1) sides.push("left");
  if (whole - shown - before > 1) sides.push("right"); // a scale of the screen leaves fractions
  return sides.join(" ");
}

export class StepRow {
  constructor() {
    this.mark = () => this.markSides();
    this.look = () => this.follow();
    // The row is drawn after the bar, its ticks after the row, and the page's letters may come last.
    this.observer = new ResizeObserver(this.look);
    this.watcher = new MutationObserver(this.look);
    const bar = document.querySelector(".st-key-top-bar");
    if (bar) this.watcher.observe(bar, { childList: true, subtree: true, attributeFilter: ["aria-checked"] });
    document.addEventListener("scroll", this.mark, { capture: true, passive: true });
    addEventListener("resize", this.mark);
    this.follow();
  }

  // Where the present step or a width has changed, bring that step into sight; another step begins at
  // the head of its panel.
  follow() {
    const row = document.querySelector(ROW);
    if (!row) return;
    if (row !== this.row) {
      this.row = row;
      this.observer.disconnect();
      for (const step of [row, ...row.children]) this.observer.observe(step);
    }
    const present = row.querySelector("[aria-checked=true]");
    const step = present?.textContent, state = `${step} ${row.clientWidth} ${row.scrollWidth}`;
    if (present && state !== this.state) {
      this.state = state;
      const [at, around] = [present, row].map((node) => node.getBoundingClientRect());
      row.scrollLeft += at.left + at.width / 2 - around.left - around.width / 2;
    }
    if (this.step && step && step !== this.step) {
      for (const part of document.querySelectorAll(SCROLLED)) part.scrollTop = 0;
    }
    this.step = step ?? this.step;
    this.markSides();
  }

  markSides() {
    const row = /** @type {HTMLElement | null} */ (document.querySelector(ROW));
    if (!row) return;
    const more = sidesWithMore(row.scrollLeft, row.clientWidth, row.scrollWidth);
    if (row.dataset.more !== more) row.dataset.more = more;
  }

  leave() {
    this.observer.disconnect();
    this.watcher.disconnect();
    document.removeEventListener("scroll", this.mark, { capture: true });
    removeEventListener("resize", this.mark);
  }
}
