import { button, byId, dialog, dm2, h, mm, percent, s, symbol } from "./dom";
import { keys } from "./keys";
import type { Ask, Defect, Dispute, Point, State } from "./model";
import { Panel } from "./panel";
import { get } from "./queue";
import { actWords, opinion, Review } from "./review";
import { theme } from "./theme";
import { Pen, type Form } from "./tool";
import { View } from "./view";

/** kinds that are lines: they are drawn as a line with a width. */
const lineKinds = new Set(["flay_cut", "scar", "scratch", "wrinkle", "vein"]);
const lightWords: Record<string, string> = { top: "Top", back: "From behind", "rake-n": "Low, far", "rake-e": "Low, right", "rake-s": "Low, near", "rake-w": "Low, left" };

/** moveAfterMs: the page moves on by then even if the figures are late. */
const moveAfterMs = 150;

/** Page ties the parts of one hide together. */
export class Page {
  private readonly review: Review;
  private readonly view: View;
  private readonly pen: Pen;
  private readonly panel: Panel;
  private chosen = new Set<number>();
  /** after: what a drawing under way is for. */
  private after: ((form: Form, points: Point[]) => void) | null = null;
  private readonly lightButtons = new Map<string, HTMLButtonElement>();
  private readonly blend = h("input", { type: "range", min: 0, max: 100, value: 100, "aria-label": "How much of this light over top light" });

  constructor(state: State, look: string) {
    this.review = new Review(state, {
      changed: () => this.drawSoon(), yielded: (ms) => this.drawYield(ms), saving: () => this.drawSaved(),
      said: (w, loud) => this.say(w, loud), conflict: (d, mine) => void this.settle(d, mine),
    }, look);
    this.view = new View(byId("view"), state);
    this.pen = new Pen(this.view);
    this.panel = new Panel(this.review, {
      decide: (a) => this.decide(a), kind: () => void this.kind(), open: (o) => this.each({ act: "open", open: o }),
      redraw: () => this.redraw(), split: () => void this.split(), merge: () => this.merge(), note: () => void this.note(),
      choose: (id, more) => this.choose(id, more, true),
      settle: (held) => { const d = state.disputes.find((x) => x.held === held); if (d) void this.settle(d); },
    });
    this.pen.onTap = (x, y, more) => { const d = this.view.at(x, y, 14); if (d) this.choose(d.id, more, false); else if (!more) this.clear(); };
    this.pen.onDone = (form, points) => this.drawn(form, points);
    this.pen.onChange = () => this.hint();
    this.setUp(state);
    this.draw();
    this.drawSaved();
    void this.review.refreshYield().then(() => { if (this.chosen.size === 0) this.step(1); });
    void this.review.queue.send();
  }

  private setUp(state: State): void {
    byId("title").textContent = state.capture.id;
    document.title = `Review of ${state.capture.id}`;
    byId("pass").hidden = state.pass === "";
    const look = byId<HTMLSelectElement>("look");
    for (const l of state.looks) look.append(h("option", { value: l.name, title: l.words, selected: l.name === this.review.look }, l.name));
    look.addEventListener("change", () => { localStorage.setItem("hidechart.look", look.value); this.review.look = look.value; void this.review.refreshYield(); });
    byId("who").addEventListener("click", () => void this.askName());
    this.drawName();
    this.setUpLights();
    this.setUpTools();
    const wrong = [state.read_only ? `Nothing can be decided here: ${state.read_only}` : "",
      state.set_aside ? `The last line of the record was damaged and was set aside as ${state.set_aside}. Look at the last decision once more.` : ""].filter(Boolean);
    byId("banner").hidden = wrong.length === 0;
    byId("banner").textContent = wrong.join(" ");
    keys(this.view.element, (k) => this.key(k), (dx, dy) => this.view.pan(dx, dy));
  }

