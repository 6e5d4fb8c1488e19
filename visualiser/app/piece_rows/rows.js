// The pieces as a table of fields. A cell that has been typed in is a command in the page's outbox; what
// the page has not answered yet is shown as typed. The cell under the keyboard is never written over.

import { pageOutbox } from "../command_bar/outbox.js";
import { node } from "../nodes.js";

const tables = new WeakMap();

const freshName = () => `new-${[...crypto.getRandomValues(new Uint32Array(2))].map((n) => n.toString(36)).join("")}`;

/** @typedef {{ row: string, key?: string, waits?: boolean, cells: Record<string, string> }} Row */

/**
 * The rows of a state with edits that are not in it yet.
 * @param {Row[]} rows
 * @param {Array<{ kind: string, row: string, cells?: Record<string, string> }>} edits
 */
export function withEdits(rows, edits) {
  let out = rows.map((row) => ({ ...row, cells: { ...row.cells } }));
  for (const { kind, row, cells } of edits) {
    if (kind === "row-gone") out = out.filter((one) => one.row !== row);
    if (kind !== "row") continue;
    let there = out.find((one) => one.row === row);
    if (!there) out.push(there = { row, key: "", cells: {} });
    Object.assign(there.cells, cells);
  }
  return out;
}

class PieceRows {
  constructor(root) {
    this.root = root.querySelector(".pieces");
    this.outbox = pageOutbox();
    this.lines = new Map(); // by their rows' names
    this.blank = freshName(); // the row that a new piece is begun in
    this.onChange = () => this.root.isConnected ? this.draw() : this.leave();
    this.onFlush = () => this.commitTyped();
    this.outbox.listeners.add(this.onChange);
    this.outbox.flushers.add(this.onFlush);
  }

  leave() {
    this.outbox.listeners.delete(this.onChange);
    this.outbox.flushers.delete(this.onFlush);
  }

  update(data) {
    const columns = JSON.stringify(data.columns);
    this.data = data;
    this.outbox.job = data.job;
    if (columns !== this.columns) this.build();
    this.columns = columns;
    this.draw();
  }

  build() {
    const head = node("tr", "");
    for (const { label, help } of this.data.columns) {
      const cell = node("th", "", label);
      cell.scope = "col";
      cell.title = help ?? "";
      head.append(cell);
    }
    head.append(node("td", ""));
    this.body = node("tbody", "");
    const table = node("table", ""), top = node("thead", "");
    table.setAttribute("aria-label", "Pieces");
    top.append(head);
    table.append(top, this.body);
    this.lines.clear();
    this.root.replaceChildren(table);
  }

  get focused() {
    return /** @type {ShadowRoot | Document} */ (this.root.getRootNode()).activeElement;
  }

  draw() {
    if (!this.data) return;
    const edits = this.outbox.missingFrom(this.data.answered ?? {});
    const shown = withEdits(this.data.rows, edits);
    if (shown.some(({ row }) => row === this.blank)) this.blank = freshName();
    shown.push({ row: this.blank, key: "", cells: {} });
    const lines = shown.map((row) => this.filled(row));
    for (const [name, line] of this.lines) {
      if (lines.includes(line)) continue;
      this.lines.delete(name);
      line.tr.remove();
    }
    let next = this.body.firstChild;
    for (const { tr } of lines) {
      if (tr === next) next = next.nextSibling;
      else this.body.insertBefore(tr, next);
    }
    this.order = lines;
  }

  /** @param {Row} given */
  filled({ row, key, cells, waits }) {
    const line = this.lines.get(row) ?? this.built(row);
    line.fresh = !key;
    const title = cells.name || (row === this.blank ? "a new piece" : cells.id || "a piece");
    for (const { name, label } of this.data.columns) {
      const field = line.fields[name], text = cells[name] ?? "";
      const typing = field === this.focused && field.value !== line.drawn[name];
      if (!typing && field.value !== text) field.value = text;
      line.drawn[name] = text;
      field.setAttribute("aria-label", `${label} of ${title}`);
    }
    line.fields[this.data.columns[0].name].placeholder = row === this.blank ? "another piece" : "";
    line.tr.classList.toggle("waits", Boolean(waits));
    line.gone.setAttribute("aria-label", `Remove ${title}`);
    line.gone.hidden = row === this.blank;
    return line;
  }

  built(row) {
    const line = { row, tr: node("tr", ""), fields: {}, drawn: {}, fresh: true, gone: node("button", "gone", "×") };
    for (const column of this.data.columns) {
      const cell = node("td", ""), field = node("input", "");
      Object.assign(field, { type: "text", maxLength: column.chars, autocomplete: "off", spellcheck: false });
      field.style.width = `${column.em}em`;
      field.onchange = () => this.commit(line, column.name);
      field.onkeydown = (event) => this.key(event, line, column.name);
      line.drawn[column.name] = "";
      line.fields[column.name] = field;
      cell.append(field);
      line.tr.append(cell);
    }
    line.gone.type = "button";
    line.gone.title = "Remove";
    line.gone.onclick = () => this.remove(line);
    const cell = node("td", "");
    cell.append(line.gone);
    line.tr.append(cell);
    this.lines.set(row, line);
    return line;
  }

  // What a row that is no piece yet has been typed goes along whole: the program may have been started
  // anew meanwhile.
  commit(line, name) {
    const text = line.fields[name].value.trim();
    if (text === line.drawn[name]) return;
    const typed = this.data.columns.map((column) => [column.name, line.fields[column.name].value.trim()]);
    const cells = line.fresh ? Object.fromEntries(typed.filter(([one, value]) => value || one === name)) : { [name]: text };
    this.outbox.push({ kind: "row", row: line.row, unit: this.data.unit, cells, was: line.sent ?? {} });
    if (line.fresh) line.sent = cells;
  }

  commitTyped() {
    for (const line of this.lines.values()) {
      for (const [name, field] of Object.entries(line.fields)) if (field === this.focused) this.commit(line, name);
    }
  }

  // As in any table: up and down go to the cell above and below, Enter as well; Escape takes back.
  key(event, line, name) {
    if (event.key === "Escape") {
      line.fields[name].value = line.drawn[name];
      return;
    }
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || event.isComposing) return;
    event.preventDefault();
    this.commit(line, name);
    const there = this.order[this.order.indexOf(this.lines.get(line.row)) + step];
    there?.fields[name].focus();
    there?.fields[name].select();
  }

  remove(line) {
    const following = this.order[this.order.indexOf(line) + 1];
    this.outbox.push({ kind: "row-gone", row: line.row });
    (following?.gone.hidden ? following.fields[this.data.columns[0].name] : following?.gone)?.focus();
  }
}

export default function ({ parentElement, data }) {
  let table = tables.get(parentElement);
  if (!table?.root.isConnected) {
    table?.leave();
    table = new PieceRows(parentElement);
    tables.set(parentElement, table);
  }
  table.update(data);
}
