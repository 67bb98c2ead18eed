import { describe, expect, it } from "vitest";
import { axes, choose, chosen, inWords, matching } from "./conditions";

const names = ["maximum, normal", "maximum, tie-fed", "minimum, normal"]; // minimum, tie-fed is excluded

describe("conditions", () => {
  it("reads axes from names", () => expect(axes(names)).toEqual([["maximum", "minimum"], ["normal", "tie-fed"]]));
  it("takes whole names where there is no common shape", () => {
    expect(axes(["as built", "future, tied"])).toEqual([["as built", "future, tied"]]);
    expect(axes(["peak", "light"])).toEqual([["peak", "light"]]);
    expect(axes(["one"])).toEqual([["one"]]);
    expect(axes([])).toEqual([]);
  });
  it("takes whole names where a word stands on two axes", () => expect(axes(["a, b", "b, a"])).toEqual([["a, b", "b, a"]]));
  it("matches by parts, as the server does", () => {
    expect(matching(names, "")).toEqual(names);
    expect(matching(names, "normal")).toEqual(["maximum, normal", "minimum, normal"]);
    expect(matching(names, "minimum, normal")).toEqual(["minimum, normal"]);
    expect(matching(names, "nothing")).toEqual([]);
  });
  it("chooses, and leaves again", () => {
    const ax = axes(names);
    let c = choose(ax, names, "", 0, "maximum");
    expect(c).toBe("maximum");
    c = choose(ax, names, c, 1, "tie-fed");
    expect(c).toBe("maximum, tie-fed");
    expect(chosen(ax, c)).toEqual(["maximum", "tie-fed"]);
    // No condition is minimum and tie-fed: the last choice stands alone.
    expect(choose(ax, names, c, 0, "minimum")).toBe("minimum");
    expect(choose(ax, names, c, 1, "tie-fed")).toBe("maximum");
  });
  it("says what it is", () => {
    expect(inWords(names, "")).toBe("worst of all 3 conditions");
    expect(inWords(names, "normal")).toBe("worst of 2 conditions: normal");
    expect(inWords(names, "minimum")).toBe("minimum, normal");
    expect(inWords(["as built"], "")).toBe("as built");
  });
});