  private setUpLights(): void {
    const box = byId("lights");
    for (const [i, l] of this.view.lights.entries()) {
      const b = button(lightWords[l] ?? l, () => this.light(l), i < 9 ? String(i + 1) : "", { "data-light": l });
      this.lightButtons.set(l, b);
      box.append(b);
    }
    if (this.view.lights.length > 1) {
      this.blend.addEventListener("input", () => { this.view.setLight(this.view.light, Number(this.blend.value) / 100); this.drawLights(); });
      box.append(h("label", { class: "blend" }, "Mix ", h("kbd", { "aria-hidden": "true" }, "B"), " ", this.blend));
    }
    if (this.view.lights.length === 0) box.append(h("span", { class: "dim" }, "No pictures beside this chart"));
    this.drawLights();
  }

  private setUpTools(): void {
    byId("tools").append(
      button("Undo", () => this.review.ask({ act: "undo" }), "Z"), button("Redo", () => this.review.ask({ act: "redo" }), "⇧Z"),
      button("Add", () => void this.add(), "A"), button("Measure", () => this.measure(), "M"), button("Confirm many", () => void this.many(), "C"),
      button("Whole", () => this.view.home(), "0"), button("Outlines", () => this.hide(), "H"), button("Files", () => void this.files(), "F"), button("Keys", () => void this.help(), "?"));
  }

  // --- what is chosen

  choose(id: number, more: boolean, look: boolean): void {
    if (!more) this.chosen.clear();
    if (more && this.chosen.has(id)) this.chosen.delete(id);
    else this.chosen.add(id);
    const d = this.review.defects.get(id);
    if (d && !this.panel.listed.includes(id)) this.panel.tab = d.status === "candidate" ? "left" : "done";
    this.draw();
    this.panel.show(id);
    if (d && look) this.view.look(d);
    if (d) this.tell(d);
  }

  private clear(): void {
    this.chosen.clear();
    this.draw();
  }

  private tell(d: Defect): void {
    byId("said").textContent = `${d.id}, ${this.review.kind(d.kind).words}, ${d.status === "candidate" ? percent(d.probability) + " likely" : d.status}, ${mm(d.length_mm)} millimetres, ${d.zone}`;
  }

  /** step to the next listed (1) or the one before (-1), leaving out what is being saved. */
  step(by: 1 | -1, from = [...this.chosen].pop()): void {
    const waiting = this.review.queue.ids;
    const list = this.panel.listed.filter((id) => id === from || !waiting.has(id));
    if (list.length === 0) {
      this.clear();
      return;
    }
    const at = from === undefined ? -1 : list.indexOf(from);
    const to = at < 0 ? (by > 0 ? 0 : list.length - 1) : Math.min(list.length - 1, Math.max(0, at + by));
    this.choose(list[to], false, true);
  }

  // --- decisions

  private ready(need: number): number[] | null {
    const ids = [...this.chosen];
    if (ids.length < need) {
      this.say(need > 1 ? "Choose two or more first (Shift and click)." : "Choose one first.", true);
      return null;
    }
    if (!this.review.who) {
      void this.askName();
      return null;
    }
    return ids;
  }

  private decide(act: "confirm" | "reject"): void {
    this.move?.(); // typed ahead: it is about the next one already
    const ids = this.ready(1);
    if (!ids) return;
    const list = this.panel.listed;
    const last = ids[ids.length - 1];
    const at = list.indexOf(last);
    const waiting = this.review.queue.ids; // decided already, whatever their place in the list
    const next = [...list.slice(at + 1), ...list.slice(0, Math.max(0, at))].find((id) => !ids.includes(id) && !waiting.has(id));
    this.review.ask({ act }, ids);
    if (this.panel.tab === "left") this.goOn(next);
  }

  /** goOn to the next candidate once the figures are there: drawing it would hold them up. */
  private goOn(next: number | undefined): void {
    const go = (): void => {
      if (this.move !== go) return;
      this.move = null;
      if (next !== undefined) this.choose(next, false, true);
      else this.clear();
    };
    this.move = go;
    window.setTimeout(go, moveAfterMs);
  }

  private move: (() => void) | null = null;

