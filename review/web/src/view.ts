import OpenSeadragon from "openseadragon";
import { s } from "./dom";
import { bounds, pathData, polygons, type Defect, type Mark, type Point, type State } from "./model";

/** tileRetries: a tile that failed while the program was restarted is asked for again. */
const tileRetries = 5;

/** View is the map of the hide: pictures below, outlines above. Positions are table millimetres. */
export class View {
  readonly osd: OpenSeadragon.Viewer;
  readonly svg = s("svg", { class: "overlay", "aria-hidden": "true" });
  private readonly ground = s("g");
  private readonly marks = s("g");
  readonly drawing = s("g");
  private readonly labels = s("g");
  private readonly items = new Map<string, OpenSeadragon.TiledImage>();
  private readonly frame: { left: number; top: number; mm: number; width: number; height: number };
  private defects: Defect[] = [];
  private chosen = new Set<number>();
  light = "";
  blend = 1;
  /** hidden: outlines are put away to see the leather. */
  hidden = false;
  onMove: () => void = () => {};

  constructor(readonly element: HTMLElement, private readonly state: State) {
    const l = state.lights;
    const [x0, y0, x1, y1] = bounds(state.outline.coordinates);
    this.frame = l ? { left: l.left_mm, top: l.top_mm, mm: l.mm_per_px, width: l.width_px, height: l.height_px }
      : { left: x0 - 40, top: y1 + 40, mm: state.mm_per_px, width: Math.ceil((x1 - x0 + 80) / state.mm_per_px), height: Math.ceil((y1 - y0 + 80) / state.mm_per_px) };
    this.osd = OpenSeadragon({
      element, prefixUrl: "", showNavigationControl: false, drawer: "canvas",
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: false, dragToPan: true, scrollToZoom: true },
      gestureSettingsTouch: { clickToZoom: false, dblClickToZoom: false, dragToPan: true, pinchToZoom: true },
      gestureSettingsPen: { clickToZoom: false, dblClickToZoom: false, dragToPan: true },
      visibilityRatio: 0.3, maxZoomPixelRatio: 6, minZoomImageRatio: 0.6, animationTime: 0.4,
      imageLoaderLimit: 6, maxImageCacheCount: 400, tileRetryMax: tileRetries, tileRetryDelay: 1000, preload: true,
      keyboardNavEnabled: false, tabIndex: "", imageSmoothingEnabled: true, immediateRender: false, autoHideControls: false,
    } as unknown as OpenSeadragon.Options);
    this.svg.append(this.ground, this.marks, this.drawing, this.labels);
    this.osd.canvas.append(this.svg);
    for (const e of ["update-viewport", "animation", "resize", "open"] as const) this.osd.addHandler(e, () => this.place());
    this.ground.append(s("path", { d: pathData(state.outline), class: "edge-case" }), s("path", { d: pathData(state.outline), class: "edge" }));
    const names = l?.pictures.map((p) => p.light) ?? [];
    this.light = names.includes("top") ? "top" : names[0] ?? "";
    this.open(this.light, true);
  }

  get lights(): string[] { return this.state.lights?.pictures.map((p) => p.light) ?? []; }

  private source(light: string): object {
    const { width, height } = this.frame;
    const l = this.state.lights;
    const p = l?.pictures.find((x) => x.light === light);
    const api = `/api/charts/${encodeURIComponent(this.state.name)}/tiles/${light}`;
    return {
      width, height, tileSize: l?.tile_px ?? 512, tileOverlap: 0, minLevel: Math.min(8, l?.top_level ?? 8), maxLevel: l?.top_level ?? 8,
      getTileUrl: (level: number, x: number, y: number) => (p ? `${api}/${level}/${x}_${y}.jpg?of=${p.sha256}` : "/assets/blank.svg"),
    };
  }

  private open(light: string, base: boolean): void {
    if (this.items.has(light)) return;
    this.osd.addTiledImage({
      tileSource: this.source(light) as OpenSeadragon.TileSource, opacity: base ? 1 : this.blend, preload: true, width: 1,
      success: (e: unknown) => {
        this.items.set(light, (e as { item: OpenSeadragon.TiledImage }).item);
        this.show();
        if (base) this.home(true);
      },
    } as unknown as OpenSeadragon.TileSourceSpecifier);
  }

  /** setLight shows a light over top light; blend 1 hides top light. */
  setLight(light: string, blend = this.blend): void {
    this.light = light;
    this.blend = blend;
    this.open(light, false);
    this.show();
  }

  private show(): void {
    const base = this.lights[0] ?? "";
    for (const [name, item] of this.items) {
      item.setOpacity(name === base ? 1 : name === this.light ? this.blend : 0);
    }
    const item = this.items.get(this.light);
    if (item && this.light !== base) this.osd.world.setItemIndex(item, this.osd.world.getItemCount() - 1);
  }

  /** pixel on the screen, within the picture's element. */
  toScreen([x, y]: Point): Point {
    const f = this.frame;
    const world = new OpenSeadragon.Point((x - f.left) / (f.width * f.mm), (f.top - y) / (f.width * f.mm));
    const p = this.osd.viewport.pixelFromPoint(world, true);
    return [p.x, p.y];
  }

  toTable(x: number, y: number): Point {
    const f = this.frame;
    const p = this.osd.viewport.pointFromPixel(new OpenSeadragon.Point(x, y), true);
    return [f.left + p.x * f.width * f.mm, f.top - p.y * f.width * f.mm];
  }

  /** screen pixels in a millimetre. */
  get scale(): number {
    const [a] = this.toScreen([this.frame.left, this.frame.top]);
    const [b] = this.toScreen([this.frame.left + 1000, this.frame.top]);
    return (b - a) / 1000;
  }

  get centre(): Point {
    const r = this.element.getBoundingClientRect();
    return this.toTable(r.width / 2, r.height / 2);
  }

  place(): void {
    if (!this.osd.viewport) return;
    const [x, y] = this.toScreen([0, 0]);
    const k = this.scale;
    const m = `matrix(${k} 0 0 ${-k} ${x} ${y})`;
    for (const g of [this.ground, this.marks, this.drawing]) g.setAttribute("transform", m);
    this.placeLabels();
    this.onMove();
  }

  home(now = false): void {
    this.fit(bounds(this.state.outline.coordinates), 1.06, now);
  }

  /** look brings a defect into view, with its surroundings. */
  look(d: Defect): void {
    const b = bounds(polygons(d.geometry).flat());
    const grow = Math.max(40, Math.max(b[2] - b[0], b[3] - b[1]) * 0.3);
    this.fit([b[0] - grow, b[1] - grow, b[2] + grow, b[3] + grow], 1, false);
  }

  private fit(b: [number, number, number, number], loose: number, now: boolean): void {
    const f = this.frame;
    const w = (b[2] - b[0]) * loose, h = (b[3] - b[1]) * loose;
    const cx = (b[0] + b[2]) / 2, cy = (b[1] + b[3]) / 2, u = f.width * f.mm;
    this.osd.viewport.fitBoundsWithConstraints(new OpenSeadragon.Rect((cx - w / 2 - f.left) / u, (f.top - cy - h / 2) / u, w / u, h / u), now || still());
  }

  pan(dx: number, dy: number): void {
    const b = this.osd.viewport.getBounds();
    this.osd.viewport.panBy(new OpenSeadragon.Point(dx * b.width, dy * b.height), still());
    this.osd.viewport.applyConstraints();
  }

  zoom(by: number): void {
    this.osd.viewport.zoomBy(by, undefined, still());
    this.osd.viewport.applyConstraints();
  }

  /** draw the defects. */
  draw(defects: Defect[], marks: Map<string, Mark>, chosen: Set<number>, disputed: Set<number>): void {
    this.defects = defects;
    this.chosen = chosen;
    const parts: Node[] = [];
    const last: Node[] = [];
    for (const d of defects) {
      const m = marks.get(d.kind);
      const data = pathData(d.geometry);
      const name = ["flaw", d.status, chosen.has(d.id) ? "chosen" : "", disputed.has(d.id) ? "disputed" : "", d.status === "candidate" && d.probability < 0.5 ? "unlikely" : ""].filter(Boolean).join(" ");
      const g = s("g", { class: name, "data-id": d.id });
      g.append(s("path", { d: data, class: "halo" }), s("path", { d: data, class: "case" }), s("path", { d: data, class: "line", stroke: m?.colour ?? "#fff" }));
      (chosen.has(d.id) ? last : parts).push(g);
    }
    this.marks.replaceChildren(...parts, ...last);
    this.svg.classList.toggle("bare", this.hidden);
    this.placeLabels();
  }

  /** numbers beside what is chosen. */
  private placeLabels(): void {
    const out: Node[] = [];
    for (const d of this.defects) {
      if (!this.chosen.has(d.id)) continue;
      const b = bounds(polygons(d.geometry).flat());
      const [x, y] = this.toScreen([b[2], b[3]]);
      const t = s("text", { x: x + 6, y: y - 6, class: "number" });
      t.textContent = String(d.id);
      out.push(t);
    }
    this.labels.replaceChildren(...out);
  }

  /** at gives the defect under a place on the screen: the smallest one there, or the nearest outline within reach. */
  at(x: number, y: number, reach: number): Defect | null {
    const p = this.toTable(x, y);
    const mm = reach / this.scale;
    let best: Defect | null = null, score = Infinity;
    for (const d of this.defects) {
      const rings = polygons(d.geometry);
      const inside = rings.some((poly) => poly.reduce((n, r) => n + (within(r, p) ? 1 : 0), 0) % 2 === 1);
      const far = inside ? 0 : Math.min(...rings.flat().map((r) => toRing(r, p)));
      if (far > mm) continue;
      const v = far * 1e6 + d.area_mm2;
      if (v < score) [best, score] = [d, v];
    }
    return best;
  }
}

/** still: people who ask for less motion get none. */
function still(): boolean {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}

function within(r: Point[], [x, y]: Point): boolean {
  let is = false;
  for (let i = 0, j = r.length - 1; i < r.length; j = i++) {
    const [a, b] = [r[i], r[j]];
    if (a[1] > y !== b[1] > y && x < ((b[0] - a[0]) * (y - a[1])) / (b[1] - a[1]) + a[0]) is = !is;
  }
  return is;
}

function toRing(r: Point[], [x, y]: Point): number {
  let least = Infinity;
  for (let i = 1; i < r.length; i++) {
    const [a, b] = [r[i - 1], r[i]];
    const dx = b[0] - a[0], dy = b[1] - a[1];
    const t = Math.min(1, Math.max(0, ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy || 1)));
    least = Math.min(least, Math.hypot(x - a[0] - t * dx, y - a[1] - t * dy));
  }
  return least;
}
