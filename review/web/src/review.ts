import type { Ask, Change, Defect, Dispute, Mark, State, Yield } from "./model";
import { get, newKey, Queue, type Fault } from "./queue";

/** Who hears what. */
export interface Ears {
  changed: () => void; // defects, notes, disputes
  yielded: (ms: number) => void;
  saving: () => void;
  said: (words: string, loud?: boolean) => void;
  conflict: (d: Dispute, mine: Ask) => void;
}

/** Review is the chart as it is now, and what the reviewer does to it. */
export class Review {
  readonly defects = new Map<number, Defect>();
  readonly marks: Map<string, Mark>;
  yield: Yield | null = null;
  order: number[] = [];
  look: string;
  private readonly api: string;
  private readonly query: string;
  readonly queue: Queue;
  /** since: when the reviewer acted, to tell how long the figures took. */
  private since = 0;

  constructor(readonly state: State, private readonly ears: Ears, look: string) {
    this.api = `/api/charts/${encodeURIComponent(state.name)}`;
    this.query = state.pass ? `?pass=${state.pass}` : "";
    this.marks = new Map(state.marks.map((m) => [m.kind, m]));
    this.look = look;
    this.take();
    this.queue = new Queue(`${this.api}/decisions${this.query}`, `hidechart.unsaved/${state.chart_sha256}/${state.pass}`,
      (c, a) => this.saved(c, a), (f, a) => this.refused(f, a), () => ears.saving());
    this.listen();
  }

  private take(): void {
    this.defects.clear();
    for (const d of this.state.defects) this.defects.set(d.id, d);
    this.sort();
  }

  get who(): string { return localStorage.getItem("hidechart.who") ?? ""; }
  set who(name: string) { localStorage.setItem("hidechart.who", name); }

  kind(k: string): Mark { return this.marks.get(k) ?? { kind: k, words: k, colour: "#fff", strokes: "", fills: "" }; }

  /** sort: what moves the yield most first, then what is most likely. */
  private sort(): void {
    const moves = new Map((this.yield?.look_first ?? []).map((w) => [w.id, w.moves_mm2]));
    this.order = [...this.defects.values()]
      .sort((a, b) => (moves.get(b.id) ?? 0) - (moves.get(a.id) ?? 0) || b.probability - a.probability || a.id - b.id).map((d) => d.id);
  }

  /** moves of the expected cuttable area when a candidate is decided, mm². */
  moves(id: number): number { return this.yield?.look_first?.find((w) => w.id === id)?.moves_mm2 ?? 0; }

  async refreshYield(): Promise<void> {
    const q = new URLSearchParams({ look: this.look });
    if (this.state.pass) q.set("pass", this.state.pass);
    this.setYield(await get<Yield>(`${this.api}/yield?${q}`), 0);
  }

  private setYield(y: Yield, ms: number): void {
    if (y.look !== this.look || (this.yield && this.yield.look === y.look && y.seq < this.yield.seq)) return;
    this.yield = y;
    this.sort();
    this.ears.yielded(ms);
    this.ears.changed();
  }

  /** ask queues a decision. */
  ask(a: Omit<Ask, "key" | "who" | "look" | "targets">, ids: number[] = []): void {
    this.since = performance.now();
    this.queue.push({ ...a, key: newKey(), who: this.who, look: this.look, targets: ids.map((id) => ({ id, seen: this.state.revision[id] ?? 0 })) });
  }

  private saved(c: Change, a: Ask): void {
    this.apply(c);
    if (c.yield) this.setYield(c.yield, performance.now() - this.since);
    if (c.held) {
      const mine = c.disputes.find((d) => d.held === c.decision.seq);
      if (mine) this.ears.conflict(mine, a);
    }
  }

  private refused(f: Fault, a: Ask): void {
    this.ears.said(f.status === 404 && (a.act === "undo" || a.act === "redo") ? `There is nothing to ${a.act}.` : f.message, true);
  }

  private apply(c: Change): void {
    for (const t of c.touched) {
      if ((this.state.revision[t.id] ?? 0) > t.revision) continue; // a later word is here already
      this.state.revision[t.id] = t.revision;
      if (t.defect) this.defects.set(t.id, t.defect);
      else this.defects.delete(t.id);
    }
    if (c.progress.last >= this.state.progress.last) {
      Object.assign(this.state, { disputes: c.disputes, notes: c.notes, progress: c.progress, flags: c.flags ?? [] });
    }
    this.sort();
    this.ears.changed();
  }

  /** reload takes the whole state anew. */
  async reload(): Promise<void> {
    Object.assign(this.state, await get<State>(this.api + this.query));
    this.take();
    await this.refreshYield();
    this.ears.changed();
  }

  /** listen to what others decide. */
  private listen(): void {
    const events = new EventSource(`${this.api}/events${this.query}`);
    events.addEventListener("hello", (e) => {
      const { last, chart_sha256 } = JSON.parse((e as MessageEvent<string>).data) as { last: number; chart_sha256: string };
      if (chart_sha256 !== this.state.chart_sha256) location.reload();
      else if (last > this.state.progress.last) void this.reload();
      void this.queue.send();
    });
    events.addEventListener("decision", (e) => {
      const c = JSON.parse((e as MessageEvent<string>).data) as Change;
      // our own comes with the answer to it, and with the figures
      if (c.decision.seq <= this.state.progress.last || this.queue.has(c.decision.key)) return;
      this.apply(c);
      if (c.decision.who !== this.who) this.ears.said(`${c.decision.who}: ${actWords(c.decision.act)} ${c.touched.map((t) => t.id).join(", ")}`);
      void this.refreshYield();
    });
  }
}

/** actWords says an act of somebody else. */
export function actWords(act: string): string {
  const words: Record<string, string> = {
    confirm: "says it is a flaw:", reject: "says it is none:", kind: "changed the kind of", open: "changed open or healed of", redraw: "redrew",
    split: "split", merge: "joined", add: "added", keep: "kept", note: "left a note", undo: "took back a decision on", redo: "brought back a decision on",
  };
  return words[act] ?? act;
}

/** opinion is what a held decision says of its defect. */
export function opinion(d: Dispute, kind: string): string {
  switch (d.act) {
    case "confirm": return "it is a flaw";
    case "reject": return "it is none";
    case "kind": return `it is a ${kind}`;
    case "open": return d.after.open ? "it is open" : "it is healed";
    case "redraw": return "its shape is another";
  }
  return `${d.act}`;
}
