// Verdicts, worst first, and what is the worst of several.

export const verdicts = ["fails", "thin", "unproven", "holds"] as const;
export type Verdict = (typeof verdicts)[number];

export function isVerdict(word: string | undefined): word is Verdict {
  return verdicts.includes(word as Verdict);
}

export type Tally = Partial<Record<string, number>>;

/** The worst verdict that a tally has any of. */
export function worst(t: Tally): Verdict | undefined {
  return verdicts.find((v) => (t[v] ?? 0) > 0);
}

export function sum(tallies: Tally[]): Tally {
  const out: Tally = {};
  for (const t of tallies) for (const [k, n] of Object.entries(t)) out[k] = (out[k] ?? 0) + (n ?? 0);
  return out;
}

/** "3 fail", "1 fails": the verb after a count. */
export function counted(v: Verdict, n: number): string {
  const many = { fails: "fail", thin: "thin", unproven: "unproven", holds: "hold" }[v];
  const one = { fails: "fails", thin: "thin", unproven: "unproven", holds: "holds" }[v];
  return `${n} ${n === 1 ? one : many}`;
}
