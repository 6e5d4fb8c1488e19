// Wall millimetres to photo pixels and back, as Survey.project and Survey.to_wall do it:
// a camera's view of a plane, then radial distortion (Brown 1971: k1, k2).

export class Mapping {
  // matrix: 3 x 3, survey mm (x, y, 1) to camera axes; normal: one mm out of the wall, in camera axes.
  /** @param {{ matrix: number[][], normal: number[], focal_px: number, centre_px: number[], k1: number, k2: number }} data */
  constructor({ matrix, normal, focal_px, centre_px, k1, k2 }) {
    this.matrix = matrix;
    this.normal = normal;
    this.focal = focal_px;
    this.centre = centre_px;
    this.k1 = k1;
    this.k2 = k2;
  }

  // Point of the wall, z mm in front of it, to photo px.
  toPhoto(x, y, z = 0) {
    const [a, b, c] = this.matrix.map(
      (row, i) => row[0] * x + row[1] * y + row[2] + z * this.normal[i]
    );
    const u = a / c, v = b / c, r2 = u * u + v * v;
    const d = 1 + this.k1 * r2 + this.k2 * r2 * r2;
    return [u * d * this.focal + this.centre[0], v * d * this.focal + this.centre[1]];
  }

  // Photo px to the point seen there, on the plane z mm in front of the wall.
  toWall(px, py, z = 0) {
    const u = (px - this.centre[0]) / this.focal, v = (py - this.centre[1]) / this.focal;
    const distorted = Math.hypot(u, v);
    let r = distorted;
    for (let i = 0; i < 12; i++) {
      const value = r * (1 + this.k1 * r ** 2 + this.k2 * r ** 4) - distorted;
      const slope = 1 + 3 * this.k1 * r ** 2 + 5 * this.k2 * r ** 4;
      r -= value / Math.max(slope, 0.1);
    }
    const scale = distorted > 0 ? r / distorted : 1;
    const shifted = this.matrix.map((row, i) => [row[0], row[1], row[2] + z * this.normal[i]]);
    const [x, y, w] = solve3(shifted, [u * scale, v * scale, 1]);
    return [x / w, y / w];
  }
}

// Solve a 3 x 3 system by Cramer's rule.
function solve3(m, b) {
  const det = (a) =>
    a[0][0] * (a[1][1] * a[2][2] - a[1][2] * a[2][1]) -
    a[0][1] * (a[1][0] * a[2][2] - a[1][2] * a[2][0]) +
    a[0][2] * (a[1][0] * a[2][1] - a[1][1] * a[2][0]);
  const whole = det(m);
  return [0, 1, 2].map(
    (k) => det(m.map((row, i) => row.map((value, j) => (j === k ? b[i] : value)))) / whole
  );
}

// CSS matrix3d that takes a w x h box onto four points: top-left, top-right, bottom-right,
// bottom-left (Heckbert 1989, "Fundamentals of Texture Mapping and Image Warping", 2.2.3).
/** @type {(w: number, h: number, points: number[][]) => string} */
export function boxToPoints(w, h, [p0, p1, p2, p3]) {
  const dx1 = p1[0] - p2[0], dx2 = p3[0] - p2[0], sx = p0[0] - p1[0] + p2[0] - p3[0];
  const dy1 = p1[1] - p2[1], dy2 = p3[1] - p2[1], sy = p0[1] - p1[1] + p2[1] - p3[1];
  const det = dx1 * dy2 - dx2 * dy1;
  const g = (sx * dy2 - dx2 * sy) / det, k = (dx1 * sy - sx * dy1) / det;
  const a = p1[0] - p0[0] + g * p1[0], b = p3[0] - p0[0] + k * p3[0];
  const d = p1[1] - p0[1] + g * p1[1], e = p3[1] - p0[1] + k * p3[1];
  const columns = [a / w, d / w, 0, g / w, b / h, e / h, 0, k / h, 0, 0, 1, 0, p0[0], p0[1], 0, 1];
  return `matrix3d(${columns.join(",")})`;
}

// A length as the person reads it: whole mm, tenths of a cm, sixteenths of an inch.
export function lengthText(mm, unit) {
  if (unit === "in") {
    const sixteenths = Math.round(Math.abs(mm) / 25.4 * 16);
    const whole = Math.floor(sixteenths / 16);
    let top = sixteenths % 16, bottom = 16;
    while (top && top % 2 === 0) { top /= 2; bottom /= 2; }
    const number = [whole || !top ? whole : "", top ? `${top}/${bottom}` : ""].join(" ").trim();
    return `${mm < 0 && sixteenths ? "−" : ""}${number} in`;
  }
  const text = unit === "cm" ? (Math.abs(mm) / 10).toFixed(1) : String(Math.round(Math.abs(mm)));
  const grouped = text.replace(/\B(?=(\d{3})+(?!\d))/g, " ");
  return `${mm < 0 && Number(text) ? "−" : ""}${grouped} ${unit}`;
}

// One step of an arrow key.
export function nudgeMm(unit) {
  return unit === "in" ? 25.4 / 16 : 1;
}
