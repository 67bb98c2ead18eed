import { describe, expect, it } from "vitest";
import { names, options, spotAt, type Schema } from "./complete";

const text = `study: T
practice: iec
buses:
  HV: { voltage: 115 kV }
  N0:
    voltage: 12.47 kV
lines:
  HV-N0:
    from: HV
`;

const schema: Schema = {
  properties: {
    practice: { description: "Practice.", anyOf: [{ enum: ["ieee", "iec"] }, { properties: { value: { enum: ["ieee", "iec"] } } }] },
    buses: { additionalProperties: { $ref: "#/$defs/bus" } },
    lines: { additionalProperties: { $ref: "#/$defs/line" } },
  },
  $defs: {
    bus: { properties: { voltage: { description: "Nominal." }, phases: {}, note: {} } },
    line: { properties: { from: { $comment: "name of a bus" }, to: { $comment: "name of a bus" }, type: { $comment: "name of a line type" } } },
  },
};

describe("spotAt", () => {
  it("knows the top", () => expect(spotAt("stu")).toMatchObject({ path: [], key: undefined, word: "stu" }));
  it("knows keys of an entry, and those that are there", () => {
    expect(spotAt(text + "    t")).toMatchObject({ path: ["lines", "HV-N0"], key: undefined, word: "t", siblings: ["from"] });
  });
  it("knows a value", () => expect(spotAt(text + "    to: N")).toMatchObject({ path: ["lines", "HV-N0"], key: "to", word: "N" }));
  it("knows keys and values on one line", () => {
    expect(spotAt("buses:\n  HV: { voltage: 115 kV, ph")).toMatchObject({ path: ["buses", "HV"], key: undefined, word: "ph", siblings: ["voltage"] });
    expect(spotAt("buses:\n  HV: { voltage: 1")).toMatchObject({ path: ["buses", "HV"], key: "voltage", word: "1" });
  });
  it("knows an element of a list", () => expect(spotAt("include: [a.yaml, b")).toMatchObject({ path: [], key: "include", word: "b" }));
  it("leaves comments alone", () => expect(spotAt("buses:\n  # vol")).toMatchObject({ path: [], word: "" }));
  it("looks behind the cursor for keys too", () => {
    expect(spotAt("buses:\n  N0:\n    ", "\n    voltage: 1 kV\n  N1: {}\n").siblings).toEqual(["voltage"]);
  });
  it("does not count colons inside a word", () => expect(spotAt("conditions: { faults: lg:A").key).toBe("faults"));
});

describe("options", () => {
  const at = (more: string) => options(schema, spotAt(text + more), names(text)).map((o) => o.label);
  it("gives keys that are not there yet", () => {
    expect(at("    ")).toEqual(["to", "type"]);
    expect(options(schema, spotAt("buses:\n  A: { voltage: 1 kV, "), {}).map((o) => o.label)).toEqual(["phases", "note"]);
  });
  it("gives the names that a key refers to", () => expect(at("    to: ")).toEqual(["HV", "N0"]));
  it("gives words", () => expect(options(schema, spotAt("practice: "), {}).map((o) => o.label)).toEqual(["ieee", "iec"]));
  it("says nothing for names of entries", () => expect(options(schema, spotAt("buses:\n  x"), {})).toEqual([]));
});
