// What a phone shows: how much of the wall stays in sight, and where the row of steps goes on.
import assert from "node:assert/strict";
import test from "node:test";

import { sidesWithMore } from "../../../visualiser/app/command_bar/step_row.js";
import { heightInSight } from "../../../visualiser/app/wall_canvas/stage.js";

test("a wall that is scrolled past shrinks to what stays, and no page jumps meanwhile", () => {
  const height = 250, least = 169;
  assert.equal(heightInSight(height, -40, least), 250); // not reached yet
  assert.equal(heightInSight(height, 0, least), 250);
  assert.equal(heightInSight(height, 30, least), 220);
  assert.equal(heightInSight(height, 800, least), 169);
  for (let past = -20; past < 400; past += 7) {
    const seen = heightInSight(height, past, least);
    // What is left of the wall in the page, or the least: never a hole above it, never more than it is.
    assert.equal(seen, Math.min(Math.max(height - past, least), height));
  }
});

test("a wall that is lower than what would stay is not made higher", () => {
  assert.equal(heightInSight(120, 300, 169), 120);
});

test("a row of steps says on which sides it goes on", () => {
  assert.equal(sidesWithMore(0, 374, 374), "");
  assert.equal(sidesWithMore(0, 374, 800), "right");
  assert.equal(sidesWithMore(200, 374, 800), "left right");
  assert.equal(sidesWithMore(426, 374, 800), "left");
  assert.equal(sidesWithMore(425.6, 374, 800), "left"); // scrolled to its end, by a scaled screen
});
