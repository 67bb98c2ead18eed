// Kinds of fault: their types and phases, and how they are chosen.

import { kindInWords } from "../../lib/format";

export const typeOf = (kind: string) => kind.split(":")[0]!;
export const phasesOf = (kind: string) => kind.split(":")[1] ?? "";

/** The types among kinds, in their order. */
export const typesOf = (kinds: string[]) => [...new Set(kinds.map(typeOf))];

/** The kinds of one type. */
export const ofType = (kinds: string[], type: string) => kinds.filter((k) => typeOf(k) === type);

/** A kind in words, with the phases as the study names them: the server's A B C may be L1 L2 L3 there. */
export function kindWords(kind: string, names: string[] = []): string {
  const type = typeOf(kind) === "ln" ? "line-neutral" : kindInWords(typeOf(kind));
  return (type + " " + phaseWords(phasesOf(kind), names)).trim();
}

export function phaseWords(phases: string, names: string[]): string {
  const all = [...phases].map((p) => names["ABC".indexOf(p)] ?? p);
  return all.join(all.some((p) => p.length > 1) ? "-" : "");
}

/** The kind at a place: the one asked for if the place has its phases; else one of its type; else whatever it can have. */
export function kindAt(kinds: string[], asked: string): string {
  if (kinds.includes(asked)) return asked;
  return ofType(kinds, typeOf(asked))[0] ?? ofType(kinds, "lg")[0] ?? kinds[0] ?? asked;
}

/** The kind of the next type, on the same phases where it has them. */
export function nextType(kinds: string[], kind: string, by: number): string {
  const types = typesOf(kinds);
  const next = types[(types.indexOf(typeOf(kind)) + by + types.length) % types.length];
  if (next === undefined) return kind;
  const all = ofType(kinds, next);
  return all.find((k) => phasesOf(k) === phasesOf(kind)) ?? all.find((k) => phasesOf(kind) !== "" && phasesOf(k).includes(phasesOf(kind))) ?? all[0]!;
}

/** The next kind of the same type: other phases. */
export function nextPhases(kinds: string[], kind: string): string {
  const all = ofType(kinds, typeOf(kind));
  return all[(all.indexOf(kind) + 1) % all.length] ?? kind;
}

/** The kind whose band along the path stands for a kind of fault; undefined where none does. */
export function bandType(kind: string): string {
  const t = typeOf(kind);
  return t === "3ph-g" ? "3ph" : t === "ln" ? "lg" : t;
}