  private each(a: { act: string; kind?: string; open?: boolean }): void {
    const ids = this.ready(1);
    if (ids) this.review.ask(a, ids);
  }

  /** kind: one button for each, with a letter. */
  private async kind(): Promise<void> {
    const ids = this.ready(1);
    if (!ids) return;
    const now = ids.length === 1 ? this.review.defects.get(ids[0])?.kind : "";
    const grid = h("div", { class: "kinds" });
    let got = "";
    const choose = (k: string): void => { got = k; grid.closest("dialog")?.close(); };
    for (const [i, m] of [...this.review.marks.values()].entries()) {
      const letter = String.fromCharCode(65 + i);
      const b = button(m.words, () => choose(m.kind), letter, { "data-kind": m.kind, "data-letter": letter.toLowerCase(), "aria-current": m.kind === now ? "true" : undefined });
      b.prepend(symbol(m));
      grid.append(b);
    }
    grid.addEventListener("keydown", (e) => grid.querySelector<HTMLButtonElement>(`[data-letter="${e.key.toLowerCase()}"]`)?.click());
    await dialog(`What is ${ids.join(", ")}?`, [grid], [{ value: "", words: "Leave" }], () => (grid.querySelector<HTMLElement>("[aria-current]") ?? grid.querySelector<HTMLElement>("button"))?.focus());
    if (got && got !== now) this.each({ act: "kind", kind: got });
  }

  private merge(): void {
    const ids = this.ready(2);
    if (!ids) return;
    this.review.ask({ act: "merge" }, ids);
    this.chosen = new Set([Math.min(...ids)]);
    this.draw();
  }

  private async split(): Promise<void> {
    const ids = this.ready(1);
    if (!ids) return;
    const d = this.review.defects.get(ids[0]);
    if (!d) return;
    const parts = d.geometry.type === "MultiPolygon" ? d.geometry.coordinates.length : 1;
    if (parts > 1) {
      const how = await dialog(`Split ${d.id}`, [h("p", {}, `It has ${parts} parts.`)], [{ value: "line", words: "Along a line I draw" }, { value: "parts", words: "Each part by itself" }]);
      if (how === null) return;
      if (how === "parts") {
        this.review.ask({ act: "split" }, [d.id]);
        return;
      }
    }
    this.start("cut", 1, (_, points) => this.review.ask({ act: "split", cut: points }, [d.id]));
  }

  private redraw(): void {
    const ids = this.ready(1);
    const d = ids && this.review.defects.get(ids[0]);
    if (!d) return;
    const line = lineKinds.has(d.kind);
    this.start(line ? "line" : "area", Math.max(1, Math.min(40, d.width_mm)), (form, points) => this.review.ask({ act: "redraw", drawn: shape(form, points, this.pen.width) }, [d.id]));
  }

  private async add(): Promise<void> {
    if (!this.review.who && !(await this.askName())) return;
    const kind = h("select", { id: "add-kind" }, ...[...this.review.marks.values()].map((m) => h("option", { value: m.kind }, m.words)));
    const how = h("select", { id: "add-how" }, h("option", { value: "area" }, "round its edge"), h("option", { value: "line" }, "along it, as a line"));
    const width = h("input", { id: "add-width", type: "number", min: 0.5, max: 100, step: 0.5, value: 3 });
    const open = h("input", { id: "add-open", type: "checkbox" });
    const wide = h("label", {}, "Width of the line, mm ", width);
    const fit = (): void => { how.value = lineKinds.has(kind.value) ? "line" : "area"; wide.hidden = how.value === "area"; };
    kind.addEventListener("change", fit);
    how.addEventListener("change", () => { wide.hidden = how.value === "area"; });
    kind.value = localStorage.getItem("hidechart.kind") ?? "scar";
    fit();
    const ok = await dialog("Add a flaw", [h("label", {}, "Kind ", kind), h("label", {}, "I draw ", how), wide, h("label", { class: "check" }, open, " open, not healed")],
      [{ value: "draw", words: "Draw it" }, { value: "", words: "Leave" }]);
    if (!ok) return;
    localStorage.setItem("hidechart.kind", kind.value);
    this.start(how.value as Form, Number(width.value), (form, points) => {
      this.review.ask({ act: "add", kind: kind.value, open: open.checked, drawn: shape(form, points, this.pen.width) });
    });
  }

