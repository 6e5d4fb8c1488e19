// How pictures of one shape fill a screen.

// The number of columns in which `count` pictures of an aspect (width by height) come out largest,
// with a line for its name under each, and how wide each is then. All in screen px.
export function largestGrid(count, aspect, { width, height, gap, line }) {
  let best = { columns: 1, wide: 0 };
  for (let columns = 1; columns <= Math.max(count, 1); columns += 1) {
    const rows = Math.ceil(Math.max(count, 1) / columns);
    const across = (width - gap * (columns - 1)) / columns;
    const down = (height - gap * (rows - 1)) / rows - line;
    const wide = Math.min(across, down * aspect);
    if (wide > best.wide + 0.5) best = { columns, wide };
  }
  return { columns: best.columns, wide: Math.max(best.wide, 0) };
}
