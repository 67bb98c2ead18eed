// Phasors by the name of what they are of.

import { list, type Schemas } from "../../api/client";

export type Values = Record<string, Schemas["PhasorJSON"]>;

const order = ["A", "B", "C", "L1", "L2", "L3", "N", "positive", "negative", "zero"];

/** In the order in which they are read. */
export const inOrder = (v: Values) => Object.entries(v).sort(([a], [b]) => place(a) - place(b));
const place = (k: string) => (order.includes(k) ? order.indexOf(k) : order.length);

/** What is below a millionth of the largest is the rounding of nothing, and its angle has no meaning. */
export function cleaned(values: Values | undefined, largest: number): Values {
  return Object.fromEntries(
    Object.entries(values ?? {}).map(([k, p]) => [k, p.magnitude < 1e-6 * largest ? { magnitude: 0, angle_degree: 0, re: 0, im: 0 } : p]),
  );
}

/** Voltages, each once, with all that use it: several vantages may look through one transformer. */
export function sharedVoltages(vantages: Schemas["AnswerVantage"][]): { voltage: Schemas["AnswerVoltage"]; of: string[] }[] {
  const out: { voltage: Schemas["AnswerVoltage"]; of: string[] }[] = [];
  for (const v of vantages)
    for (const u of list(v.voltages)) {
      const same = out.find((o) => o.voltage.input === u.input && JSON.stringify(o.voltage.primary_volt) === JSON.stringify(u.primary_volt));
      if (same) same.of.push(v.name);
      else out.push({ voltage: u, of: [v.name] });
    }
  return out;
}
