import { byId, dm2, h, percent } from "./dom";
import type { Flag, Look, Progress, Yield } from "./model";
import { get } from "./queue";
import { theme } from "./theme";

interface Summary {
  name: string; id: string; article: string; supplier: string; lot: string;
  area_mm2: { value: number; u: number }; flags: Flag[] | null; progress: Progress; disputes: number; picture: boolean; yield: Yield; blind: number;
}
interface Agreement { flaw: { count: number; kappa: number; known: boolean; same: number }; kind: { kappa: number; known: boolean }; apart: number[] }
interface Learned {
  charts: number; decisions: number;
  kinds: { kind: string; words: string; found: number; expected: number; real: number; renamed: number; added: number }[];
  profiles: { article: string; hides: number; decided: number; active: boolean; why: string; false_before: number; false_after: number }[];
}

const look = byId<HTMLSelectElement>("look");

async function open(): Promise<void> {
  const { charts, looks } = await get<{ charts: { name: string }[]; looks: Look[] }>("/api/charts");
  for (const l of looks) look.append(h("option", { value: l.name, title: l.words }, l.name));
  const wanted = localStorage.getItem("hidechart.look");
  if (wanted && looks.some((l) => l.name === wanted)) look.value = wanted;
  look.addEventListener("change", () => { localStorage.setItem("hidechart.look", look.value); void fill(charts); });
  byId("told").textContent = charts.length === 0 ? "There are no charts in this folder: make some with hidechart chart." : "";
  await fill(charts);
  await learned();
}

async function fill(charts: { name: string }[]): Promise<void> {
  const rows = charts.map((c) => h("li", { class: "hide-row" }, h("a", { class: "hide-link", href: `/hide/${encodeURIComponent(c.name)}` }, c.name)));
  byId("hides").replaceChildren(...rows);
  for (const [i, c] of charts.entries()) {
    try {
      const x = await get<Summary>(`/api/charts/${encodeURIComponent(c.name)}/summary?look=${encodeURIComponent(look.value)}`);
      rows[i].replaceChildren(...row(x));
      if (x.blind > 0) void agree(x, rows[i]);
    } catch (e) {
      rows[i].append(h("p", { class: "fault" }, (e as Error).message));
    }
  }
}

function row(x: Summary): Node[] {
  const p = x.progress;
  const decided = p.found - p.left;
  const path = `/hide/${encodeURIComponent(x.name)}`;
  const picture = x.picture ? h("img", { class: "thumb", src: `/api/charts/${encodeURIComponent(x.name)}/thumb.jpg`, alt: "", loading: "lazy" }) : h("span", { class: "thumb none" }, "no picture");
  const y = x.yield;
  const facts = h("dl", { class: "facts" },
    h("div", {}, h("dt", {}, "Area"), h("dd", {}, `${dm2(x.area_mm2.value)} ± ${dm2(2 * x.area_mm2.u)} dm²`)),
    h("div", {}, h("dt", {}, "Cuttable"), h("dd", {}, `${dm2(y.cuttable_mm2.p10)}–${dm2(y.cuttable_mm2.p90)} dm² · ${percent(y.cuttable_share.median)}`)),
    h("div", {}, h("dt", {}, "To decide"), h("dd", { class: "left" }, String(p.left))));
  const words = [x.article, x.supplier, x.lot && `lot ${x.lot}`].filter(Boolean).join(" · ");
  const out = h("div", { class: "hide-words" },
    h("a", { class: "hide-link", href: path }, x.id), h("p", { class: "dim" }, words), facts,
    h("progress", { max: Math.max(1, p.found), value: p.found === 0 ? 1 : decided, "aria-label": `${decided} of ${p.found} decided` }),
    h("p", { class: "dim" }, `${decided} of ${p.found} decided${p.added ? `, ${p.added} added` : ""} · `, h("a", { href: `${path}?pass=blind` }, "second, blind review")));
  const flags = (x.flags ?? []).map((f) => h("li", {}, f.text));
  if (x.disputes > 0) flags.unshift(h("li", { class: "fault" }, `${x.disputes} on which two reviewers disagree`));
  if (flags.length > 0) out.append(h("details", {}, h("summary", {}, `${flags.length} to check`), h("ul", {}, ...flags)));
  return [picture, out];
}

async function agree(x: Summary, at: HTMLElement): Promise<void> {
  const a = await get<Agreement>(`/api/charts/${encodeURIComponent(x.name)}/agreement`);
  const k = (v: { kappa: number; known: boolean }): string => (v.known ? v.kappa.toFixed(2) : "not to be told");
  if (a.flaw.count === 0) return;
  at.querySelector(".hide-words")?.append(h("p", { class: "agree" },
    `Two reviewers, ${a.flaw.count} candidates: Cohen's κ ${k(a.flaw)} for flaw or not, ${k(a.kind)} for the kind. ` +
    (a.apart.length > 0 ? `Apart on ${a.apart.join(", ")}.` : "Nowhere apart.")));
}

async function learned(): Promise<void> {
  const l = await get<Learned>("/api/profile");
  if (l.decisions === 0 && l.profiles.length === 0) return;
  byId("learned").hidden = false;
  byId("learned-text").textContent = `${l.decisions} decisions on ${l.charts} hides. Expected: how many of those decided the program took to be real, by their probabilities. The nearer it is to what was real, the better the probabilities.`;
  const head = h("tr", {}, ...["Kind", "Decided", "Expected real", "Were real", "Renamed", "Added by hand"].map((w) => h("th", { scope: "col" }, w)));
  const rows = l.kinds.map((k) => h("tr", {}, h("th", { scope: "row" }, k.words), ...[k.found, k.expected.toFixed(1), k.real, k.renamed, k.added].map((v) => h("td", {}, String(v)))));
  byId("learned-table").replaceChildren(h("thead", {}, head), h("tbody", {}, ...rows));
  for (const p of l.profiles) {
    byId("learned").append(h("p", {}, h("b", {}, p.article), `: learned from ${p.decided} decisions on ${p.hides} hides. On hides it had not seen, ${p.false_before} false ones before and ${p.false_after} after, with as many real ones kept. ` +
      `${p.active ? "The next hide of it is charted so." : "Not used yet:"} ${p.why}`));
  }
}

theme();
open().catch((e: Error) => { byId("told").textContent = e.message; });
