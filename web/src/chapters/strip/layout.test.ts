import { describe, expect, it } from "vitest";
import {
  clearest,
  curve,
  isBus,
  laterals,
  leadOf,
  locate,
  logDomain,
  nextBus,
  placeLabels,
  pointOf,
  positions,
  roundUp,
  runInWords,
  runs,
  spotAt,
  spread,
  standing,
  stepped,
  type Line,
  type Point,
  type Spot,
} from "./layout";

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

describe("the pointer", () => {
  // N1-N2 is written from its far end: 25 % of it is near N2.
  const lines: Line[] = [
    { name: "N0-N1", from: "N0", to: "N1" },
    { name: "back", from: "N2", to: "N1" },
  ];
  const points = [
    point("HV", 0, { nominal_volt: 115000 }),
    point("N0", 0, { over: "T1", over_kind: "transformer" }),
    point("N0-N1/50%", 100, { over: "N0-N1", over_kind: "line" }),
    point("N1", 200, { over: "N0-N1", over_kind: "line" }),
    point("back/50%", 1200, { over: "back", over_kind: "line" }),
    point("N2", 2200, { over: "back", over_kind: "line" }),
  ];
  const xs = [20, 100, 110, 120, 320, 520];
  const at = (name: string) => locate(points, lines, xs, name)!;

  it("stands at buses and at any percent of a line, whichever end it is counted from", () => {
    expect(at("N1")).toEqual({ name: "N1", x: 120, before: 3, bus: true });
    expect(at("N0-N1/75%").x).toBeCloseTo(115);
    expect(at("back/25%")).toMatchObject({ x: 420, before: 4, bus: false });
    expect(at("back/75%")).toMatchObject({ x: 220, before: 3 });
    expect(locate(points, lines, xs, "elsewhere/10%")).toBeUndefined();
    expect(locate(points, lines, xs, "N9")).toBeUndefined();
  });
  it("finds the place under the mouse, and takes a bus that is near", () => {
    expect(spotAt(points, lines, xs, 420, 7).name).toBe("back/25%");
    expect(spotAt(points, lines, xs, 125, 7).name).toBe("N1");
    expect(spotAt(points, lines, xs, 125, 0).name).toBe("back/99%");
    expect(spotAt(points, lines, xs, 40, 7).name).toBe("HV"); // inside a transformer there is no place
    expect(spotAt(points, lines, xs, 900, 7).name).toBe("N2");
  });
  it("and what is found stands where it was looked for", () => {
    for (let x = 100; x <= 520; x += 3.7) {
      const s = spotAt(points, lines, xs, x, 0);
      expect(Math.abs(s.x - x)).toBeLessThanOrEqual(2.01); // half a percent of 400 px
      expect(at(s.name).x).toBeCloseTo(s.x);
    }
  });
  it("goes by keys over every bus to both ends, and never stands still", () => {
    for (const [from, to, step] of [
      ["HV", "N2", 5],
      ["N2", "HV", -5],
      ["HV", "N2", 0.4],
    ] as const) {
      let s: Spot = at(from);
      const passed = [s.name];
      for (let n = 0; n < 2000 && s.name !== to; n++) {
        const next = stepped(points, lines, xs, s, step);
        expect(next.name).not.toBe(s.name);
        s = next;
        passed.push(s.name);
      }
      expect(s.name).toBe(to);
      for (const bus of ["HV", "N0", "N1", "N2"]) expect(passed).toContain(bus);
      expect(stepped(points, lines, xs, s, step).name).toBe(to);
    }
  });
  it("goes from bus to bus", () => {
    expect(nextBus(points, xs, at("N1"), 1)!.name).toBe("N2");
    expect(nextBus(points, xs, at("N1"), -1)!.name).toBe("N0");
    expect(nextBus(points, xs, at("back/25%"), -1)!.name).toBe("N1");
    expect(nextBus(points, xs, at("back/75%"), -1)!.name).toBe("N1");
    expect(nextBus(points, xs, at("back/25%"), 1)!.name).toBe("N2");
    expect(nextBus(points, xs, at("N2"), 1)).toBeUndefined();
  });
  it("reads the nearest point that was worked out", () => {
    expect(pointOf(xs, at("back/60%"))).toBe(4);
    expect(pointOf(xs, at("back/90%"))).toBe(3);
    expect(pointOf(xs, at("N2"))).toBe(5);
  });
});

describe("what stands along the path", () => {
  it("devices stand on their side of a branch", () => {
    const points = [
      point("HV", 0),
      point("N0", 0, { over: "T1", over_kind: "transformer", devices: ["high", "low"], devices_before: 1 }),
      point("L/50%", 50, { over: "L", over_kind: "line", devices: ["near"], devices_before: 1 }),
      point("N1", 100, { over: "L", over_kind: "line", devices: ["far"] }),
    ];
    const xs = [0, 100, 200, 300];
    const x = Object.fromEntries(standing(points, xs).map((s) => [s.name, s.x]));
    expect(x.high).toBeLessThan(x.T1!);
    expect(x.low).toBeGreaterThan(x.T1!);
    expect(x.low).toBeLessThan(100);
    expect(x.near).toBeGreaterThan(100);
    expect(x.near).toBeLessThan(120);
    expect(x.far).toBeGreaterThan(280);
    expect(x.far).toBeLessThan(300);
  });
  it("laterals lead to the ends beyond them", () => {
    const lines: Line[] = [
      { name: "N1-N2", from: "N1", to: "N2" },
      { name: "a", from: "N1", to: "A" },
      { name: "b", from: "B", to: "A" },
      { name: "c", from: "A", to: "C" },
    ];
    expect(laterals(path.slice(3), lines, ["B", "C"])).toEqual([{ bus: "N1", line: "a", to: "B", more: 1 }]);
    expect(laterals(path.slice(3), lines, [])[0]!.more).toBe(0);
  });
});

describe("curves at devices", () => {
  const band = (p: Point) => p.load_ampere;
  const at = (v: number, devices?: string[]) => point("P" + v, 0, { devices, load_ampere: { least: v, most: v, least_in: "", most_in: "" } });
  it("have a step where a device lets the value jump", () => {
    const list = curve([at(100), at(50, ["R1"]), at(49)], [0, 100, 200], { from: 0, to: 2 }, band);
    expect(list.map((p) => [p.x, p.most])).toEqual([
      [0, 100],
      [8, 100],
      [8, 50],
      [100, 50],
      [200, 49],
    ]);
  });
  it("and none where it does not", () => {
    expect(curve([at(100), at(99, ["R1"])], [0, 100], { from: 0, to: 1 }, band)).toHaveLength(2);
  });
});

it("runs are said in words", () => {
  expect(runInWords(path, { from: 1, to: 4 }, 1)).toBe("all along");
  expect(runInWords(path, { from: 3, to: 4 }, 1)).toBe("from N1 on");
  expect(runInWords(path, { from: 1, to: 3 }, 1)).toBe("as far as N1");
  expect(runInWords(path, { from: 2, to: 3 }, 1)).toBe("from N0-N1/50% to N1");
  expect(runInWords(path, { from: 3, to: 3 }, 1)).toBe("at N1");
});

it("words stand where the curves leave most room", () => {
  expect(clearest([10, 12], 0, 100, 0)).toBe(100);
  expect(clearest([10, 90], 10, 90, 0)).toBe(50);
  expect(clearest([], 20, 60, 44)).toBe(44);
});
