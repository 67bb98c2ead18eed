// The typed client of the server's API. Types are made from its description; see scripts/types.mjs.

import createClient from "openapi-fetch";
import type { components, paths } from "./schema";

export type Schemas = components["schemas"];
export type StudyState = Schemas["StudyState"];
export type Finding = Schemas["Finding"];
export type Judgement = Schemas["FindingFinding"];
export type Diagnostic = Schemas["Diagnostic"];
export type Step = Schemas["WorkingStep"];
export type FaultRow = Schemas["FaultRow"];

/** A file that somebody else has written since: three texts to choose from. It comes as detail of a 409. */
export interface Conflict {
  file: string;
  base: string; // what mine was made from; "" where that is no longer known
  mine: string;
  theirs: string; // what is on disk
  version: string; // of theirs
  merged?: string; // both together, with marked regions where that wasn't possible
  clean: boolean; // there are no such regions
}

export const api = createClient<paths>({ baseUrl: "/" });

/** A failure that the server tells in words. */
export class Refusal extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly errors: { message?: string; location?: string; value?: unknown }[] = [],
  ) {
    super(message);
  }

  /** The conflicts of a 409, each a choice between three texts. */
  get conflicts(): Conflict[] {
    if (this.status !== 409) return [];
    return this.errors.map((e) => e.value).filter((v): v is Conflict => typeof v === "object" && v !== null && "theirs" in v);
  }
}

/** The data of an answer, or its refusal thrown. */
export async function data<T>(
  answer: Promise<{ data?: T; error?: unknown; response: Response }>,
): Promise<NonNullable<T>> {
  let a: { data?: T; error?: unknown; response: Response };
  try {
    a = await answer;
  } catch {
    throw new Refusal(0, "The server does not answer. Is feederwright serve still running?");
  }
  if (a.data !== undefined && a.data !== null) return a.data;
  const e = a.error as { detail?: string; title?: string; errors?: [] } | undefined;
  throw new Refusal(a.response.status, e?.detail ?? e?.title ?? `the server answered ${a.response.status}`, e?.errors ?? []);
}

/** A list that may be absent. */
export function list<T>(x: T[] | null | undefined): T[] {
  return x ?? [];
}