  private measure(): void { this.start("ruler", 1, () => {}); }

  private start(form: Form, width: number, after: (form: Form, points: Point[]) => void): void {
    this.after = after;
    this.pen.start(form, width);
    this.view.element.focus();
  }

  private drawn(form: Form, points: Point[]): void {
    if (form === "ruler") return;
    this.after?.(form, points);
    this.after = null;
    this.hint();
  }

  private async note(): Promise<void> {
    if (!this.review.who && !(await this.askName())) return;
    const ids = [...this.chosen].slice(0, 1);
    const text = h("textarea", { id: "note-text", rows: 4, maxlength: 2000 });
    const ok = await dialog(ids.length > 0 ? `Note on ${ids[0]}` : "Note on the hide", [h("label", {}, "In a few words ", text)], [{ value: "keep", words: "Keep it" }, { value: "", words: "Leave" }], () => text.focus());
    if (ok && text.value.trim()) this.review.ask({ act: "note", text: text.value.trim() }, ids);
  }

  private async many(): Promise<void> {
    if (!this.review.who && !(await this.askName())) return;
    const left = [...this.review.defects.values()].filter((d) => d.status === "candidate");
    const chosen = this.review.defects.get([...this.chosen][0] ?? -1);
    const kind = h("select", { id: "many-kind" }, ...[...this.review.marks.values()].map((m) => h("option", { value: m.kind, selected: m.kind === chosen?.kind }, `${m.words} (${left.filter((d) => d.kind === m.kind).length})`)));
    const from = h("input", { id: "many-from", type: "number", min: 0, max: 100, value: 90 });
    const told = h("p", { role: "status" });
    const which = (): number[] => left.filter((d) => d.kind === kind.value && d.probability >= Number(from.value) / 100).map((d) => d.id);
    const count = (): void => { told.textContent = `${which().length} will be confirmed.`; };
    kind.addEventListener("change", count);
    from.addEventListener("input", count);
    count();
    const ok = await dialog("Confirm all of a kind", [h("label", {}, "Kind ", kind), h("label", {}, "At least this likely, % ", from), told], [{ value: "yes", words: "Confirm them" }, { value: "", words: "Leave" }]);
    if (ok && which().length > 0) this.review.ask({ act: "confirm" }, which());
  }

  /** settle two opinions. */
  private async settle(d: Dispute, mine?: Ask): Promise<void> {
    const name = d.who === this.review.who ? "You" : d.who;
    const body = [h("p", {}, `${d.against_who} ${actWords(d.against_act)} ${d.defect}.`), h("p", {}, `${name}, without having seen that: ${opinion(d, this.review.kind(d.after.kind).words)}.`), h("p", {}, "Both are in the record. Until somebody chooses, the first stands.")];
    const again = mine ? { ...mine } : this.againFrom(d);
    const answers = [{ value: "keep", words: `Keep ${d.against_who}’s` }];
    if (again) answers.push({ value: "mine", words: `Use ${name === "You" ? "mine" : name + "’s"}` });
    answers.push({ value: "later", words: "Later" });
    const got = await dialog(`Two opinions on ${d.defect}`, body, answers);
    if (got === "keep") this.review.ask({ act: "keep" }, [d.defect]);
    if (got === "mine" && again) {
      const ids = (again.targets ?? []).map((t) => t.id);
      const only = ["confirm", "reject", "kind", "open", "redraw"].includes(again.act) ? [d.defect] : ids;
      this.review.ask({ act: again.act, kind: again.kind, open: again.open, drawn: again.drawn, cut: again.cut, text: again.text }, only);
    }
  }

