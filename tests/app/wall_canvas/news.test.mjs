// When a page is told of a save elsewhere, run by node's own test runner.
import assert from "node:assert/strict";
import test from "node:test";

import { SavedElsewhere, isBusy, newsOf } from "../../../visualiser/app/news.js";

function watched(saved) {
  const there = { saved, ended: false, busy: false }, told = [], asked = [];
  const ask = async (about) => { asked.push(about); return there.gone ? null : { ...there }; };
  const watch = new SavedElsewhere(ask, () => there.busy);
  const shows = (number, job = "hall") => watch.shows(job, number, (to) => told.push(to));
  shows(saved);
  return { watch, there, told, asked, shows };
}

test("what the page shows already is no news, and a server that is gone has none", async () => {
  const { watch, there, told, asked } = watched(3);
  await watch.look(0);
  there.gone = true;
  await watch.look(2000);
  assert.deepEqual(told, []);
  assert.deepEqual(asked, [{ job: "hall" }, { job: "hall" }]);
});

test("a save elsewhere is told once, and ever more rarely while the page shows the older one", async () => {
  const { watch, there, told } = watched(3);
  there.saved = 4;
  const at = [];
  for (let now = 0; now <= 130_000; now += 2000) {
    const before = told.length;
    await watch.look(now);
    if (told.length > before) at.push(now);
  }
  assert.deepEqual(at, [0, 4000, 12_000, 28_000, 60_000, 124_000]);
});

test("nothing is told while the page is drawn or hands are on it, though asked before", async () => {
  const { watch, there, told, asked } = watched(3);
  there.saved = 4;
  there.busy = true;
  await watch.look(0);
  assert.equal(asked.length, 0);
  there.busy = false;
  const looking = watch.look(2000);
  there.busy = true;
  await looking;
  assert.deepEqual(told, []);
  there.busy = false;
  await watch.look(4000);
  assert.deepEqual(told, [4]);
});

test("each further save is told at once", async () => {
  const { watch, there, told, shows } = watched(3);
  there.saved = 4;
  await watch.look(0);
  there.saved = 5;
  await watch.look(2000);
  shows(5);
  there.saved = 6;
  await watch.look(4000);
  assert.deepEqual(told, [4, 5, 6]);
});

test("an answer about what the page no longer shows is no news", async () => {
  const { watch, there, told, shows } = watched(3);
  there.saved = 4;
  const looking = watch.look(0);
  shows(4);
  await looking;
  shows(9, "stairs");
  await Promise.all([watch.look(2000), shows(4)]);
  assert.deepEqual(told, []);
});

test("a file that cannot be read any more, or again, is news", async () => {
  const { watch, there, told, shows } = watched(3);
  there.saved = null;
  await watch.look(0);
  shows(null);
  await watch.look(2000);
  there.saved = 3;
  await watch.look(4000);
  assert.deepEqual(told, [null, 3]);
});

test("without an answer there is nothing to go by", async () => {
  globalThis.fetch = async () => { throw new TypeError("gone"); };
  assert.equal(await newsOf({ job: "hall" }), null);
  globalThis.fetch = async () => ({ ok: false });
  assert.equal(await newsOf({ job: "hall" }), null);
});

test("hands rest a while before the page is drawn anew, unless it was drawn since", () => {
  let state = "notRunning";
  const heard = {}, was = performance.now();
  globalThis.document = { querySelector: () => ({ getAttribute: () => state }) };
  globalThis.addEventListener = (name, tell) => { heard[name] = tell; };
  assert.equal(isBusy(), false);
  heard.pointerdown();
  assert.equal(isBusy(), true);
  assert.equal(isBusy(was - 1), true);
  assert.equal(isBusy(performance.now()), false);
  state = "running";
  assert.equal(isBusy(performance.now()), true);
});
