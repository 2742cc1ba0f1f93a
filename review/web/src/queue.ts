import type { Ask, Change } from "./model";

/** Fault is an answer that says no, in words. */
export class Fault extends Error {
  constructor(readonly status: number, text: string) { super(text); }
}

/** get asks the API. */
export async function get<T>(path: string): Promise<T> {
  return answer<T>(await fetch(path, { credentials: "same-origin" }));
}

async function answer<T>(r: Response): Promise<T> {
  const body: unknown = await r.json().catch(() => ({}));
  if (!r.ok) throw new Fault(r.status, (body as { error?: string }).error ?? `the program answers ${r.status}`);
  return body as T;
}

/** newKey names a decision, so that it is recorded once however often it is sent. */
export function newKey(): string {
  const b = crypto.getRandomValues(new Uint8Array(12));
  return Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
}

/** retryMs between tries while the program does not answer or cannot save. */
const retryMs = 1500;

/**
 * Queue sends decisions one after the other and keeps what is not yet saved in
 * the browser's storage: a page closed, a program stopped, a full disk lose none.
 */
export class Queue {
  private waiting: Ask[] = [];
  private busy = false;
  private readonly key: string;
  trouble = "";

  constructor(private readonly path: string, key: string,
    private readonly saved: (c: Change, a: Ask, ms: number) => void,
    private readonly refused: (f: Fault, a: Ask) => void,
    private readonly changed: () => void) {
    // each tab keeps its own; what a closed one left is taken over, and sent twice is recorded once
    const mine = `${key}/${newKey()}`;
    for (const k of Object.keys(localStorage).filter((k) => k.startsWith(key + "/"))) {
      try {
        this.waiting.push(...(JSON.parse(localStorage.getItem(k) ?? "[]") as Ask[]));
        localStorage.removeItem(k);
      } catch { /* what another program left there is no decision */ }
    }
    this.key = mine;
    if (this.waiting.length > 0) localStorage.setItem(mine, JSON.stringify(this.waiting));
  }

  get length(): number { return this.waiting.length; }

  /** ids that a waiting decision names. */
  get ids(): Set<number> { return new Set(this.waiting.flatMap((a) => (a.targets ?? []).map((t) => t.id))); }

  /** has tells whether a decision is on its way. */
  has(key: string): boolean { return this.waiting.some((a) => a.key === key); }

  push(a: Ask): void {
    this.waiting.push(a);
    this.keep();
    void this.send();
  }

  private keep(): void {
    localStorage.setItem(this.key, JSON.stringify(this.waiting));
    this.changed();
  }

  async send(): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    while (this.waiting.length > 0) {
      const a = this.waiting[0];
      const from = performance.now();
      try {
        const c = await answer<Change>(await fetch(this.path, {
          method: "POST", credentials: "same-origin", headers: { "Content-Type": "application/json" }, body: JSON.stringify(a),
        }));
        this.done();
        this.saved(c, a, performance.now() - from);
      } catch (e) {
        if (e instanceof Fault && e.status < 500 && e.status !== 429) {
          this.done();
          this.refused(e, a);
          continue;
        }
        this.trouble = e instanceof Fault ? e.message : "the program does not answer";
        this.changed();
        await new Promise((r) => setTimeout(r, retryMs));
      }
    }
    this.busy = false;
  }

  private done(): void {
    this.waiting.shift();
    this.trouble = "";
    this.keep();
  }
}
