// Where labels are put, run by node's own test runner.
import assert from "node:assert/strict";
import test from "node:test";

import { freestCorner, hookNames, placeLabels, sharedArea } from "../../../visualiser/app/wall_canvas/labels.js";

const label = (...places) => ({ w: 40, h: 16, places });

test("boxes that touch share nothing", () => {
  const box = { x: 0, y: 0, w: 10, h: 10 };
  assert.equal(sharedArea(box, { ...box, x: 10 }), 0);
  assert.equal(sharedArea(box, { ...box, x: 4, y: 7 }), 18);
});

test("no two labels cover each other while each has a clear place", () => {
  const wanted = [label([0, 0], [0, 20]), label([10, 0], [-60, 0], [10, 20]), label([10, 4], [60, 0])];
  const placed = placeLabels(wanted);
  for (const a of placed) for (const b of placed) assert.ok(a === b || sharedArea(a, b) === 0);
  assert.deepEqual(placed.map(({ x, y }) => [x, y]), [[0, 0], [-60, 0], [60, 0]]);
});

test("without a clear place the least covered is taken, and an optional label is left out", () => {
  const taken = [{ x: 0, y: 0, w: 100, h: 20 }];
  const [must] = placeLabels([label([0, 0], [0, 10])], taken);
  assert.equal(must.y, 10);
  assert.deepEqual(placeLabels([{ ...label([0, 0]), optional: true }], taken), [null]);
});

test("labels stay on the picture", () => {
  const [box] = placeLabels([label([-30, 95])], [], [100, 100]);
  assert.deepEqual([box.x, box.y], [0, 84]);
});

const hook = (label, x, next = false) => ({ label, x, y: 50, next });

test("two hooks of a piece have their own names where both fit between them, else its number once", () => {
  const widthOf = () => 20; // 2 × (20 + 6) + 6 = 58
  assert.deepEqual(hookNames([hook("2L", 100), hook("2R", 158)], widthOf).map(({ text }) => text), ["2L", "2R"]);
  const [one, other] = hookNames([hook("2L", 100), hook("2R", 157)], widthOf);
  assert.deepEqual([one.text, one.x, one.side, other], ["2", 128.5, "middle", null]);
});

test("the hook that is next keeps its name, and its neighbour gives way", () => {
  const names = hookNames([hook("1L", 10), hook("1R", 40, true), hook("12", 200)], () => 20);
  assert.deepEqual(names.map((name) => name?.text ?? null), [null, "1R", "12"]);
});

test("buttons lie in the corner where they cover the fewest handles", () => {
  const corner = (...handles) => {
    const { top, left } = freestCorner({ width: 140, height: 44 }, { width: 374, height: 280 }, handles, 8);
    return [top, left];
  };
  const [right, left, upper] = [[274, 243], [90, 240], [300, 20]];
  assert.deepEqual(corner(), [false, false]);
  assert.deepEqual(corner([274, 100]), [false, false]);
  assert.deepEqual(corner(right), [false, true]);
  assert.deepEqual(corner(right, left), [true, false]);
  assert.deepEqual(corner(right, left, upper), [true, true]);
});
