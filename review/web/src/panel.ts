import { button, byId, dm2, h, mm, percent, sized, symbol } from "./dom";
import type { Defect } from "./model";
import type { Review } from "./review";

export type Tab = "left" | "done" | "all";

/** What the card's buttons do. */
export interface Acts {
  decide: (act: "confirm" | "reject") => void;
  kind: () => void;
  open: (open: boolean) => void;
  redraw: () => void;
  split: () => void;
  merge: () => void;
  note: () => void;
  choose: (id: number, more: boolean) => void;
  settle: (held: number) => void;
}

const statusWords: Record<string, string> = { candidate: "to decide", confirmed: "a flaw", rejected: "no flaw", added: "added by hand" };

/** Panel is the list at the side and the card of what is chosen. */
export class Panel {
  tab: Tab = "left";
  private readonly list = byId<HTMLOListElement>("list");
  private readonly card = byId("card");
  private rows = new Map<number, HTMLLIElement>();

  constructor(private readonly review: Review, private readonly acts: Acts) {
    for (const b of document.querySelectorAll<HTMLButtonElement>("[data-tab]")) {
      b.addEventListener("click", () => { this.tab = b.dataset.tab as Tab; this.draw(); });
    }
    this.list.addEventListener("click", (e) => {
      const row = (e.target as Element).closest<HTMLElement>("[data-id]");
      if (row) acts.choose(Number(row.dataset.id), e.shiftKey || e.ctrlKey || e.metaKey);
    });
    for (const part of [this.list, this.card]) part.addEventListener("pointerdown", (e) => { this.pressed = e.button === 0; });
    // a key or another window takes over from a finger whose lifting is never heard of
    const over = (): void => { this.pressed = false; setTimeout(() => this.caughtUp()); };
    for (const end of ["click", "keydown"]) window.addEventListener(end, over, true);
    window.addEventListener("blur", over); // the window's own: that of a part of the page does not bubble up to it
    for (const end of ["pointerup", "pointercancel"]) window.addEventListener(end, () => setTimeout(() => { this.pressed = false; this.caughtUp(); }, 300));
  }

  /** pressed while a finger or the mouse is down on what would be drawn anew: its click would be lost. */
  private pressed = false;
  private behind = false;

  private caughtUp(): void {
    if (this.behind && !this.pressed) this.draw();
  }

  chosen = new Set<number>();

  /** ids listed, in their order. */
  get listed(): number[] {
    return this.review.order.filter((id) => {
      const d = this.review.defects.get(id);
      return d && (this.tab === "all" || (d.status === "candidate") === (this.tab === "left"));
    });
  }

  draw(): void {
    for (const b of document.querySelectorAll<HTMLButtonElement>("[data-tab]")) b.setAttribute("aria-pressed", String(b.dataset.tab === this.tab));
    const all = [...this.review.defects.values()];
    const left = all.filter((d) => d.status === "candidate").length;
    byId("n-left").textContent = String(left);
    byId("n-done").textContent = String(all.length - left);
    byId("n-all").textContent = String(all.length);
    const p = byId<HTMLProgressElement>("progress");
    p.max = Math.max(1, all.length);
    p.value = all.length - left;
    this.behind = this.pressed;
    if (this.pressed) return;
    this.drawList();
    this.drawCard();
  }

  private drawList(): void {
    const waiting = this.review.queue.ids;
    const held = document.activeElement?.closest<HTMLElement>("#list [data-id]")?.dataset.id;
    const rows = this.listed.map((id) => this.row(this.review.defects.get(id)!, waiting.has(id)));
    this.rows = new Map(rows.map((r) => [Number(r.dataset.id), r]));
    if (rows.length === 0) {
      rows.push(h("li", { class: "empty" }, this.tab === "left" ? "All decided." : "None yet."));
    }
    this.list.replaceChildren(...rows);
    if (held) this.rows.get(Number(held))?.querySelector("button")?.focus({ preventScroll: true });
  }

  private row(d: Defect, waiting: boolean): HTMLLIElement {
    const k = this.review.kind(d.kind);
    const moves = this.review.moves(d.id);
    const disputed = this.review.state.disputes.some((x) => x.defect === d.id);
    const words = `${d.id} ${k.words}${d.open ? ", open" : ""}`;
    const detail = [this.tab === "left" ? "" : statusWords[d.status], d.status === "candidate" ? `${percent(d.probability)} likely` : "", `${mm(d.length_mm)} mm`, d.zone].filter(Boolean).join(" · ");
    const b = h("button", { type: "button", "data-id": d.id, "aria-current": this.chosen.has(d.id) ? "true" : undefined },
      symbol(k), h("span", { class: "row-words" }, h("b", {}, words), h("span", { class: "dim" }, detail)),
      h("span", { class: "row-end" }, disputed ? h("span", { class: "badge fault" }, "disagreed") : waiting ? h("span", { class: "badge" }, "not saved yet")
        : moves > 0 ? h("span", { class: "moves", title: "moves the cuttable area by, on average" }, `± ${moves < 1000 ? `${(moves / 100).toFixed(1)} cm²` : `${dm2(moves)} dm²`}`) : ""));
    return h("li", { "data-id": d.id, class: d.status }, b);
  }

