// Where labels are put, run by node's own test runner.
import assert from "node:assert/strict";
import test from "node:test";

import { placeLabels, sharedArea } from "../../../visualiser/app/wall_canvas/labels.js";

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
