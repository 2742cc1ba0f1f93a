import OpenSeadragon from "openseadragon";
import { s } from "./dom";
import { lineLength, thinned, type Point } from "./model";
import type { View } from "./view";

/** What a drawing is for. */
export type Form = "area" | "line" | "ruler" | "cut";

/** tapReach in screen pixels: a press that moves less is a tap and sets one point. */
const tapReach = 6;

/** inkTolerance in screen pixels by which a drawn line is thinned. */
const inkTolerance = 0.8;

/**
 * Pen draws a shape: dragging draws freely, tapping sets points one by one, and
 * from the keyboard a point is set at the cross in the middle. Two fingers still zoom.
 */
export class Pen {
  form: Form | null = null;
  private points: Point[] = [];
  private pressed: Point | null = null;
  private free: Point[] | null = null;
  private hover: Point | null = null;
  width = 3;
  onDone: (form: Form, points: Point[]) => void = () => {};
  onTap: (x: number, y: number, more: boolean) => void = () => {};
  onChange: () => void = () => {};

  constructor(private readonly view: View) {
    const v = view.osd;
    v.addHandler("canvas-press", (e) => { this.pressed = [e.position.x, e.position.y]; });
    v.addHandler("canvas-drag", (e) => {
      if (!this.form) return;
      e.preventDefaultAction = true;
      this.drag(e.position);
    });
    v.addHandler("canvas-drag-end", (e) => {
      if (this.form && this.free) { e.preventDefaultAction = true; this.lift(); }
    });
    v.addHandler("canvas-click", (e) => {
      if (!e.quick) return;
      const o = e.originalEvent as MouseEvent;
      if (this.form) this.tap(this.view.toTable(e.position.x, e.position.y));
      else this.onTap(e.position.x, e.position.y, o.shiftKey || o.ctrlKey);
    });
    v.addHandler("canvas-double-click", () => { if (this.form) this.finish(); });
    new OpenSeadragon.MouseTracker({
      element: v.canvas, userData: "pen",
      moveHandler: (e: unknown) => {
        if (!this.form) return;
        const p = (e as { position: OpenSeadragon.Point }).position;
        this.hover = this.view.toTable(p.x, p.y);
        this.draw();
      },
    } as unknown as OpenSeadragon.MouseTrackerOptions).setTracking(true);
  }

  start(form: Form, width = this.width): void {
    this.form = form;
    this.width = width;
    this.points = [];
    this.free = this.hover = null;
    this.view.element.classList.add("pen");
    this.draw();
  }

  stop(): void {
    this.form = null;
    this.points = [];
    this.free = this.hover = null;
    this.view.element.classList.remove("pen");
    this.draw();
  }

  private drag(p: OpenSeadragon.Point): void {
    const from = this.pressed;
    if (!this.free) {
      if (from && Math.hypot(p.x - from[0], p.y - from[1]) < tapReach) return;
      this.free = from ? [this.view.toTable(from[0], from[1])] : [];
    }
    this.free.push(this.view.toTable(p.x, p.y));
    this.draw();
  }

  /** lift ends a stroke drawn freely. A ruler and a cut may go on. */
  private lift(): void {
    const tol = inkTolerance / this.view.scale;
    const ink = thinned(this.free ?? [], this.form === "ruler" || this.form === "cut" ? tol * 3 : tol);
    this.free = null;
    this.points.push(...ink);
    if (this.enough()) this.finish();
    else this.draw();
  }

  tap(p: Point): void {
    const last = this.points[this.points.length - 1];
    if (last && Math.hypot(last[0] - p[0], last[1] - p[1]) < 1 / this.view.scale) return; // the second of a double click
    this.points.push(p);
    this.draw();
  }

  /** back takes the last point away. */
  back(): void {
    this.points.pop();
    this.draw();
  }

  get count(): number { return this.points.length; }

  /** length so far, mm. */
  get length(): number { return lineLength(this.points); }

  enough(): boolean { return this.points.length >= (this.form === "area" ? 3 : 2); }

  finish(): void {
    if (!this.form || !this.enough()) return;
    const [form, points] = [this.form, this.points];
    if (form !== "ruler") this.stop();
    this.onDone(form, points);
  }

  private draw(): void {
    const g = this.view.drawing;
    g.replaceChildren();
    this.onChange();
    if (!this.form) return;
    const all = [...this.points, ...(this.free ?? [])];
    const ahead = this.hover && !this.free && all.length > 0 ? [...all, this.hover] : all;
    const d = ahead.length > 0 ? "M" + ahead.map((p) => p.join(" ")).join("L") + (this.form === "area" && ahead.length > 2 ? "Z" : "") : "";
    if (this.form === "line") g.append(s("path", { d, class: "ribbon", "stroke-width": this.width, fill: "none" }));
    g.append(s("path", { d, class: `ink-case ${this.form}` }), s("path", { d, class: `ink ${this.form}` }));
    for (const [x, y] of this.points.length < 80 ? this.points : []) g.append(s("circle", { cx: x, cy: y, r: 4 / this.view.scale, class: "dot" }));
  }
}
