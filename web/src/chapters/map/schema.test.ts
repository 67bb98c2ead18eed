import { describe, expect, it } from "vitest";
import { fieldsOf, tableOf } from "./schema";

const schema = {
  properties: { lines: { additionalProperties: { $ref: "#/$defs/line" } }, study: { type: "string" } },
  $defs: {
    line: {
      required: ["from"],
      properties: {
        from: { description: "Bus at the start.", $ref: "#/$defs/text", $comment: "name of a bus" },
        in: { $ref: "#/$defs/text", $comment: "name of a line, transformer or bank" },
        normally: { description: "Position.", anyOf: [{ enum: ["open", "closed"] }, { type: "object", properties: { value: { enum: ["open", "closed"] } } }] },
        positions: { type: "object", additionalProperties: { type: "string" } },
      },
    },
    text: { anyOf: [{ type: "string" }, { type: "object", properties: { value: {} } }] },
  },
};

describe("fields", () => {
  it("come from the schema, with what they name and the words allowed", () => {
    const f = fieldsOf(schema, "lines");
    expect(f.map((x) => x.key)).toEqual(["from", "in", "normally", "positions"]);
    expect(f[0]).toMatchObject({ says: "Bus at the start.", refers: ["bus"], needed: true, simple: true });
    expect(f[1]!.refers).toEqual(["line", "transformer", "bank"]);
    expect(f[2]).toMatchObject({ words: ["open", "closed"], needed: false });
    expect(f[3]!.simple).toBe(false);
  });
  it("are none where there is no table", () => {
    expect(fieldsOf(schema, "study")).toEqual([]);
    expect(fieldsOf(undefined, "lines")).toEqual([]);
  });
  it("a path begins with its table", () => expect(tableOf("current transformers / CT-11")).toBe("current transformers"));
});
