// Hooks to be ticked off on a ladder. A tick is a command in the page's outbox; what the page has not
// answered yet is shown as ticked already.

import { pageOutbox } from "../command_bar/outbox.js";
import { node } from "../nodes.js";

const lists = new WeakMap();
const SAME_HOOK_MM = 1;

// Whether a hook is in the wall, by the state sent and the ticks that are not in it yet.
export function isUp(hook, ticks) {
  const last = ticks.findLast(({ at_mm: [x, y] }) => Math.hypot(x - hook.at_mm[0], y - hook.at_mm[1]) <= SAME_HOOK_MM);
  return last ? last.up : hook.is_up;
}

class HookList {
  constructor(root) {
    this.root = root.querySelector(".hooks");
    this.outbox = pageOutbox();
    this.rows = [];
    this.onChange = () => this.root.isConnected ? this.mark() : this.outbox.listeners.delete(this.onChange);
    this.outbox.listeners.add(this.onChange);
  }

  update(data) {
    this.data = data;
    this.outbox.job = data.job;
    const drawn = JSON.stringify([data.from, data.pieces.map((piece) => ({
      ...piece, hooks: piece.hooks.map((hook) => ({ ...hook, is_up: null })),
    }))]);
    if (drawn !== this.drawn) this.build(); // else the rows stay, and the focus with them
    this.drawn = drawn;
    this.mark();
  }

  build() {
    this.count = node("p", "count");
    this.count.setAttribute("role", "status");
    const list = node("ol", "list");
    this.rows = [];
    this.data.pieces.forEach((piece, i) => {
      const item = node("li", "piece");
      item.append(node("p", "name", piece.name), node("p", "held", piece.held));
      for (const words of piece.cautions) item.append(node("p", "caution", words));
      piece.hooks.forEach((hook, j) => item.append(this.row(piece, hook, i, j)));
      list.append(item);
    });
    this.root.replaceChildren(this.count, list);
  }

  row(piece, hook, i, j) {
    const row = node("button", "hook");
    row.type = "button";
    row.setAttribute("role", "checkbox");
    row.append(
      node("span", "tick"), node("span", "which", hook.name),
      this.measure(hook.across, `from ${this.data.from}`), this.measure(hook.up, "above floor"),
    );
    row.setAttribute("aria-label", `Hook ${hook.name}, ${piece.name}: ${hook.across} from ${this.data.from}, ${hook.up} above the floor. In the wall`);
    row.onclick = () => {
      const now = this.data.pieces[i].hooks[j];
      this.outbox.push({ kind: "hook", at_mm: now.at_mm, up: row.getAttribute("aria-checked") !== "true" });
    };
    this.rows.push({ row, i, j });
    return row;
  }

  measure(value, from) {
    const measure = node("span", "measure");
    measure.append(node("b", "value", value), node("span", "from", from));
    return measure;
  }

  mark() {
    if (!this.data) return;
    const ticks = this.outbox.missingFrom(this.data.answered ?? {}).filter(({ kind }) => kind === "hook");
    let up = 0;
    for (const { row, i, j } of this.rows) {
      const is = isUp(this.data.pieces[i].hooks[j], ticks);
      up += is;
      row.setAttribute("aria-checked", String(is));
    }
    const all = this.rows.length;
    this.count.textContent = up === all ? `All ${all} are in the wall.` : `${up} of ${all} in the wall. Tap a hook once it is.`;
    this.count.hidden = !all;
  }
}

export default function ({ parentElement, data }) {
  let list = lists.get(parentElement);
  if (!list?.root.isConnected) {
    list = new HookList(parentElement);
    lists.set(parentElement, list);
  }
  list.update(data);
}
