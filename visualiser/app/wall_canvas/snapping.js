// Where a dragged piece comes to rest, and what stands beside it. Wall mm, y up; a box is
// {id, x, y, w, h} around its centre.

export const edges = (b) => ({ l: b.x - b.w / 2, r: b.x + b.w / 2, b: b.y - b.h / 2, t: b.y + b.h / 2 });

// Nearest place within `reach` mm where the box lines up with a neighbour, keeps the job's gap, or
// sits on a guide. Returns the place and the lines that say why.
export function snapped(box, others, guides, reach) {
  const own = edges(box);
  const xs = [], ys = [];
  for (const x of guides.x ?? []) xs.push({ at: x, shift: x - box.x });
  for (const y of guides.y ?? []) ys.push({ at: y, shift: y - box.y });
  for (const other of others) {
    const o = edges(other);
    xs.push({ at: other.x, shift: other.x - box.x });
    ys.push({ at: other.y, shift: other.y - box.y });
    xs.push({ at: o.l, shift: o.l - own.l }, { at: o.r, shift: o.r - own.r });
    ys.push({ at: o.b, shift: o.b - own.b }, { at: o.t, shift: o.t - own.t });
    if (guides.gap_mm) {
      const g = guides.gap_mm;
      xs.push({ at: o.r + g, shift: o.r + g - own.l }, { at: o.l - g, shift: o.l - g - own.r });
      ys.push({ at: o.t + g, shift: o.t + g - own.b }, { at: o.b - g, shift: o.b - g - own.t });
    }
  }
  const best = (list) =>
    list.filter((c) => Math.abs(c.shift) <= reach)
      .sort((a, b) => Math.abs(a.shift) - Math.abs(b.shift))[0];
  const x = best(xs), y = best(ys);
  return {
    x: box.x + (x?.shift ?? 0),
    y: box.y + (y?.shift ?? 0),
    vertical: x ? [x.at] : [],
    horizontal: y ? [y.at] : [],
  };
}

// The clear distance to the nearest neighbour on each side, where the two face each other.
export function gapsAround(box, others) {
  const own = edges(box);
  const sides = {};
  const offer = (side, gap, from, to, other) => {
    if (gap >= -0.5 && (!sides[side] || gap < sides[side].gap)) {
      sides[side] = { gap: Math.max(gap, 0), from, to, other: other.id };
    }
  };
  for (const other of others) {
    const o = edges(other);
    const low = Math.max(own.b, o.b), high = Math.min(own.t, o.t);
    const left = Math.max(own.l, o.l), right = Math.min(own.r, o.r);
    const y = (low + high) / 2, x = (left + right) / 2;
    if (high > low) {
      offer("left", own.l - o.r, [o.r, y], [own.l, y], other);
      offer("right", o.l - own.r, [own.r, y], [o.l, y], other);
    }
    if (right > left) {
      offer("below", own.b - o.t, [x, o.t], [x, own.b], other);
      offer("above", o.b - own.t, [x, own.t], [x, o.b], other);
    }
  }
  return sides;
}

// Whether two boxes share more than a hair.
export function collide(a, b) {
  const p = edges(a), q = edges(b);
  return Math.min(p.r, q.r) - Math.max(p.l, q.l) > 0.05 && Math.min(p.t, q.t) - Math.max(p.b, q.b) > 0.05;
}
