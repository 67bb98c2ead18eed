import { describe, expect, it } from "vitest";
import { byObject } from "./assumed";
import { filtered, nextOrder, orderText, parseOrder, sorted, tabbed } from "./rows";
import { counted, sum, worst } from "./verdicts";
import { unbraced } from "./written";

const rows = [
  { place: "N10", kind: "3ph", condition: "max", current_ampere: 900, x_over_r: 2 },
  { place: "N2", kind: "lg:A", condition: "max", unproven: "zero-sequence impedance of infeed grid" },
  { place: "N2", kind: "3ph", condition: "min", current_ampere: 7453.123456789, x_over_r: 20.1 },
  { place: "PV", kind: "", condition: "max", no_source: true },
];

describe("the table of faults", () => {
  it("filters by words and type", () => {
    expect(filtered(rows, { text: "n2 MAX", type: "" }).map((r) => r.kind)).toEqual(["lg:A"]);
    expect(filtered(rows, { text: "", type: "3ph" })).toHaveLength(2);
    expect(filtered(rows, { text: "  ", type: "" })).toHaveLength(4);
  });
  it("sorts names as people count, numbers by size, and nothing last", () => {
    expect(sorted(rows, { by: "place", down: false }).map((r) => r.place)).toEqual(["N2", "N2", "N10", "PV"]);
    expect(sorted(rows, { by: "current", down: true }).map((r) => r.current_ampere)).toEqual([7453.123456789, 900, undefined, undefined]);
    expect(sorted(rows, { by: "current", down: false }).map((r) => r.current_ampere)).toEqual([900, 7453.123456789, undefined, undefined]);
    expect(sorted(rows, undefined)).toBe(rows);
  });
  it("goes round the orders of a column", () => {
    const first = nextOrder(undefined, "current");
    expect(orderText(first)).toBe("current:down");
    const second = nextOrder(first, "current");
    expect(orderText(second)).toBe("current");
    expect(nextOrder(second, "current")).toBeUndefined();
    expect(orderText(nextOrder(first, "place"))).toBe("place");
    expect(parseOrder("current:down")).toEqual({ by: "current", down: true });
    expect(parseOrder("nonsense")).toBeUndefined();
  });
  it("goes to a spreadsheet", () => {
    expect(tabbed(rows.slice(1, 4)).split("\n")).toEqual([
      "place\tkind\tcondition\tcurrent A\tX/R\tremark",
      "N2\tlg:A\tmax\t\t\tzero-sequence impedance of infeed grid is not given",
      "N2\t3ph\tmin\t7453.1235\t20.1\t",
      "PV\t\tmax\t\t\tno source",
    ]);
  });
});

describe("smaller things", () => {
  it("finds the worst verdict", () => {
    expect(worst({ holds: 3, unproven: 1 })).toBe("unproven");
    expect(worst({ holds: 0 })).toBeUndefined();
    expect(worst(sum([{ holds: 1 }, { thin: 2, holds: 1 }]))).toBe("thin");
    expect([counted("fails", 1), counted("fails", 3), counted("holds", 63)]).toEqual(["1 fails", "3 fail", "63 hold"]);
  });
  it("reads values as written", () => {
    expect(unbraced("{three-phase: 9.20 kA, # letter\n  x/r: 10.5}")).toBe("three-phase: 9.20 kA, x/r: 10.5");
    expect(unbraced("8.5 % on 15 MVA")).toBe("8.5 % on 15 MVA");
  });
  it("puts assumptions of one object together", () => {
    const a = (object: string, key: string) => ({ object, key, value: "1", source: "s", place: key });
    expect(byObject([a("x", "z1"), a("x", "z0"), a("y", "z1")]).map((o) => [o.object, o.values.length])).toEqual([
      ["x", 2],
      ["y", 1],
    ]);
  });
});
