// The table of faults: which rows, in which order, and how it goes to a spreadsheet.

import type { FaultRow } from "../api/client";

export type Column = "place" | "kind" | "condition" | "current" | "xr";
export const columns: Column[] = ["place", "kind", "condition", "current", "xr"];

export interface Order {
  by: Column;
  down: boolean;
}

/** "current:down" and the like; undefined is the order of the study. */
export function parseOrder(text: string | undefined): Order | undefined {
  const [by, way] = (text ?? "").split(":");
  return columns.includes(by as Column) ? { by: by as Column, down: way === "down" } : undefined;
}

export function orderText(o: Order | undefined): string | undefined {
  return o && o.by + (o.down ? ":down" : "");
}

/** The order after a column's head was used: up, down, as in the study. Numbers begin with the largest. */
export function nextOrder(now: Order | undefined, by: Column): Order | undefined {
  const first = by === "current" || by === "xr";
  if (now?.by !== by) return { by, down: first };
  return now.down === first ? { by, down: !first } : undefined;
}

/** The type of a kind of fault, without its phases. */
export function typeOf(kind: string): string {
  return kind.split(":")[0]!;
}

export interface Filter {
  text: string; // words that place, kind or condition have
  type: string; // type of fault, or ""
}

export function filtered(rows: FaultRow[], f: Filter): FaultRow[] {
  const words = f.text.toLowerCase().split(/\s+/).filter((w) => w !== "");
  return rows.filter((r) => {
    if (f.type !== "" && typeOf(r.kind) !== f.type) return false;
    if (words.length === 0) return true;
    const all = `${r.place} ${r.kind} ${r.condition}`.toLowerCase();
    return words.every((w) => all.includes(w));
  });
}

const natural = new Intl.Collator("en", { numeric: true });

/** Sorts; rows without a value come last either way, and equal ones keep their order. */
export function sorted(rows: FaultRow[], o: Order | undefined): FaultRow[] {
  if (!o) return rows;
  const sign = o.down ? -1 : 1;
  const value = (r: FaultRow) => (o.by === "current" ? r.current_ampere : r.x_over_r);
  return [...rows].sort((a, b) => {
    if (o.by === "current" || o.by === "xr") {
      const [x, y] = [value(a), value(b)];
      if (x === undefined || y === undefined) return (x === undefined ? 1 : 0) - (y === undefined ? 1 : 0);
      return sign * (x - y);
    }
    return sign * natural.compare(a[o.by], b[o.by]);
  });
}

/** What stands where a value is missing. */
export function remark(r: FaultRow): string {
  if (r.no_source) return "no source";
  if (r.unproven) return `${r.unproven} is not given`;
  return "";
}

/** Rows for a spreadsheet: tabs between cells, numbers with eight digits and a point. */
export function tabbed(rows: FaultRow[]): string {
  const cell = (x: number | undefined) => (x === undefined ? "" : String(Number(x.toPrecision(8))));
  const head = ["place", "kind", "condition", "current A", "X/R", "remark"];
  return [head, ...rows.map((r) => [r.place, r.kind, r.condition, cell(r.current_ampere), cell(r.x_over_r), remark(r)])]
    .map((cells) => cells.map((c) => c.replace(/[\t\r\n]+/g, " ")).join("\t"))
    .join("\n");
}
