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

/** A line of the network, as the places tell it. */
export type Line = Pick<Schemas["PlaceLine"], "name" | "from" | "to">;

/** A place that the pointer can have: its name, where it stands on the page, and the points around it. */
export interface Spot {
  name: string;
  x: number; // px
  before: number; // last point at it or before it
  bus: boolean;
}

const percent = (name: string): { line: string; at: number } | undefined => {
  const m = /^(.+)\/(\d+(?:\.\d+)?)%$/.exec(name);
  return m ? { line: m[1]!, at: Number(m[2]) } : undefined;
};

/** How far along its line, in percent from the line's beginning, the point stands that ends or begins a piece of it. */
function alongLine(p: Point, line: Line): number | undefined {
  if (p.place === line.from) return 0;
  if (p.place === line.to) return 100;
  const own = percent(p.place);
  return own?.line === line.name ? own.at : undefined;
}

/** The piece of a line between point i and the next, in percent of the line; undefined where something else leads on. */
function piece(points: Point[], lines: Line[], i: number): { line: string; a: number; b: number } | undefined {
  const next = points[i + 1];
  if (!next || next.over_kind !== "line") return undefined;
  const line = lines.find((l) => l.name === next.over);
  if (!line) return undefined;
  const a = alongLine(points[i]!, line);
  const b = alongLine(next, line);
  return a === undefined || b === undefined ? undefined : { line: line.name, a, b };
}

/** Where a named place stands; undefined if it isn't on the path. */
export function locate(points: Point[], lines: Line[], xs: number[], name: string): Spot | undefined {
  const i = points.findIndex((p) => p.place === name);
  if (i >= 0) return { name, x: xs[i]!, before: i, bus: isBus(points[i]!) };
  const want = percent(name);
  if (!want) return undefined;
  for (let k = 0; k + 1 < points.length; k++) {
    const s = piece(points, lines, k);
    if (s?.line !== want.line || (want.at - s.a) * (want.at - s.b) > 0 || s.a === s.b) continue;
    return { name, x: xs[k]! + ((want.at - s.a) / (s.b - s.a)) * (xs[k + 1]! - xs[k]!), before: k, bus: false };
  }
  return undefined;
}

/** The place at x on the page: a bus where one is within `snap`, and else a whole percent of a line. */
export function spotAt(points: Point[], lines: Line[], xs: number[], x: number, snap: number): Spot {
  let best = 0;
  points.forEach((p, i) => {
    if (isBus(p) && (!isBus(points[best]!) || Math.abs(xs[i]! - x) < Math.abs(xs[best]! - x))) best = i;
  });
  const bus = { name: points[best]!.place, x: xs[best]!, before: best, bus: true };
  if (Math.abs(bus.x - x) <= snap) return bus;
  for (let k = 0; k + 1 < points.length; k++) {
    const [x0, x1] = [xs[k]!, xs[k + 1]!];
    if (x < Math.min(x0, x1) || x > Math.max(x0, x1) || x0 === x1) continue;
    const s = piece(points, lines, k);
    if (!s) continue;
    const at = Math.round(s.a + ((x - x0) / (x1 - x0)) * (s.b - s.a));
    if (at <= 0 || at >= 100) return bus;
    return locate(points, lines, xs, `${s.line}/${at}%`) ?? bus;
  }
  return bus;
}

/** The place one step of so many px away; a step never passes over a bus. */
export function stepped(points: Point[], lines: Line[], xs: number[], from: Spot, step: number): Spot {
  const way = Math.sign(step);
  const next = nextBus(points, xs, from, way);
  if (!next) return from;
  // On short lines a step may be less than the whole percent that places have.
  for (let d = step; Math.abs(d) < Math.abs(next.x - from.x); d += step) {
    const s = spotAt(points, lines, xs, from.x + d, 0);
    if (s.name === next.name) return next;
    if (s.name !== from.name && (s.x - from.x) * way > 0) return s;
  }
  return next;
}

/** The bus before or after a place on the path. */
export function nextBus(points: Point[], xs: number[], from: Spot, way: number): Spot | undefined {
  let i = way > 0 ? from.before + 1 : from.bus || !isBus(points[from.before]!) ? from.before - 1 : from.before;
  while (points[i] && !isBus(points[i]!)) i += way;
  return points[i] && { name: points[i]!.place, x: xs[i]!, before: i, bus: true };
}

/** The point of the path nearest to a spot: what is known there stands for it. */
export function pointOf(xs: number[], spot: Spot): number {
  const next = spot.before + 1;
  return next < xs.length && Math.abs(xs[next]! - spot.x) < Math.abs(xs[spot.before]! - spot.x) ? next : spot.before;
}

export interface Lateral {
  bus: string; // where it leaves the path
  line: string;
  to: string; // the end that it leads to, the first of them
  more: number; // further ends
}

