import { describe, expect, it } from "vitest";
import { changed, parsePlace, parseSearch, stringifySearch } from "./address";
import { path } from "./path";

describe("the address", () => {
  it("goes both ways", () => {
    const s = { condition: "maximum, tie-fed to R1", finding: "duty/making/CS-T1", at: "120:3", q: "ü & = +" };
    expect(parseSearch(stringifySearch(s))).toEqual(s);
  });
  it("is one for one state, and readable", () => {
    expect(stringifySearch({ b: "2", a: "x/y, z" })).toBe("?a=x/y,+z&b=2");
    expect(stringifySearch({ a: "", b: undefined })).toBe("");
  });
  it("leaves text alone that looks like a number", () => expect(parseSearch("?past=007")).toEqual({ past: "007" }));
  it("changes keys and takes them out", () => expect(changed({ a: "1", b: "2" }, { a: undefined, b: "", c: "3" })).toEqual({ c: "3" }));
  it("reads places", () => {
    expect(parsePlace("study.yaml:120:3")).toEqual({ file: "study.yaml", line: 120, column: 3 });
    expect(parsePlace("a:b.yaml:7")).toEqual({ file: "a:b.yaml", line: 7, column: 1 });
    expect(parsePlace("nowhere")).toBeUndefined();
  });
  it("writes paths of the study", () => {
    expect(path("lines", "N1-N2", "length")).toBe("lines / N1-N2 / length");
    expect(path("lines", "a / b")).toBe('lines / "a / b"');
    expect(path("accepted", "duty/making/CS-T1")).toBe("accepted / duty/making/CS-T1");
  });
});
