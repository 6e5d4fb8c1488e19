// How large pictures come out on a client's screen: held against trying every number of columns.
import assert from "node:assert/strict";
import test from "node:test";

import { largestGrid } from "../../../visualiser/app/client_show/fitting.js";

const screen = { width: 1400, height: 780, gap: 16, line: 34 };

test("one picture fills the height or the width, whichever is less", () => {
  assert.equal(largestGrid(1, 4 / 3, screen).wide, (780 - 34) * 4 / 3);
  assert.equal(largestGrid(1, 4, screen).wide, 1400);
});

test("options lie side by side on a wide screen and one above another on a phone", () => {
  assert.equal(largestGrid(2, 4 / 3, screen).columns, 2);
  assert.equal(largestGrid(2, 4 / 3, { width: 374, height: 700, gap: 10, line: 34 }).columns, 1);
});

test("no other number of columns makes the pictures larger, and all of them fit", () => {
  for (let count = 1; count <= 12; count += 1) {
    for (const aspect of [0.6, 1, 1.33, 2.2]) {
      const { columns, wide } = largestGrid(count, aspect, screen);
      const rows = Math.ceil(count / columns);
      assert.ok(wide * columns + screen.gap * (columns - 1) <= screen.width + 1e-6);
      assert.ok((wide / aspect + screen.line) * rows + screen.gap * (rows - 1) <= screen.height + 1e-6);
      for (let other = 1; other <= count; other += 1) {
        const down = Math.ceil(count / other);
        const across = (screen.width - screen.gap * (other - 1)) / other;
        const fits = ((screen.height - screen.gap * (down - 1)) / down - screen.line) * aspect;
        assert.ok(Math.min(across, fits) <= wide + 0.5 + 1e-6);
      }
    }
  }
});
