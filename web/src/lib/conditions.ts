// Conditions are named by the parts of their axes: "minimum, tie-fed, no plant". A choice names parts of some axes and leaves
// the others open; the server answers for all conditions that have them. The empty choice is all conditions: the worst of all.

/** The parts of a name. */
export function parts(name: string): string[] {
  return name
    .split(",")
    .map((p) => p.trim())
    .filter((p) => p !== "");
}

/** Names that a choice means. */
export function matching(names: string[], choice: string): string[] {
  if (choice === "" || choice === "all") return names;
  if (names.includes(choice)) return [choice];
  const wanted = parts(choice);
  return names.filter((n) => {
    const has = parts(n);
    return wanted.every((w) => has.includes(w));
  });
}

/** The axes: one list of parts for each position in the names, in order of appearance; one list of whole names where the names
 * have no common shape. */
export function axes(names: string[]): string[][] {
  const split = names.map(parts);
  const n = split[0]?.length ?? 0;
  if (names.length < 2 || n < 2 || split.some((s) => s.length !== n)) return names.length > 0 ? [names] : [];
  const list = Array.from({ length: n }, (_, i) => [...new Set(split.map((s) => s[i]!))]);
  // A word on two axes could not be told apart.
  const all = list.flat();
  if (new Set(all).size !== all.length) return [names];
  return list;
}

/** The part of each axis that a choice names, or "". */
export function chosen(axesOf: string[][], choice: string): string[] {
  if (axesOf.length === 1) return [axesOf[0]!.includes(choice) ? choice : ""];
  const has = parts(choice);
  return axesOf.map((axis) => axis.find((p) => has.includes(p)) ?? "");
}

/** The choice after a part was taken, or left again. */
export function choose(axesOf: string[][], names: string[], choice: string, axis: number, part: string): string {
  const now = chosen(axesOf, choice);
  now[axis] = now[axis] === part ? "" : part;
  let next = now.filter((p) => p !== "").join(", ");
  if (next !== "" && matching(names, next).length === 0) {
    // No condition has both: keep what was chosen last.
    next = part;
  }
  return next;
}

/** A choice in words. */
export function inWords(names: string[], choice: string): string {
  const n = matching(names, choice).length;
  if (choice === "" || choice === "all") return names.length === 1 ? names[0]! : `worst of all ${names.length} conditions`;
  if (n === 1) return matching(names, choice)[0]!;
  return `worst of ${n} conditions: ${choice}`;
}