/** What leaves the path by a line, and where it leads to. */
export function laterals(points: Point[], lines: Line[], ends: string[]): Lateral[] {
  const own = new Set(points.filter(isBus).map((p) => p.place));
  const passed = new Set(points.map((p) => p.over));
  const out: Lateral[] = [];
  for (const p of points) {
    if (!own.has(p.place)) continue;
    for (const l of lines) {
      if (passed.has(l.name) || (l.from !== p.place && l.to !== p.place)) continue;
      const first = l.from === p.place ? l.to : l.from;
      if (own.has(first)) continue;
      const seen = new Set([first]);
      const queue = [first];
      for (let b = queue.shift(); b !== undefined; b = queue.shift())
        for (const n of lines) {
          const other = n.from === b ? n.to : n.to === b ? n.from : undefined;
          if (other !== undefined && !own.has(other) && !seen.has(other)) {
            seen.add(other);
            queue.push(other);
          }
        }
      const reached = ends.filter((e) => seen.has(e));
      out.push({ bus: p.place, line: l.name, to: reached[0] ?? [...seen].at(-1)!, more: Math.max(0, reached.length - 1) });
    }
  }
  return out;
}

export interface Standing {
  name: string;
  x: number;
  kind: "device" | "unit"; // a unit is a transformer, a regulator, a reactor ...
  of: string; // kind of the branch
}

/** Devices and units of the path, where they stand: a device of a line at the end at which it is. */
export function standing(points: Point[], xs: number[]): Standing[] {
  const out: Standing[] = [];
  for (let i = 1; i < points.length; i++) {
    const p = points[i]!;
    const devices = list(p.devices);
    const unit = p.over !== undefined && p.over_kind !== undefined && p.over_kind !== "line";
    // Of devices alone, between two buses, all stand before.
    const before = p.over === undefined ? devices.length : (p.devices_before ?? 0);
    const [a, b] = [xs[i - 1]!, xs[i]!];
    const room = b - a;
    const apart = Math.min(10, room / (devices.length + (unit ? 3 : 1)));
    devices.forEach((name, n) => {
      const x = n < before ? a + apart * (n + 1) : b - apart * (devices.length - n);
      out.push({ name, x, kind: "device", of: "" });
    });
    if (unit) out.push({ name: p.over!, x: (a + b) / 2 + (apart / 2) * (2 * before - devices.length), kind: "unit", of: p.over_kind! });
  }
  return out;
}

export interface Placed {
  x: number; // of the text's middle
  mark: number; // of what it names
  text: string;
  row: number; // 0 stands next to the path
}

// px by which a label may stand beside its place.
const asides = [0, 6, -6, 12, -12, 20, -20, 30, -30, 42, -42, 56, -56];

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
      for (const aside of asides) {
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

/** A run in words: where it begins and ends. */
export function runInWords(points: Point[], run: Run, lead: number): string {
  const [from, to] = [points[run.from]!.place, points[run.to]!.place];
  if (run.from === lead && run.to === points.length - 1) return "all along";
  if (run.to === points.length - 1) return run.from === run.to ? `at ${from}` : `from ${from} on`;
  if (run.from === lead) return run.from === run.to ? `at ${from}` : `as far as ${to}`;
  return run.from === run.to ? `at ${from}` : `from ${from} to ${to}`;
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

/** The points of a curve along a run. Where a device stands between two points and the value jumps, the curve has a step at
 * the device: it may be open in some condition, and nothing slopes along a line because of that. */
export function curve(points: Point[], xs: number[], run: Run, band: (p: Point) => Band | undefined): { x: number; least: number; most: number }[] {
  const out: { x: number; least: number; most: number }[] = [];
  for (let i = run.from; i <= run.to; i++) {
    const b = band(points[i]!);
    if (!b) continue;
    const last = out.at(-1);
    if (last && list(points[i]!.devices).length > 0 && (apart(last.least, b.least) || apart(last.most, b.most)))
      out.push({ x: last.x + Math.min(8, (xs[i]! - last.x) / 2), least: last.least, most: last.most }, { x: last.x + Math.min(8, (xs[i]! - last.x) / 2), least: b.least, most: b.most });
    out.push({ x: xs[i]!, least: b.least, most: b.most });
  }
  return out;
}

const apart = (a: number, b: number) => Math.abs(a - b) > 0.04 * Math.max(Math.abs(a), Math.abs(b));

/** The y within limits that is furthest from all of these; the one asked for where it doesn't matter. */
export function clearest(from: number[], top: number, bottom: number, asked: number): number {
  const room = (y: number) => Math.min(...from.map((v) => Math.abs(v - y)), 1e9);
  let best = Math.min(Math.max(asked, top), bottom);
  for (let y = top; y <= bottom; y++) if (room(y) > room(best)) best = y;
  return best;
}
