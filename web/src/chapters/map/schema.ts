// What an entry of a table may hold, read from the JSON Schema of the study file.

type Node = { [key: string]: unknown };

export interface Field {
  key: string;
  says: string; // description
  refers: string[]; // kinds of thing that its value names: "bus", "line type"
  words: string[]; // the words allowed, where it is one of some
  needed: boolean;
  simple: boolean; // one value, not a list or group
}

const object = (x: unknown): Node => (typeof x === "object" && x !== null ? (x as Node) : {});

/** The definition that a node leads to. */
function resolve(root: Node, node: Node): Node {
  const ref = node["$ref"];
  if (typeof ref !== "string" || !ref.startsWith("#/$defs/")) return node;
  return resolve(root, object(object(root["$defs"])[ref.slice("#/$defs/".length)]));
}

/** The fields of one entry of a table, in the order of the schema. A table without entries of its own has none. */
export function fieldsOf(schema: unknown, table: string): Field[] {
  const root = object(schema);
  const node = object(object(root["properties"])[table]);
  const entry = resolve(root, object(node["additionalProperties"]));
  const needed = Array.isArray(entry["required"]) ? (entry["required"] as string[]) : [];
  return Object.entries(object(entry["properties"])).map(([key, x]) => {
    const own = object(x);
    const comment = typeof own["$comment"] === "string" ? (own["$comment"] as string) : "";
    const m = /names? of an? (.+)/.exec(comment);
    return {
      key,
      says: typeof own["description"] === "string" ? (own["description"] as string) : "",
      refers: m ? m[1]!.split(/, | or /).map((k) => k.replace(/^an? /, "").trim()) : [],
      words: wordsOf(root, own),
      needed: needed.includes(key),
      simple: simple(root, own),
    };
  });
}

/** The words allowed: an enumeration, here or in one of the forms that a value may have. */
function wordsOf(root: Node, node: Node): string[] {
  const n = resolve(root, node);
  for (const from of [node, n]) if (Array.isArray(from["enum"])) return (from["enum"] as unknown[]).filter((e): e is string => typeof e === "string");
  for (const form of ["anyOf", "oneOf"]) {
    const list = n[form];
    if (Array.isArray(list))
      for (const x of list) {
        const w = wordsOf(root, object(x));
        if (w.length > 0) return w;
      }
  }
  return [];
}

/** Whether it can be written as one value. */
function simple(root: Node, node: Node): boolean {
  const n = resolve(root, node);
  const types = [n["type"]].flat();
  if (types.some((t) => t === "string" || t === "number" || t === "integer")) return true;
  for (const form of ["anyOf", "oneOf"]) {
    const list = n[form];
    if (Array.isArray(list) && list.some((x) => simple(root, object(x)))) return true;
  }
  return types.every((t) => t === undefined) && !("properties" in n) && !("additionalProperties" in n);
}

/** The keys that stand in every entry and say where its values are from. */
export const provenance = ["source", "known", "date", "assumed", "note"];

/** The table of a path: "lines / N1-N2" is of lines. */
export const tableOf = (path: string) => path.split(" / ")[0] ?? "";
