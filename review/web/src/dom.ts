// Small makers of elements. Nothing here parses HTML: text stays text.

type Attrs = Record<string, string | number | boolean | undefined>;

function set(e: Element, attrs: Attrs): void {
  for (const [k, v] of Object.entries(attrs)) {
    if (v === undefined || v === false) continue;
    e.setAttribute(k, v === true ? "" : String(v));
  }
}

/** h makes an HTML element. */
export function h<K extends keyof HTMLElementTagNameMap>(tag: K, attrs: Attrs = {}, ...kids: (Node | string)[]): HTMLElementTagNameMap[K] {
  const e = document.createElement(tag);
  set(e, attrs);
  e.append(...kids);
  return e;
}

/** s makes an SVG element. */
export function s<K extends keyof SVGElementTagNameMap>(tag: K, attrs: Attrs = {}, ...kids: Node[]): SVGElementTagNameMap[K] {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  set(e, attrs);
  e.append(...kids);
  return e;
}

/** byId finds an element that the page has. */
export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const e = document.getElementById(id);
  if (!e) throw new Error(`no element ${id}`);
  return e as T;
}

/** button with a key's name on it. */
export function button(words: string, act: () => void, key = "", extra: Attrs = {}): HTMLButtonElement {
  const b = h("button", { type: "button", ...extra }, words);
  if (key) {
    b.append(" ", h("kbd", { "aria-hidden": "true" }, key));
    b.setAttribute("aria-keyshortcuts", key.replace("⇧", "Shift+"));
  }
  b.addEventListener("click", act);
  return b;
}

/** dialog shows a modal dialog and gives its form's answer, null when left. */
export function dialog(title: string, body: Node[], answers: { value: string; words: string }[], first?: () => void): Promise<string | null> {
  const d = h("dialog", { "aria-labelledby": "dialog-title" });
  const row = h("div", { class: "answers" });
  d.append(h("h2", { id: "dialog-title" }, title), ...body, row);
  return new Promise((done) => {
    let answer: string | null = null;
    for (const a of answers) {
      const b = button(a.words, () => { answer = a.value; d.close(); });
      b.dataset.answer = a.value;
      row.append(b);
    }
    d.addEventListener("close", () => { d.remove(); done(answer); });
    d.addEventListener("keydown", (e) => {
      e.stopPropagation();
      const t = e.target as HTMLElement;
      if (e.key === "Enter" && t.tagName === "INPUT") { e.preventDefault(); answer = answers[0].value; d.close(); }
    });
    document.body.append(d);
    d.showModal();
    first?.();
  });
}

/** dm2 prints an area in square decimetres. */
export function dm2(mm2: number): string {
  return (mm2 / 1e4).toFixed(1);
}

/** mm prints a length. */
export function mm(v: number): string {
  return v >= 100 ? v.toFixed(0) : v.toFixed(1);
}

/** sized prints a length with twice its standard uncertainty, where that is stated, as the area's ± is. */
export function sized(v: number, u?: number): string {
  return u ? `${mm(v)} ± ${mm(2 * u)}` : mm(v);
}

/** percent prints a share. */
export function percent(v: number): string {
  return `${Math.round(100 * v)} %`;
}

/** symbol draws a kind's mark. */
export function symbol(m: { colour: string; strokes: string; fills: string }): SVGSVGElement {
  const e = s("svg", { viewBox: "-1.2 -1.2 2.4 2.4", class: "symbol", "aria-hidden": "true", focusable: "false" });
  e.append(s("path", { d: m.strokes, fill: "none", stroke: "#000", "stroke-width": 0.44, "stroke-linecap": "round" }));
  if (m.fills) e.append(s("path", { d: m.fills, fill: m.colour, stroke: "#000", "stroke-width": 0.18 }));
  e.append(s("path", { d: m.strokes, fill: "none", stroke: m.colour, "stroke-width": 0.24, "stroke-linecap": "round" }));
  return e;
}
