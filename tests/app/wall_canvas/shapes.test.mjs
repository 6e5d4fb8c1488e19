// Marks that a new state is shown by, run by node's own test runner: the browser's nodes are stood
// in for by ones that keep what is set and do what is listened for.
import assert from "node:assert/strict";
import test from "node:test";

import { Shapes } from "../../../visualiser/app/wall_canvas/shapes.js";

class Node {
  constructor() {
    Object.assign(this, { attributes: {}, children: [], heard: {}, style: {}, textContent: "" });
    this.classList = { add() {}, toggle() {} };
  }
  get firstChild() { return this.children[0] ?? null; }
  get nextSibling() { return this.parent.children[this.parent.children.indexOf(this) + 1] ?? null; }
  setAttribute(name, value) { this.attributes[name] = value; }
  appendChild(node) { node.parent = this; this.children.push(node); return node; }
  insertBefore(node, next) {
    node.remove();
    node.parent = this;
    this.children.splice(next ? this.children.indexOf(next) : this.children.length, 0, node);
  }
  remove() { if (this.parent) this.parent.children = this.parent.children.filter((one) => one !== this); }
  addEventListener(name, act) { this.heard[name] = act; }
}
globalThis.document = { createElementNS: () => new Node() };

function shown() {
  const sent = [];
  const shapes = new Shapes({
    stage: { svg: new Node(), base: { naturalWidth: 0 }, frame: { clientWidth: 1000 }, size: [1000, 800] }, scale: 1,
    root: { querySelector: () => new Node() }, outbox: { push: (command) => sent.push(command) },
    textWidth: () => 40, say() {}, settle() {},
  });
  return { shapes, sent };
}
const SQUARE = [[100, 100], [300, 100], [300, 400], [100, 400]];
const sheet = (label, points = SQUARE) => ({ id: "reference", kind: "reference", label, points, closed: true, editable: true });
const offered = (label, points) => ({ id: "doubt-1", kind: "likely", label, points, closed: true, editable: false, offer: { stands: false, name: "wall", points: [points[0]] } });
const moved = (by) => SQUARE.map(([x, y]) => [x + by, y]);

test("a mark that is called otherwise by now keeps its nodes, and with them the focus", () => {
  const { shapes } = shown();
  shapes.replace([sheet("not measured yet")]);
  const [{ group, handles: [corner] }] = shapes.items;
  shapes.replace([sheet("A4 sheet")]);
  assert.equal(shapes.items[0].group, group);
  assert.deepEqual(shapes.layer.children, [group]);
  assert.equal(corner.attributes["aria-label"], "point 1 of A4 sheet. Arrow keys move it.");
  assert.equal(shapes.items[0].title.textContent, "A4 sheet");
});

test("a mark in the hand stays where the hand has it, whatever it is called by now", () => {
  const { shapes } = shown();
  shapes.replace([sheet("not measured yet")]);
  const [item] = shapes.items;
  shapes.busy = item;
  item.points[0] = [140, 90];
  shapes.replace([sheet("A4 sheet", moved(5))]);
  assert.equal(shapes.items[0], item);
  assert.deepEqual(item.points, [[140, 90], ...SQUARE.slice(1)]);
  shapes.busy = null;
  shapes.replace([sheet("A4 sheet", moved(5))]);
  assert.deepEqual(shapes.items[0].points, moved(5));
});

test("a mark that keys have nudged stays until it is sent", () => {
  const { shapes, sent } = shown();
  shapes.replace([sheet("not measured yet")]);
  const [item] = shapes.items;
  const right = { key: "ArrowRight", preventDefault() {}, stopPropagation() {} };
  item.handles[0].heard.keydown(right);
  shapes.replace([sheet("A4 sheet", moved(5))]);
  item.handles[0].heard.keydown(right);
  shapes.tellNow();
  assert.equal(sent.length, 1);
  assert.deepEqual([sent[0].moved, sent[0].points[0], sent[0].drawn], [[0], [102, 100], SQUARE]);
});

test("what is offered next under the same number can be taken too", () => {
  const { shapes, sent } = shown();
  const [first, second] = [SQUARE, moved(400)];
  shapes.replace([offered("1: wall?", first)]);
  shapes.items[0].path.heard.click();
  shapes.replace([offered("1: wall?", first)]); // drawn before it was dealt with
  shapes.items[0].path.heard.click();
  assert.equal(sent.length, 1);
  shapes.replace([offered("1: wall?", second)]);
  shapes.items[0].path.heard.click();
  assert.equal(sent.length, 2);
  assert.deepEqual(sent[1].points, [second[0]]);
});

test("a shape of other parts is built anew", () => {
  const { shapes } = shown();
  shapes.replace([sheet("A4 sheet")]);
  const [{ group }] = shapes.items;
  shapes.replace([{ ...sheet("A4 sheet"), editable: false }]);
  assert.notEqual(shapes.items[0].group, group);
  assert.equal(shapes.layer.children.length, 1);
});
