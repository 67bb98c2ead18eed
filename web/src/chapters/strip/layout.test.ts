import { describe, expect, it } from "vitest";
import { isBus, kindAt, leadOf, logDomain, nearest, placeLabels, positions, roundUp, runs, spread, type Point } from "./layout";

const point = (place: string, metre: number, more: Partial<Point> = {}): Point => ({
  place,
  distance_metre: metre,
  impedance_ohm: { re: metre / 1000, im: 0 },
  nominal_volt: 12470,
  faults: [],
  ...more,
});

const path = [
  point("HV", 0, { nominal_volt: 115000 }),
  point("N0", 0, { over: "T1", over_kind: "transformer" }),
  point("N0-N1/50%", 100, { over: "N0-N1", over_kind: "line" }),
  point("N1", 200, { over: "N0-N1", over_kind: "line" }),
  point("N2", 3000, { over: "N1-N2", over_kind: "line" }),
];

describe("the axis", () => {
  it("begins behind the transformers of the station", () => {
    expect(leadOf(path, "distance")).toBe(1);
    expect(leadOf(path, "impedance")).toBe(0);
    expect(positions(path, "distance", 1000)).toEqual([0, 0, 0.1, 0.2, 3]);
  });
  it("knows buses from points inside lines", () => {
    expect(path.map(isBus)).toEqual([true, true, false, true, true]);
    expect(isBus(point("A/B", 5, { over: "X" }))).toBe(true);
  });
  it("finds the nearest place", () => {
    const at = positions(path, "distance", 1000);
    expect(nearest(at, 1, 2)).toBe(4);
    expect(nearest(at, 1, -5)).toBe(1);
    expect(nearest(at, 1, 0.14)).toBe(2);
  });
});

describe("labels", () => {
  it("never touch", () => {
    let seed = 7;
    const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
    for (let n = 0; n < 200; n++) {
      const labels = Array.from({ length: 2 + Math.floor(random() * 30) }, (_, i) => ({ x: random() * 800, text: "BUS-" + i * 37 })).sort((a, b) => a.x - b.x);
      const out = placeLabels(labels, (t) => t.length * 7, 0, 800);
      for (const a of out) {
        expect(a.x - (a.text.length * 7) / 2).toBeGreaterThanOrEqual(-1e-9);
        expect(a.x + (a.text.length * 7) / 2).toBeLessThanOrEqual(800 + 1e-9);
        for (const b of out) if (a !== b && a.row === b.row) expect(Math.abs(a.x - b.x)).toBeGreaterThanOrEqual(((a.text.length + b.text.length) * 7) / 2);
      }
      expect(out.some((p) => p.text === labels[0]!.text)).toBe(true);
    }
  });
  it("at the ends of curves are put apart in their order", () => {
    expect(spread([10, 11, 50], 12, 0, 100)).toEqual([10, 22, 50]);
    expect(spread([99, 98], 12, 0, 100)).toEqual([100, 88]);
  });
});

describe("curves", () => {
  it("are not drawn across a transformer, or what is unknown", () => {
    const all = () => true;
    expect(runs(path, all)).toEqual([
      { from: 0, to: 0 },
      { from: 1, to: 4 },
    ]);
    expect(runs(path, (p) => p.place !== "N1", 1)).toEqual([
      { from: 1, to: 2 },
      { from: 4, to: 4 },
    ]);
    expect(runs(path, () => false)).toEqual([]);
  });
  it("have round axes", () => {
    expect(logDomain([332, 7992])).toEqual([200, 10000]);
    expect(logDomain([1000])).toEqual([1000, 10000]);
    expect(logDomain([])).toBeUndefined();
    expect(roundUp(279.7)).toBe(300);
    expect(roundUp(0)).toBe(1);
  });
});

it("a kind that a place can't have gives way to one that it can", () => {
  expect(kindAt(["3ph", "ll:AB", "lg:A", "lg:B"], "lg:B")).toBe("lg:B");
  expect(kindAt(["lg:B"], "lg:A")).toBe("lg:B");
  expect(kindAt(["lg:B"], "3ph")).toBe("lg:B");
});