  /** againFrom makes the request that would do what a held decision wanted. */
  private againFrom(d: Dispute): Ask | null {
    const a = { key: "", who: "", act: d.act, targets: [{ id: d.defect, seen: 0 }] };
    switch (d.act) {
      case "confirm": case "reject": return a;
      case "kind": return { ...a, kind: d.after.kind };
      case "open": return { ...a, open: d.after.open };
      case "redraw": return { ...a, drawn: { shape: d.after.geometry } };
      default: return null;
    }
  }

  // --- light

  private light(l: string): void {
    this.view.setLight(l, Number(this.blend.value) / 100);
    this.drawLights();
    byId("said").textContent = `Light: ${lightWords[l] ?? l}`;
  }

  private nextLight(): void {
    const all = this.view.lights;
    if (all.length > 1) this.light(all[(all.indexOf(this.view.light) + 1) % all.length]);
  }

  private mix(): void {
    this.blend.value = this.blend.value === "100" ? "50" : "100";
    this.light(this.view.light);
  }

  private drawLights(): void {
    for (const [l, b] of this.lightButtons) b.setAttribute("aria-pressed", String(l === this.view.light));
  }

  private hide(): void {
    this.view.hidden = !this.view.hidden;
    this.draw();
  }

  // --- what is shown

  private drawing = false;
  private order = "";

  /** drawSoon draws once for whatever changes before the next frame. */
  private drawSoon(): void {
    if (this.drawing) return;
    this.drawing = true;
    requestAnimationFrame(() => {
      this.drawing = false;
      const order = this.panel.listed.join();
      this.draw();
      const last = [...this.chosen].pop();
      if (order !== this.order && last !== undefined) this.panel.show(last); // the row has moved
      this.order = order;
    });
  }

  private draw(): void {
    for (const id of this.chosen) if (!this.review.defects.has(id)) this.chosen.delete(id);
    this.panel.chosen = this.chosen;
    this.panel.draw();
    this.view.draw([...this.review.defects.values()], this.review.marks, this.chosen, new Set(this.review.state.disputes.map((d) => d.defect)));
  }

  private drawYield(ms: number): void {
    const y = this.review.yield;
    if (!y) return;
    byId("cut").textContent = `${dm2(y.cuttable_mm2.median)} dm²`;
    byId("range").textContent = `${dm2(y.cuttable_mm2.p10)}–${dm2(y.cuttable_mm2.p90)} dm² · ${percent(y.cuttable_share.median)} of the hide${y.refused_chance >= 0.5 ? " · refused for this look" : ""}`;
    const p = (v: number): number => Math.max(0, Math.min(100, 100 * v));
    byId("gauge").replaceChildren(
      s("rect", { x: 0, y: 3, width: 100, height: 4, class: "gauge-all" }),
      s("rect", { x: p(y.cuttable_share.p10), y: 1, width: Math.max(0.6, p(y.cuttable_share.p90) - p(y.cuttable_share.p10)), height: 8, class: "gauge-range" }),
      s("rect", { x: p(y.cuttable_share.median) - 0.3, y: 0, width: 0.6, height: 10, class: "gauge-mid" }));
    if (ms > 0) byId("yield").dataset.ms = ms.toFixed(0);
    if (ms > 0 && this.move) requestAnimationFrame(this.move);
    byId("yield").title = y.unmet.length > 0 ? y.unmet.join("; ") : y.words;
  }

  private drawSaved(): void {
    const n = this.review?.queue?.length ?? 0;
    const e = byId("saved");
    const trouble = this.review?.queue?.trouble ?? "";
    e.textContent = n === 0 ? "All saved" : trouble ? `${n} not saved: ${trouble}. Kept in this browser, sent again by itself.` : "Saving…";
    e.className = n === 0 ? "saved" : trouble ? "saved fault" : "saved busy";
  }

  private drawName(): void { byId("who").textContent = this.review.who || "Your name"; }

