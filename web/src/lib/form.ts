// What the form of an entry asks for, by the schema of the study file.

import { meaning, options, type Option, type Schema } from "./complete";

/** The schema of one entry of a table. */
export function entrySchema(root: Schema, table: string): Schema | undefined {
  const follow = (s: Schema | undefined): Schema | undefined => (s?.$ref ? follow(root.$defs?.[s.$ref.replace("#/$defs/", "")]) : s);
  const of = follow(follow(root)?.properties?.[table])?.additionalProperties;
  return typeof of === "object" ? follow(of) : undefined;
}

/** Keys that an entry must have. */
export function required(root: Schema, table: string): string[] {
  return entrySchema(root, table)?.required ?? [];
}

/** Keys that an entry can have besides those that it has. */
export function furtherKeys(root: Schema, table: string, has: string[]): Option[] {
  return options(root, { path: [table, "?"], key: undefined, word: "", siblings: has }, {});
}

/** Words and names that the value of a key can be. */
export function suggestions(root: Schema, table: string, key: string, tables: Record<string, string[]>): string[] {
  return options(root, { path: [table, "?"], key, word: "", siblings: [] }, tables).map((o) => o.label);
}

/** What a key means. */
export function says(root: Schema, table: string, key: string): string {
  return meaning(root, [table, "?", key]) ?? "";
}

/** A value as YAML of one line; what could be read as something else is put in quotes. */
export function written(value: string): string {
  return /^[\w.][\w.+/%-]*( [\w.+/%-]+)*$/.test(value) || /^[[{].*[\]}]$/.test(value) ? value : JSON.stringify(value);
}

/** A new entry as YAML: keys with values; empty ones are left out. */
export function entryText(values: [key: string, value: string][]): string {
  const given = values.filter(([, v]) => v.trim() !== "");
  return "{ " + given.map(([k, v]) => `${k}: ${written(v.trim())}`).join(", ") + " }";
}
