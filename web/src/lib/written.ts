// Values of the study as written in the file, made readable in a table.

/** The inside of a flow mapping or list: "{a: 1, b: 2}" is "a: 1, b: 2"; comments are left out. */
export function unbraced(text: string): string {
  const flat = text.replace(/\s#[^\n]*/g, "").replace(/\s+/g, " ").trim();
  return /^\{.*\}$|^\[.*\]$/.test(flat) ? flat.slice(1, -1).trim() : flat;
}