  private async askName(): Promise<boolean> {
    const name = h("input", { id: "who-name", type: "text", maxlength: 80, value: this.review.who, autocomplete: "name" });
    const ok = await dialog("Who reviews?", [h("p", {}, "Your name goes into the record with each decision."), h("label", {}, "Name ", name)], [{ value: "ok", words: "That is me" }, { value: "", words: "Leave" }], () => name.focus());
    if (ok && name.value.trim()) this.review.who = name.value.trim();
    this.drawName();
    return Boolean(this.review.who);
  }

  private say(words: string, loud = false): void {
    byId("said").textContent = words;
    const hint = byId("hint");
    hint.textContent = words;
    hint.className = loud ? "hint fault" : "hint";
    window.setTimeout(() => { if (hint.textContent === words) this.hint(); }, 6000);
  }

  private hint(): void {
    const e = byId("hint");
    e.className = "hint";
    const form = this.pen.form;
    const how = "drag, or tap point by point; Enter ends, Backspace takes a point back, Escape leaves. By keyboard: arrows move the cross, Space sets a point";
    if (!form) e.textContent = "";
    else if (form === "ruler") e.textContent = this.pen.count > 1 ? `${mm(this.pen.length)} mm` : `Measure: ${how}.`;
    else e.textContent = `${form === "cut" ? "Draw the cut" : form === "line" ? "Draw along it" : "Draw round it"}: ${how}.`;
    byId("hint").dataset.length = form === "ruler" ? this.pen.length.toFixed(2) : "";
    const actions = form ? [button("Done", () => (form === "ruler" ? this.leave() : this.pen.finish())), button("Leave", () => this.leave())] : [];
    if (form) e.append(" ", ...actions);
  }

  private leave(): void {
    this.pen.stop();
    this.after = null;
    this.hint();
  }

  /** files: the reviewed chart for other programs, and shapes from them. */
  private async files(): Promise<void> {
    const api = `/api/charts/${encodeURIComponent(this.review.state.name)}`;
    const formats: [string, string][] = [["svg", "drawing true to size, SVG"], ["dxf", "CAD, DXF"], ["geojson", "shapes, GeoJSON"], ["csv", "table, CSV"], ["webannotation", "shapes on the picture, W3C Web Annotation"], ["coco", "shapes on the picture, COCO"]];
    const links = h("ul", {}, ...formats.map(([f, w]) => h("li", {}, h("a", { href: `${api}/export/${f}`, download: true }, w))));
    const file = h("input", { type: "file", id: "import-file", accept: ".json" });
    const kind = h("select", { id: "import-kind" }, h("option", { value: "webannotation" }, "W3C Web Annotation"), h("option", { value: "coco" }, "COCO"));
    const ok = await dialog("Files", [h("p", {}, "With the decisions so far:"), links, h("label", {}, "Take in shapes of others, as ", kind), h("label", {}, "File ", file)], [{ value: "in", words: "Take them in" }, { value: "", words: "Leave" }]);
    if (!ok || !file.files?.[0] || (!this.review.who && !(await this.askName()))) return;
    try {
      const r = await fetch(`${api}/import/${kind.value}?who=${encodeURIComponent(this.review.who)}`, { method: "POST", credentials: "same-origin", headers: { "Content-Type": "application/json" }, body: await file.files[0].text() });
      const got = (await r.json()) as { read?: number; decided?: number; error?: string };
      this.say(r.ok ? `${got.read} shapes read, ${got.decided} decisions made.` : (got.error ?? "not taken"), !r.ok);
      await this.review.reload();
    } catch {
      this.say("The program does not answer; nothing was taken in.", true);
    }
  }

