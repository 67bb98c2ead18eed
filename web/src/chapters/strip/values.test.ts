import { expect, it } from "vitest";
import { cleaned, inOrder, sharedVoltages } from "./values";

const p = (magnitude: number) => ({ magnitude, angle_degree: 30, re: 0, im: 0 });

it("rounding of nothing is nothing", () => {
  const v = cleaned({ A: p(1679), B: p(2e-11) }, 1679);
  expect(v.A!.magnitude).toBe(1679);
  expect(v.B).toEqual({ magnitude: 0, angle_degree: 0, re: 0, im: 0 });
});

it("values come in the order in which they are read", () => {
  expect(inOrder({ zero: p(1), negative: p(1), positive: p(1) }).map(([k]) => k)).toEqual(["positive", "negative", "zero"]);
  expect(inOrder({ N: p(1), L2: p(1), L1: p(1) }).map(([k]) => k)).toEqual(["L1", "L2", "N"]);
});

it("a voltage that several use is said once", () => {
  const vt = { input: "VT", primary_volt: { A: p(7200) } };
  const out = sharedVoltages([
    { name: "one", currents: [], voltages: [vt] },
    { name: "two", currents: [], voltages: [vt, { input: "VT-2" }] },
  ]);
  expect(out.map((o) => [o.voltage.input, o.of])).toEqual([
    ["VT", ["one", "two"]],
    ["VT-2", ["two"]],
  ]);
});
