// What may stand at a place of a study file, by its schema: keys that an entry can have, words that a value can be, names of
// things that are referred to. It reads the text line by line, since a text that is being typed rarely parses.

export interface Schema {
  description?: string;
  $ref?: string;
  $comment?: string;
  $defs?: Record<string, Schema>;
  type?: string | string[];
  enum?: unknown[];
  const?: unknown;
  anyOf?: Schema[];
  oneOf?: Schema[];
  required?: string[];
  properties?: Record<string, Schema>;
  additionalProperties?: boolean | Schema;
  items?: Schema;
}

export interface Spot {
  path: string[]; // keys that lead to the mapping, or to the value
  key: string | undefined; // set where a value stands: its key
  word: string; // what has been typed of it
  siblings: string[]; // keys that the mapping has already
}

export interface Option {
  label: string;
  detail?: string;
  isKey: boolean;
}

const keyOf = /^(\s*)(?:- )?(?:"([^"]*)"|'([^']*)'|([^\s#{}[\],"'][^#{}[\],]*?))\s*:(?=\s|$)/;

function lineKey(line: string): { indent: number; key: string } | undefined {
  const m = keyOf.exec(line);
  return m ? { indent: m[1]!.length, key: m[2] ?? m[3] ?? m[4] ?? "" } : undefined;
}

/** Where the end of a text stands. `before` is all text up to the cursor, `after` what follows it. */
export function spotAt(before: string, after = ""): Spot {
  const lines = before.split("\n");
  const line = lines.pop() ?? "";
  const indent = /^\s*/.exec(line)![0].length;

  // Parents of the line: the nearest lines above that stand further left.
  const parents: string[] = [];
  let at = indent;
  const siblings: string[] = [];
  for (let i = lines.length - 1; i >= 0 && (at > 0 || parents.length === 0); i--) {
    if (/^\s*(#|$)/.test(lines[i]!)) continue;
    const k = lineKey(lines[i]!);
    if (!k) continue;
    if (k.indent < at) {
      parents.unshift(k.key);
      at = k.indent;
    } else if (k.indent === at && parents.length === 0) siblings.push(k.key);
    if (at === 0 && parents.length > 0) break;
  }
  if (indent === 0) parents.length = 0;
  for (const l of after.split("\n").slice(1)) {
    if (/^\s*(#|$)/.test(l)) continue;
    const k = lineKey(l);
    if (!k || k.indent < indent) break;
    if (k.indent === indent) siblings.push(k.key);
  }

  // The line itself: block key, then flow mappings within.
  const stack: { key?: string; siblings: string[]; list: boolean }[] = [{ siblings, list: false }];
  let token = "";
  let quote = "";
  for (let i = 0; i < line.length; i++) {
    const c = line[i]!;
    const top = stack.at(-1)!;
    if (quote !== "") {
      if (c === quote) quote = "";
      token += c;
      continue;
    }
    if ((c === '"' || c === "'") && token.trim() === "") {
      quote = c;
      token += c;
    } else if (c === "#" && (i === 0 || /\s/.test(line[i - 1]!))) {
      return { path: [], key: undefined, word: "", siblings: [] }; // a comment
    } else if (c === ":" && (i + 1 >= line.length || /\s/.test(line[i + 1]!)) && !top.list && top.key === undefined) {
      top.key = token.trim().replace(/^- /, "").replace(/^["']|["']$/g, "");
      token = "";
    } else if (c === "{" || c === "[") {
      stack.push({ siblings: [], list: c === "[" });
      token = "";
    } else if ((c === "}" || c === "]") && stack.length > 1) {
      stack.pop();
      token = "";
    } else if (c === "," && stack.length > 1) {
      if (top.key !== undefined) top.siblings.push(top.key);
      top.key = undefined;
      token = "";
    } else token += c;
  }
  const path = [...parents];
  for (const s of stack.slice(0, -1)) if (s.key !== undefined) path.push(s.key);
  const last = stack.at(-1)!;
  const key = last.list ? undefined : last.key;
  const word = token.replace(/^\s*(- )?/, "");
  if (last.list) {
    // An element of a list is a value of the key before it.
    return { path: path.slice(0, -1), key: path.at(-1), word, siblings: [] };
  }
  return { path, key, word, siblings: last.siblings };
}

/** Follows references and gives the alternatives that a schema has. */
function alternatives(root: Schema, s: Schema | undefined, depth = 0): Schema[] {
  if (!s || depth > 12) return [];
  const out: Schema[] = [s];
  if (s.$ref) out.push(...alternatives(root, root.$defs?.[s.$ref.replace("#/$defs/", "")], depth + 1));
  for (const a of [...(s.anyOf ?? []), ...(s.oneOf ?? [])]) out.push(...alternatives(root, a, depth + 1));
  return out;
}

function step(root: Schema, from: Schema[], key: string): Schema[] {
  for (const s of from) {
    const p = s.properties?.[key];
    if (p) return alternatives(root, p);
  }
  for (const s of from) if (typeof s.additionalProperties === "object") return alternatives(root, s.additionalProperties);
  return [];
}

/** All names that tables of a text have: "buses" to ["HV", "N0" ...]. */
export function names(text: string): Record<string, string[]> {
  const out: Record<string, string[]> = {};
  let table = "";
  let depth = 0;
  for (const line of text.split("\n")) {
    if (/^\s*(#|$)/.test(line)) continue;
    const k = lineKey(line);
    if (!k) continue;
    if (k.indent === 0) {
      table = k.key;
      depth = 0;
      out[table] = [];
    } else {
      if (depth === 0) depth = k.indent;
      if (k.indent === depth) out[table]?.push(k.key);
    }
  }
  return out;
}

/** The table that holds things of a kind: "bus" is in "buses". */
function tableOf(kind: string, tables: Record<string, string[]>): string[] {
  return tables[kind + "s"] ?? tables[kind + "es"] ?? tables[kind.replace(/y$/, "ies")] ?? (kind === "infeed" ? tables["supply"] : undefined) ?? [];
}

/** What may stand at a spot. */
export function options(root: Schema, spot: Spot, tables: Record<string, string[]>): Option[] {
  let here = alternatives(root, root);
  for (const key of spot.path) here = step(root, here, key);
  if (spot.key === undefined) {
    const seen = new Set(spot.siblings);
    const out: Option[] = [];
    for (const s of here)
      for (const [key, p] of Object.entries(s.properties ?? {})) {
        if (seen.has(key)) continue;
        seen.add(key);
        out.push({ label: key, detail: alternatives(root, p).find((a) => a.description)?.description, isKey: true });
      }
    return out;
  }
  const all = step(root, here, spot.key);
  const out = new Map<string, Option>();
  const add = (label: string, detail?: string) => out.has(label) || out.set(label, { label, detail, isKey: false });
  for (const s of all) {
    for (const e of s.enum ?? []) add(String(e));
    if (s.const !== undefined) add(String(s.const));
    const refers = /^name of an? (.+)$/.exec(s.$comment ?? "");
    if (refers)
      for (const kind of refers[1]!.split(/ or (?:an? )?|, (?:an? )?/)) for (const n of tableOf(kind.trim(), tables)) add(n, kind.trim());
  }
  return [...out.values()];
}

/** What the schema says of the key at a spot. */
export function meaning(root: Schema, path: string[]): string | undefined {
  let here = alternatives(root, root);
  for (const key of path) here = step(root, here, key);
  return here.find((s) => s.description)?.description;
}
