// Assumptions of one object from one source read as one line.

export interface Assumption {
  object: string;
  key: string;
  value: string;
  source?: string;
  place: string;
}

export interface AssumedOf {
  object: string;
  source: string;
  values: Assumption[];
}

export function byObject(list: Assumption[]): AssumedOf[] {
  const out: AssumedOf[] = [];
  for (const a of list) {
    const last = out.at(-1);
    if (last && last.object === a.object && last.source === (a.source ?? "")) last.values.push(a);
    else out.push({ object: a.object, source: a.source ?? "", values: [a] });
  }
  return out;
}
