// Where the marks of a gauge stand. Numbers are compared here, not worked out: what is better, the finding says.

import type { Quantity } from "./format";

export interface Judged {
  verdict: string;
  value?: Quantity;
  limit?: Quantity;
  target?: Quantity;
  worse?: string;
}

export type Sense = "at most" | "at least";

/** Whether the value has to stay below its limit or above it; undefined where nothing says so. */
export function sense(f: Judged): Sense | undefined {
  if (!f.limit) return undefined;
  if (f.target && f.target.value !== f.limit.value) return f.target.value < f.limit.value ? "at most" : "at least";
  if (f.worse === "greater" || f.worse === "away") return "at most";
  if (f.worse === "smaller") return "at least";
  if (!f.value) return undefined;
  const below = f.value.value < f.limit.value;
  return below === (f.verdict === "fails") ? "at least" : "at most";
}

export interface Marks {
  value: number; // parts of the gauge's length, from 0 to 1
  limit: number;
  target?: number;
  over: boolean; // the value lies beyond the end
}

/** Places the marks on a scale from nothing to a little more than the limit, and further where the value needs it. */
export function marks(f: Judged): Marks | undefined {
  if (!f.value || !f.limit) return undefined;
  const v = Math.abs(f.value.value);
  const l = Math.abs(f.limit.value);
  const t = f.target ? Math.abs(f.target.value) : 0;
  const largest = Math.max(l, t);
  if (largest === 0) return undefined;
  const end = Math.max(largest * 1.25, Math.min(v * 1.05, largest * 2));
  const at = (x: number) => Math.min(x / end, 1);
  return { value: at(v), limit: at(l), target: f.target ? at(t) : undefined, over: v > end };
}
