// Where words stand beside what they name, so that none lies over another. Boxes and places are in
// whatever unit they are given in, y down; a box is { x, y, w, h } from its top left corner.

/** @typedef {{ x: number, y: number, w: number, h: number }} Box */
/** @typedef {{ w: number, h: number, places: number[][], optional?: boolean }} Wanted */

/**
 * The area that two boxes share.
 * @param {Box} a
 * @param {Box} b
 */
export function sharedArea(a, b) {
  const across = Math.min(a.x + a.w, b.x + b.w) - Math.max(a.x, b.x);
  const down = Math.min(a.y + a.h, b.y + b.h) - Math.max(a.y, b.y);
  return across > 0 && down > 0 ? across * down : 0;
}

/**
 * Give each label the first of its places that is clear of all before it, or else the one that covers
 * least; an optional one is left out then.
 * @param {Wanted[]} wanted in the order of their weight; places are top left corners
 * @param {Box[]} taken what is covered by something else already
 * @param {number[] | null} within width and height of the ground that labels stay on
 * @returns {(Box | null)[]}
 */
export function placeLabels(wanted, taken = [], within = null) {
  const covered = [...taken];
  return wanted.map(({ w, h, places, optional }) => {
    const boxes = places.map(([x, y]) => keptWithin({ x, y, w, h }, within));
    const shared = boxes.map((box) => covered.reduce((sum, other) => sum + sharedArea(box, other), 0));
    const least = Math.min(...shared);
    if (optional && least > 0) return null;
    const box = boxes[shared.indexOf(least)];
    covered.push(box);
    return box;
  });
}

/**
 * @param {Box} box
 * @param {number[] | null} within
 */
function keptWithin(box, within) {
  if (!within) return box;
  const clamp = (/** @type {number} */ v, /** @type {number} */ most) => Math.min(Math.max(v, 0), Math.max(most, 0));
  return { ...box, x: clamp(box.x, within[0] - box.w), y: clamp(box.y, within[1] - box.h) };
}

/**
 * The corner of a frame where a bar lies over the fewest handles: of several the lower, and the right.
 * @param {{ width: number, height: number }} bar
 * @param {{ width: number, height: number }} frame
 * @param {number[][]} handles middles, from the frame's top left corner
 * @param {number} edge how far the bar keeps from the frame's edges
 */
export function freestCorner(bar, frame, handles, edge) {
  const corners = [false, true].flatMap((top) => [false, true].map((left) => {
    const under = handles.filter(([x, y]) => {
      const [across, down] = [left ? x : frame.width - x, top ? y : frame.height - y];
      return across > 0 && across < bar.width + 2 * edge && down > 0 && down < bar.height + 2 * edge;
    });
    return { top, left, covers: under.length };
  }));
  return corners.reduce((best, corner) => (corner.covers < best.covers ? corner : best));
}

const PIECE = /^\d+/, BESIDE_PX = 6, APART_PX = 6;

/**
 * What hooks are called: each by its own name, or all of a piece by its number, once in their middle,
 * where their names would run into one another. The hook that is next keeps its name.
 * @param {{ label: string, x: number, y: number, next: boolean }[]} hooks
 * @param {(text: string) => number} widthOf
 * @returns {({ text: string, x: number, y: number, side: "left" | "right" | "middle" } | null)[]} one for
 *   each hook, null where another's stands for it
 */
export function hookNames(hooks, widthOf) {
  const numbers = hooks.map(({ label }) => label.match(PIECE)?.[0] ?? label);
  return hooks.map(({ label, x, y, next }, i) => {
    const own = { text: label, x, y, side: /** @type {"left" | "right"} */ (label.endsWith("R") ? "left" : "right") };
    const piece = hooks.filter((_, j) => numbers[j] === numbers[i]);
    const xs = piece.map((hook) => hook.x).sort((a, b) => a - b);
    const room = Math.min(...xs.slice(1).map((right, k) => right - xs[k]));
    const widest = Math.max(...piece.map((hook) => widthOf(hook.label)));
    if (piece.length < 2 || room >= 2 * (widest + BESIDE_PX) + APART_PX) return own;
    const marked = piece.some((hook) => hook.next);
    if (marked) return next ? own : null;
    if (numbers.indexOf(numbers[i]) < i) return null;
    const middle = (/** @type {number[]} */ values) => (Math.min(...values) + Math.max(...values)) / 2;
    return { text: numbers[i], x: middle(xs), y: middle(piece.map((hook) => hook.y)), side: "middle" };
  });
}

/** @type {CanvasRenderingContext2D | null | undefined} */
let ruler;

/**
 * Width of a text as it is drawn, in px of its size.
 * @param {string} text
 * @param {number} size
 * @param {string} font its family
 */
export function textWidth(text, size, font) {
  ruler ??= globalThis.document?.createElement("canvas").getContext("2d");
  if (!ruler) return text.length * size * 0.55;
  ruler.font = `600 ${size}px ${font}`;
  return ruler.measureText(text).width;
}
