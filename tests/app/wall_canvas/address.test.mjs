// Back and forth in the browser: asked for until the page shows the step, and no longer.
import assert from "node:assert/strict";
import test from "node:test";

const listeners = {};
globalThis.addEventListener = (name, heard) => { listeners[name] = heard; };
globalThis.location = { href: "http://localhost/?job=a&step=hang" };
globalThis.history = {
  state: null,
  replaceState: (_, __, url) => { globalThis.location.href = String(url); },
  pushState: (_, __, url) => { globalThis.location.href = String(url); },
};
const { StepAddress } = await import("../../../visualiser/app/command_bar/address.js");

const gone = (step) => {
  globalThis.location.href = `http://localhost/?job=a&step=${step}`;
  listeners.popstate();
};

test("a step is asked for again until the page shows it", (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const address = new StepAddress();
  const asked = [];
  address.shows("hang", (value) => asked.push(value));
  gone("mockup");
  assert.deepEqual(asked, [{ to: "mockup", times: 1 }]);
  for (let k = 0; k < 9; k += 1) address.shows("hang", (value) => asked.push(value));
  assert.equal(asked.length, 1); // drawn before it knew: asking at once would only draw it again
  assert.match(globalThis.location.href, /step=mockup/);
  t.mock.timers.tick(1500); // the first was lost
  assert.deepEqual(asked.at(-1), { to: "mockup", times: 2 });
  address.shows("mockup", (value) => asked.push(value));
  t.mock.timers.tick(60_000);
  assert.equal(asked.length, 2);
  assert.match(globalThis.location.href, /step=mockup/);
});

test("forth again before the page has gone back takes the way back", (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const address = new StepAddress();
  const asked = [];
  address.shows("hang", (value) => asked.push(value.to));
  gone("mockup");
  gone("hang");
  assert.deepEqual(asked, ["mockup", "hang"]);
  address.shows("mockup", (value) => asked.push(value.to)); // the run that was asked first
  assert.match(globalThis.location.href, /step=hang/);
  address.shows("hang", (value) => asked.push(value.to));
  t.mock.timers.tick(60_000);
  assert.deepEqual(asked, ["mockup", "hang"]);
});

test("a step that there is none of is not asked for without end", (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const address = new StepAddress();
  let asked = 0;
  address.shows("hang", () => { asked += 1; });
  gone("nowhere");
  for (let k = 0; k < 20; k += 1) t.mock.timers.tick(30_000);
  assert.equal(asked, 5);
  address.shows("hang", () => { asked += 1; });
  assert.match(globalThis.location.href, /step=hang/); // the address says again what is shown
});
