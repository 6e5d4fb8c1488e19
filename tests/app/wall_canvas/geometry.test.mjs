// The wall view's arithmetic, run by node's own test runner.
import assert from "node:assert/strict";
import test from "node:test";

import { Mapping, lengthText, nudgeMm } from "../../../visualiser/app/wall_canvas/mapping.js";
import { isTheWalls } from "../../../visualiser/app/wall_canvas/stage.js";
import { collide, gapsAround, snapped } from "../../../visualiser/app/wall_canvas/snapping.js";

test("a point of the wall comes back from the photo, through the lens", () => {
  const map = new Mapping({
    matrix: [[0.98, 0.02, -1500], [0.01, -0.99, 1400], [0.2, 0.05, 3000]],
    normal: [0, 0, -1], focal_px: 1250, centre_px: [800, 600], k1: -0.05, k2: 0.01,
  });
  for (const [x, y, z] of [[0, 0, 0], [1200, 900, 25], [2400, 1800, 0]]) {
    const [back_x, back_y] = map.toWall(...map.toPhoto(x, y, z), z);
    assert.ok(Math.hypot(back_x - x, back_y - y) < 1e-6);
  }
});

test("inches are written in sixteenths, as a tape is read", () => {
  // 25.4 mm are one inch by definition (international yard and pound agreement, 1959).
  assert.equal(lengthText(24.375 * 25.4, "in"), "24 3/8 in");
  assert.equal(lengthText(0.5 * 25.4, "in"), "1/2 in");
  assert.equal(lengthText(-25.4, "in"), "−1 in");
  assert.match(lengthText(1524, "mm"), /^1\s524 mm$/);
  assert.equal(nudgeMm("in"), 25.4 / 16);
});

test("a dragged piece keeps the job's gap beside its neighbour, and no further than it reaches", () => {
  const neighbour = { id: "b", x: 0, y: 0, w: 400, h: 500 };
  const piece = { id: "a", x: 403 + 50, y: 3, w: 400, h: 500 };
  const rest = (snapped(piece, [neighbour], { gap_mm: 50 }, 10));
  assert.deepEqual([rest.x, rest.y], [450, 0]);
  const free = (snapped(piece, [neighbour], { gap_mm: 50 }, 0));
  assert.deepEqual([free.x, free.y], [piece.x, piece.y]);
});

test("pieces that touch do not collide, and the gap between them is nought", () => {
  const a = { id: "a", x: 0, y: 0, w: 400, h: 500 }, b = { id: "b", x: 400, y: 0, w: 400, h: 500 };
  assert.equal(collide(a, b), false);
  assert.equal(collide(a, { ...b, x: 399 }), true);
  assert.equal((gapsAround(a, [b])).right.gap, 0);
});

test("a finger's tap on what is only tapped stays a click; drags and pinches are the wall's", () => {
  // Touch Events (W3C): a touchstart whose default is prevented is followed by no click.
  const on = (...classes) => ({ closest: (selector) => classes.includes(selector) || null });
  assert.equal(isTheWalls(1, 1, on(".tap")), false);
  assert.equal(isTheWalls(1, 3, on(".tap")), false);
  assert.equal(isTheWalls(2, 1, on(".tap")), true);
  assert.equal(isTheWalls(1, 1, on(".grab")), true);
  assert.equal(isTheWalls(1, 1, on()), false);
  assert.equal(isTheWalls(1, 3, on()), true);
});