  private drawCard(): void {
    const ids = [...this.chosen];
    const held = (document.activeElement as HTMLElement | null)?.dataset.part;
    if (ids.length === 0) {
      this.card.replaceChildren(h("p", { class: "dim" }, "Choose one in the list or on the hide."), ...this.notes(undefined));
      return;
    }
    if (ids.length > 1) {
      this.card.replaceChildren(h("p", {}, `${ids.length} chosen: ${ids.join(", ")}`),
        h("div", { class: "acts" }, this.act("confirm", "A flaw", () => this.acts.decide("confirm"), "Y"), this.act("reject", "No flaw", () => this.acts.decide("reject"), "N"),
          this.act("merge", "Join into one", this.acts.merge, "J")));
    } else {
      const d = this.review.defects.get(ids[0]);
      if (d) this.card.replaceChildren(...this.one(d));
    }
    if (held) this.card.querySelector<HTMLElement>(`[data-part="${held}"]`)?.focus({ preventScroll: true });
  }

  private act(part: string, words: string, f: () => void, key: string): HTMLButtonElement {
    return button(words, f, key, { "data-part": part, class: part });
  }

  /** open or healed. */
  private toggle(d: Defect): HTMLButtonElement {
    const b = this.act("open", "Open", () => this.acts.open(!d.open), "O");
    b.setAttribute("aria-pressed", String(d.open));
    b.title = d.open ? "Open: not healed. Press for healed." : "Healed. Press for open.";
    return b;
  }

  private one(d: Defect): Node[] {
    const k = this.review.kind(d.kind);
    const facts: [string, string][] = [
      ["Size", `${sized(d.length_mm, d.length_u_mm)} × ${sized(d.width_mm, d.width_u_mm)} mm, ${d.area_mm2 >= 1e4 ? dm2(d.area_mm2) + " dm²" : (d.area_mm2 / 100).toFixed(1) + " cm²"}${d.count ? `, ${d.count} together` : ""}`],
      ["Where", `${d.zone || "zone unknown"}, ${mm(d.edge_distance_mm)} mm from the edge`],
      ["Seen under", d.lights.join(", ") || "drawn by hand"],
    ];
    const dispute = this.review.state.disputes.find((x) => x.defect === d.id);
    return [
      h("h2", { class: "card-title" }, symbol(k), `${d.id} ${k.words} `, h("span", { class: `tag ${d.status}` }, statusWords[d.status]), h("span", { class: "dim" }, d.status === "added" ? "" : `${percent(d.probability)} likely`)),
      ...(dispute ? [h("div", { class: "fault box" }, h("p", {}, `${dispute.against_who} and ${dispute.who} disagree.`), button("Settle it", () => this.acts.settle(dispute.held)))] : []),
      h("div", { class: "acts" }, this.act("confirm", "A flaw", () => this.acts.decide("confirm"), "Y"), this.act("reject", "No flaw", () => this.acts.decide("reject"), "N")),
      h("div", { class: "acts" }, this.act("kind", "Change kind", this.acts.kind, "K"),
        this.toggle(d)),
      h("div", { class: "acts" }, this.act("redraw", "Redraw", this.acts.redraw, "R"), this.act("split", "Split", this.acts.split, "S"), this.act("note", "Note", this.acts.note, "T")),
      h("dl", { class: "facts" }, ...facts.map(([a, b]) => h("div", {}, h("dt", {}, a), h("dd", {}, b)))),
      ...(d.advice ? [h("p", { class: "caution" }, d.advice)] : []),
      ...this.notes(d.id),
    ];
  }

  private notes(id: number | undefined): Node[] {
    const notes = this.review.state.notes.filter((n) => n.defect === id);
    const flags = id === undefined ? this.review.state.flags : [];
    return [
      ...(notes.length > 0 ? [h("h3", {}, "Notes"), h("ul", { class: "notes" }, ...notes.map((n) => h("li", {}, h("b", {}, n.who + " "), n.text)))] : []),
      ...(flags.length > 0 ? [h("h3", {}, "To check"), h("ul", { class: "notes" }, ...flags.map((f) => h("li", {}, f.text)))] : []),
    ];
  }

  /** show scrolls a row into sight. */
  show(id: number): void {
    this.rows.get(id)?.scrollIntoView({ block: "nearest" });
  }
}
