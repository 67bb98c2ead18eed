// Where things stand on the strip. All numbers come from the server; here they get places, and nothing else.

import type { Schemas } from "../../api/client";
import { list } from "../../api/client";

export type Point = Schemas["AnswerProfilePoint"];
export type Band = Schemas["AnswerBand"];
export type Axis = "distance" | "impedance";

/** Where each point stands along the axis, in the axis' unit. */
export function positions(points: Point[], axis: Axis, metre: number): number[] {
  return points.map((p) => (axis === "impedance" ? Math.hypot(p.impedance_ohm.re, p.impedance_ohm.im) : p.distance_metre / metre));
}

/** The first point that stands on the axis: the station before it, transformers without a line between, has no length. */
export function leadOf(points: Point[], axis: Axis): number {
  if (axis === "impedance") return 0;
  let lead = 0;
  for (let i = 1; i < points.length - 1 && points[i]!.distance_metre === 0; i++) {
    const kind = points[i]!.over_kind;
    if (kind && kind !== "line") lead = i;
  }
  return lead;
}

/** A point inside a line is named LINE/40%; all others are buses. */
export const isBus = (p: Point) => !p.place.includes("/") || !p.over || !p.place.startsWith(p.over + "/");

/** The point nearest to a place along the axis. */
export function nearest(at: number[], from: number, x: number): number {
  let best = from;
  for (let i = from; i < at.length; i++) if (Math.abs(at[i]! - x) < Math.abs(at[best]! - x)) best = i;
  return best;
}

export interface Placed {
  x: number; // of the text's middle
  mark: number; // of what it names
  text: string;
  row: number; // 0 stands next to the path
}

/** Gives labels rows, so that none touches another. Ends are placed first. What finds no room is left out: the table has it. */
export function placeLabels(labels: { x: number; text: string }[], width: (text: string) => number, left: number, right: number, rows = 3): Placed[] {
  const order = labels.map((_, i) => i);
  if (order.length > 1) order.splice(1, 0, order.pop()!);
  const taken: [number, number][][] = Array.from({ length: rows }, () => []);
  const free = (row: number, a: number, b: number) => !taken[row]!.some(([s, e]) => a < e && s < b);
  const out: Placed[] = [];
  for (const i of order) {
    const l = labels[i]!;
    const w = width(l.text);
    search: for (let row = 0; row < rows; row++) {
      for (const aside of [0, 6, -6, 12, -12, 20, -20]) {
        const x = Math.min(Math.max(l.x + aside, left + w / 2), right - w / 2);
        let clear = free(row, x - w / 2 - 3, x + w / 2 + 3);
        for (let r = 0; r < row; r++) clear &&= free(r, l.x - 2, l.x + 2);
        if (!clear) continue;
        taken[row]!.push([x - w / 2 - 3, x + w / 2 + 3]);
        for (let r = 0; r < row; r++) taken[r]!.push([l.x - 2, l.x + 2]);
        out.push({ x, mark: l.x, text: l.text, row });
        break search;
      }
    }
  }
  return out;
}

/** Puts labels at the ends of curves apart, in their order, within limits. */
export function spread(ys: number[], gap: number, top: number, bottom: number): number[] {
  const order = ys.map((_, i) => i).sort((a, b) => ys[a]! - ys[b]!);
  const out = [...ys];
  let at = top;
  for (const i of order) {
    out[i] = Math.max(ys[i]!, at);
    at = out[i]! + gap;
  }
  let limit = bottom;
  for (const i of order.reverse()) {
    out[i] = Math.min(out[i]!, limit);
    limit = out[i]! - gap;
  }
  return out;
}

export interface Run {
  from: number; // of points
  to: number; // included
}

/** Runs of points of one nominal voltage where a value is known: curves are drawn along them, and not across. */
export function runs(points: Point[], known: (p: Point) => boolean, lead = 0): Run[] {
  const out: Run[] = [];
  let from = -1;
  for (let i = lead; i <= points.length; i++) {
    const p = points[i];
    const goes = p !== undefined && known(p) && (from < 0 || p.nominal_volt === points[from]!.nominal_volt);
    if (from >= 0 && !goes) {
      out.push({ from, to: i - 1 });
      from = -1;
    }
    if (from < 0 && p !== undefined && known(p)) from = i;
  }
  return out;
}

/** Runs of points where something holds: what is wrong is hatched there. */
export function where(points: Point[], holds: (p: Point) => boolean, lead = 0): Run[] {
  return runs(points, holds, lead);
}

export const faultOf = (p: Point, type: string): Band | undefined => list(p.faults).find((f) => f.kind === type)?.current_ampere;

/** Ends of an axis of currents: 1, 2 or 5 times a power of ten around all values. */
export function logDomain(values: number[]): [number, number] | undefined {
  const all = values.filter((v) => v > 0 && Number.isFinite(v));
  if (all.length === 0) return undefined;
  const low = Math.min(...all);
  const high = Math.max(...all);
  const steps = (e: number) => [1, 2, 5, 10].map((m) => m * 10 ** e);
  const down = steps(Math.floor(Math.log10(low))).filter((v) => v <= low * (1 + 1e-9)).pop()!;
  const up = steps(Math.floor(Math.log10(high))).find((v) => v >= high * (1 - 1e-9))!;
  return up > down ? [down, up] : [down, down * 10];
}

/** A round number at or above x. */
export function roundUp(x: number): number {
  if (!(x > 0)) return 1;
  const p = 10 ** Math.floor(Math.log10(x));
  return ([1, 1.5, 2, 3, 4, 5, 6, 8, 10].find((m) => m * p >= x * 1.02) ?? 10) * p;
}

/** The kinds of fault that a place can have, one for each type, on the phases it has; the one asked for if it is among them. */
export function kindAt(kinds: string[], asked: string): string {
  if (kinds.includes(asked)) return asked;
  const type = asked.split(":")[0];
  return kinds.find((k) => k.split(":")[0] === type) ?? kinds[0] ?? asked;
}
