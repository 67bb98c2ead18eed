import { expect, test } from "vitest";
import type { Schema } from "./complete";
import { entryText, furtherKeys, required, says, suggestions } from "./form";

const root: Schema = {
  $ref: "#/$defs/all",
  $defs: {
    all: { properties: { lines: { additionalProperties: { $ref: "#/$defs/one" } } } },
    one: {
      required: ["from", "length"],
      properties: { from: { $comment: "name of a bus" }, length: { description: "Its length." }, placing: { enum: ["air", "ground"] } },
    },
  },
};

test("the form asks what the schema says", () => {
  expect(required(root, "lines")).toEqual(["from", "length"]);
  expect(required(root, "nothing")).toEqual([]);
  expect(furtherKeys(root, "lines", ["from"]).map((o) => o.label)).toEqual(["length", "placing"]);
  expect(suggestions(root, "lines", "placing", {})).toEqual(["air", "ground"]);
  expect(suggestions(root, "lines", "from", { buses: ["N1", "N2"] })).toContain("N1");
  expect(says(root, "lines", "length")).toBe("Its length.");
});

test("a new entry is written so that it reads as it was meant", () => {
  expect(entryText([["from", "N1"], ["length", "0.5 km"], ["note", " "]])).toBe("{ from: N1, length: 0.5 km }");
  expect(entryText([["note", "old: see, {file}"]])).toBe('{ note: "old: see, {file}" }');
});
