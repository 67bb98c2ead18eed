import { describe, expect, it } from "vitest";
import { ago, ampere, complex, count, grouped, kindInWords, number, phasor, quantity, si, stamp, whole } from "./format";

// The spellings of the server's text output (finding.Quantity, working.Number); those with prefixes are the page's own.
const plain = (t: string) => t.replaceAll("\u00a0", " ");

describe("numbers", () => {
  it.each([
    [0, 4, "0"],
    [9200.000000000002, 4, "9200"],
    [0.0481, 3, "0.0481"],
    [9.9996, 4, "10.00"],
    [-67.18, 3, "−67.2"],
    [Infinity, 4, "infinite"],
    [NaN, 4, "not defined"],
    [123456, 4, "123456"],
  ])("%f to %i digits is %s", (x, digits, want) => expect(number(x, digits)).toBe(want));
  it("sets thousands apart", () => {
    expect(grouped(12470.4)).toBe("12,470");
    expect(grouped(986.34)).toBe("986.3");
    expect(whole(4298)).toBe("4,298");
    expect(whole(614)).toBe("614");
  });
});

describe("quantities", () => {
  it.each([
    [{ value: 90, unit: "%" }, "90 %"],
    [{ value: 79.30579467, unit: "%" }, "79.31 %"],
    [{ value: 0.00002, unit: "" }, "2.0e−5"],
    [{ value: 2, unit: "" }, "2"],
    [{ value: -0.5, unit: "A" }, "−0.5000 A"],
  ])("%o is %s", (q, want) => expect(plain(quantity(q))).toBe(want));
});

describe("prefixes", () => {
  it.each([
    [1679.3, "A", "1,679 A"],
    [9999.4, "A", "9,999 A"],
    [9999.6, "A", "10.00 kA"],
    [11400, "A", "11.40 kA"],
    [0.05, "s", "50.00 ms"],
    [12470, "V", "12.47 kV"],
    [999.99, "V", "1.000 kV"],
    [0, "A", "0 A"],
  ])("%f %s is %s", (x, unit, want) => expect(plain(si(x, unit))).toBe(want));
  it("writes phasors and impedances", () => {
    expect(plain(phasor({ magnitude: 890, angle_degree: -67.23 }, "A"))).toBe("890.0 A ∠ −67.2°");
    expect(complex({ re: 0.3061, im: -0.627 })).toBe("0.3061 − j0.6270");
    expect(complex({ re: 0, im: 0 })).toBe("0");
  });
  it("keeps amperes in a column alike", () => expect([7453.2, 358.77].map(ampere)).toEqual(["7,453", "358.8"]));
});

describe("words", () => {
  it("counts", () => expect([count(1, "row"), count(2, "row"), count(0, "mistake")]).toEqual(["1 row", "2 rows", "0 mistakes"]));
  it("names kinds of fault", () => expect([kindInWords("lg:A"), kindInWords("3ph"), kindInWords("open:A")]).toEqual(["line-ground A", "three-phase", "open A"]));
  it("writes day and time", () => expect(stamp(new Date(2026, 2, 2, 4, 5))).toBe("2026-03-02 04:05"));
  it("tells how long ago", () => {
    const now = new Date("2026-01-01T12:00:00Z");
    const at = (s: number) => ago(new Date(now.getTime() - s * 1000), now);
    expect([at(-5), at(20), at(60), at(3600), at(86400 * 3)]).toEqual(["just now", "just now", "1 minute ago", "1 hour ago", "3 days ago"]);
  });
});
