// The table of pieces with edits that are not answered yet, run by node's own test runner.
import assert from "node:assert/strict";
import test from "node:test";

import { withEdits } from "../../../visualiser/app/piece_rows/rows.js";

const ROWS = [{ row: "a", key: "a", cells: { name: "Heron", width: "400 mm" } }, { row: "b", key: "b", cells: { name: "Kite" } }];
const typed = (row, cells) => ({ kind: "row", row, cells });

test("what is typed is shown until it is answered, in the order it was typed", () => {
  const shown = withEdits(ROWS, [typed("a", { width: "410" }), typed("a", { width: "420" }), typed("b", { name: "Tide" })]);
  assert.deepEqual(shown.map(({ cells }) => cells), [{ name: "Heron", width: "420" }, { name: "Tide" }]);
  assert.equal(ROWS[0].cells.width, "400 mm");
});

test("a new row stands last, and a removed one is gone", () => {
  const edits = [typed("new-1", { name: "Reed" }), { kind: "row-gone", row: "a" }, typed("new-1", { width: "300" })];
  assert.deepEqual(withEdits(ROWS, edits).map(({ row, key }) => [row, key]), [["b", "b"], ["new-1", ""]]);
  assert.deepEqual(withEdits(ROWS, edits)[1].cells, { name: "Reed", width: "300" });
});

test("what hands did to other things changes no row", () => {
  assert.deepEqual(withEdits(ROWS, [{ kind: "move", row: "a" }, { kind: "undo" }]), ROWS);
});