  private async help(): Promise<void> {
    const rows: [string, string][] = [["↓ ↑", "next, the one before (in the list)"], ["Y", "a flaw, and on to the next"], ["N", "no flaw, and on to the next"], ["K", "change the kind"], ["O", "open or healed"],
      ["R", "redraw"], ["S", "split"], ["J", "join those chosen"], ["T", "note"], ["A", "add a flaw"], ["C", "confirm all of a kind"], ["Z", "undo"], ["⇧Z", "redo"], ["M", "measure a length"],
      ["L", "next light"], ["1–9", "a light by its place"], ["B", "mix with top light"], ["H", "outlines on or off"], ["F", "files: shapes out and in"], ["G", "back to the picture or the list"], ["← → (picture)", "pan; + and − zoom, 0 the whole hide"], ["Space", "draw: set a point at the cross"], ["Enter", "draw: done"], ["Esc", "leave what is under way"]];
    const single = h("input", { type: "checkbox", id: "single", checked: localStorage.getItem("hidechart.keys") !== "off" });
    single.addEventListener("change", () => localStorage.setItem("hidechart.keys", single.checked ? "on" : "off"));
    await dialog("Keys", [h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Keys" }, h("table", { class: "keys" }, h("tbody", {}, ...rows.map(([k, w]) => h("tr", {}, h("th", { scope: "row" }, h("kbd", {}, k)), h("td", {}, w)))))),
      h("label", { class: "check" }, single, " single keys work (off for speech input)")], [{ value: "", words: "Close" }]);
  }

  /** key does what a key is for; true when it was for us. */
  private key(k: string): boolean {
    if (this.pen.form) return this.penKey(k);
    const acts: Record<string, () => void> = {
      ArrowDown: () => this.step(1), ArrowUp: () => this.step(-1), y: () => this.decide("confirm"), n: () => this.decide("reject"),
      k: () => void this.kind(),
      o: () => { const d = this.review.defects.get([...this.chosen][0] ?? -1); if (d) this.each({ act: "open", open: !d.open }); },
      r: () => this.redraw(), s: () => void this.split(), j: () => this.merge(), t: () => void this.note(), a: () => void this.add(), c: () => void this.many(),
      z: () => this.review.ask({ act: "undo" }), Z: () => this.review.ask({ act: "redo" }), m: () => this.measure(), l: () => this.nextLight(), b: () => this.mix(),
      f: () => void this.files(), h: () => this.hide(), g: () => this.hop(), "0": () => this.view.home(), "+": () => this.view.zoom(1.4), "=": () => this.view.zoom(1.4), "-": () => this.view.zoom(1 / 1.4),
      "?": () => void this.help(), Escape: () => this.clear(),
    };
    const light = /^[1-9]$/.test(k) ? this.view.lights[Number(k) - 1] : undefined;
    if (light) this.light(light);
    else if (!acts[k]) return false;
    else acts[k]();
    return true;
  }

  private penKey(k: string): boolean {
    switch (k) {
      case " ": this.pen.tap(this.view.centre); return true;
      case "Enter": if (this.pen.form === "ruler") this.leave(); else this.pen.finish(); return true;
      case "Backspace": this.pen.back(); return true;
      case "Escape": this.leave(); return true;
      case "+": case "=": this.view.zoom(1.4); return true;
      case "-": this.view.zoom(1 / 1.4); return true;
      case "l": this.nextLight(); return true;
    }
    return false;
  }

  /** hop between the picture and the list. */
  private hop(): void {
    if (document.activeElement === this.view.element) (document.querySelector<HTMLElement>("#list [aria-current]") ?? byId("list")).focus();
    else this.view.element.focus();
  }
}

function shape(form: Form, points: Point[], width: number): { shape?: { type: "Polygon"; coordinates: Point[][] }; line?: Point[]; width_mm?: number } {
  return form === "line" ? { line: points, width_mm: width } : { shape: { type: "Polygon", coordinates: [[...points, points[0]]] } };
}

async function open(): Promise<void> {
  theme();
  const name = decodeURIComponent(location.pathname.split("/").pop() ?? "");
  const pass = new URLSearchParams(location.search).get("pass");
  const state = await get<State>(`/api/charts/${encodeURIComponent(name)}${pass ? `?pass=${encodeURIComponent(pass)}` : ""}`);
  const wanted = localStorage.getItem("hidechart.look");
  const look = state.looks.some((l) => l.name === wanted) ? wanted! : state.looks[0].name;
  new Page(state, look);
  document.documentElement.dataset.ready = "yes";
}

open().catch((e: Error) => { byId("banner").hidden = false; byId("banner").textContent = e.message; });
