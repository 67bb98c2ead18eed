import { expect, it } from "vitest";
import { bandType, kindAt, kindWords, nextPhases, nextType, typesOf } from "./kinds";

const all = ["3ph", "3ph-g", "ll:AB", "ll:BC", "ll:AC", "ll-g:AB", "lg:A", "lg:B", "lg:C"];

it("a kind that a place can't have gives way to one that it can", () => {
  expect(kindAt(all, "lg:B")).toBe("lg:B");
  expect(kindAt(["lg:B"], "lg:A")).toBe("lg:B");
  expect(kindAt(["ll:AB", "lg:B"], "3ph")).toBe("lg:B");
  expect(kindAt([], "3ph")).toBe("3ph");
});

it("types come one after the other and keep phases where they can", () => {
  expect(typesOf(all)).toEqual(["3ph", "3ph-g", "ll", "ll-g", "lg"]);
  expect(nextType(all, "lg:A", 1)).toBe("3ph");
  expect(nextType(all, "3ph", -1)).toBe("lg:A");
  expect(nextType(all, "ll-g:AB", -1)).toBe("ll:AB");
  let k = "3ph";
  const seen = new Set<string>();
  for (let i = 0; i < 5; i++) seen.add((k = nextType(all, k, 1)));
  expect(seen.size).toBe(5);
});

it("phases go round", () => {
  expect(nextPhases(all, "lg:C")).toBe("lg:A");
  expect(nextPhases(all, "3ph")).toBe("3ph");
});

it("has words, and a band along the path, for every kind", () => {
  expect(kindWords("lg:A")).toBe("line-ground A");
  expect(kindWords("ln:A")).toBe("line-neutral A");
  expect(kindWords("ll-g:AC", ["L1", "L2", "L3"])).toBe("line-line-ground L1-L3");
  expect(kindWords("lg:B", ["A", "B", "C"])).toBe("line-ground B");
  expect(kindWords("3ph", ["L1", "L2", "L3"])).toBe("three-phase");
  expect(bandType("3ph-g")).toBe("3ph");
  expect(bandType("ll-g:AB")).toBe("ll-g");
});
