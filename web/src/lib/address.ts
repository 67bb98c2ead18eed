// What is on screen is in the address: /s/STUDY/CHAPTER?condition=...&key=... All values are text and readable.

export type Search = Record<string, string | undefined>;

export function parseSearch(text: string): Search {
  const out: Search = {};
  for (const [k, v] of new URLSearchParams(text)) if (v !== "") out[k] = v;
  return out;
}

/** Writes what is not empty, in the order of the keys, so that one state has one address. */
export function stringifySearch(search: Record<string, unknown>): string {
  const p = new URLSearchParams();
  for (const k of Object.keys(search).sort()) {
    const v = search[k];
    if (typeof v === "string" && v !== "") p.append(k, v);
  }
  const text = p.toString().replace(/%2C/g, ",").replace(/%3A/g, ":").replace(/%2F/g, "/");
  return text === "" ? "" : "?" + text;
}

/** The search with some keys changed; undefined and "" take a key out. */
export function changed(now: Search, to: Search): Search {
  const next: Search = { ...now };
  for (const [k, v] of Object.entries(to)) {
    if (v === undefined || v === "") delete next[k];
    else next[k] = v;
  }
  return next;
}

/** A place in a file: "study.yaml:120:3". */
export interface Place {
  file: string;
  line: number;
  column: number;
}

export function parsePlace(text: string): Place | undefined {
  const m = /^(.+?):(\d+)(?::(\d+))?$/.exec(text);
  return m ? { file: m[1]!, line: Number(m[2]), column: Number(m[3] ?? 1) } : undefined;
}
