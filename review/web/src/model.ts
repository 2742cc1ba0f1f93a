// What the API says. Lengths are table millimetres, y up.

export type Point = [number, number];
export type Status = "candidate" | "confirmed" | "rejected" | "added";
export interface Polygon { type: "Polygon"; coordinates: Point[][] }
export interface MultiPolygon { type: "MultiPolygon"; coordinates: Point[][][] }
export type Shape = Polygon | MultiPolygon;

export interface Defect {
  id: number;
  kind: string;
  status: Status;
  probability: number;
  open: boolean;
  geometry: Shape;
  area_mm2: number;
  length_mm: number;
  width_mm: number;
  length_u_mm?: number;
  width_u_mm?: number;
  count?: number;
  zone: string;
  edge_distance_mm: number;
  lights: string[];
  advice?: string;
}

export interface Mark { kind: string; words: string; colour: string; strokes: string; fills: string }
export interface Look { name: string; words: string }
export interface Flag { code: string; text: string }
export interface Range { median: number; p10: number; p90: number }
export interface Worth { id: number; gained_mm2: number; moves_mm2: number }

export interface Yield {
  look: string;
  words: string;
  area_mm2: Range;
  cuttable_mm2: Range;
  cuttable_share: Range;
  band: string;
  refused_chance: number;
  unmet: string[];
  look_first: Worth[] | null;
  seq: number;
}

export interface Progress { found: number; left: number; added: number; decisions: number; last: number }
export interface Dispute { defect: number; held: number; against: number; who: string; act: string; after: Defect; against_who: string; against_act: string }
export interface Note { seq: number; who: string; at: string; defect?: number; text: string }

export interface Lights {
  left_mm: number;
  top_mm: number;
  mm_per_px: number;
  width_px: number;
  height_px: number;
  pictures: { light: string; file: string; sha256: string }[];
  tile_px: number;
  top_level: number;
}

export interface State {
  name: string;
  pass: string;
  chart_sha256: string;
  capture: { id: string; supplier: string; lot: string; article: string };
  area_mm2: { value: number; u: number };
  outline: Polygon;
  backbone_mm: [Point, Point];
  defects: Defect[];
  revision: Record<string, number>;
  flags: Flag[];
  disputes: Dispute[];
  notes: Note[];
  progress: Progress;
  lights: Lights | null;
  marks: Mark[];
  looks: Look[];
  read_only?: string;
  set_aside?: string;
  mm_per_px: number;
}

export interface Decision { seq: number; key: string; who: string; act: string; chart_sha256: string }
export interface Change {
  decision: Decision;
  held: boolean;
  touched: { id: number; revision: number; defect: Defect | null }[];
  disputes: Dispute[];
  notes: Note[];
  flags: Flag[];
  progress: Progress;
  yield?: Yield;
}

export interface Drawn { shape?: Shape; line?: Point[]; width_mm?: number }
export interface Ask {
  key: string;
  who: string;
  act: string;
  targets?: { id: number; seen: number }[];
  kind?: string;
  open?: boolean;
  drawn?: Drawn;
  cut?: Point[];
  text?: string;
  look?: string;
}

/** polygons of a shape: rings of closed positions. */
export function polygons(s: Shape): Point[][][] {
  return s.type === "Polygon" ? [s.coordinates] : s.coordinates;
}

/** bounds of positions: least x, least y, greatest x, greatest y. */
export function bounds(rings: Point[][]): [number, number, number, number] {
  let [a, b, c, d] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const r of rings) for (const [x, y] of r) {
    a = Math.min(a, x); b = Math.min(b, y); c = Math.max(c, x); d = Math.max(d, y);
  }
  return [a, b, c, d];
}

/** pathData draws a shape in millimetres. */
export function pathData(s: Shape): string {
  return polygons(s).map((rings) => rings.map((r) => "M" + r.map((p) => `${p[0]} ${p[1]}`).join("L") + "Z").join("")).join("");
}

/** lineLength of an open line. */
export function lineLength(l: Point[]): number {
  let sum = 0;
  for (let i = 1; i < l.length; i++) sum += Math.hypot(l[i][0] - l[i - 1][0], l[i][1] - l[i - 1][1]);
  return sum;
}

/** thinned drops points nearer to the line between their neighbours than tol (Douglas & Peucker 1973). */
export function thinned(l: Point[], tol: number): Point[] {
  if (l.length < 3) return l;
  const [a, b] = [l[0], l[l.length - 1]];
  const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
  let far = 0, at = 0;
  for (let i = 1; i < l.length - 1; i++) {
    const d = long === 0 ? Math.hypot(l[i][0] - a[0], l[i][1] - a[1])
      : Math.abs((b[0] - a[0]) * (l[i][1] - a[1]) - (b[1] - a[1]) * (l[i][0] - a[0])) / long;
    if (d > far) [far, at] = [d, i];
  }
  if (far <= tol) return [a, b];
  return [...thinned(l.slice(0, at + 1), tol).slice(0, -1), ...thinned(l.slice(at), tol)];
}
