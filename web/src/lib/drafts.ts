// Texts that were typed and not yet written. They outlive a visit to another chapter, and a reload of the page.

export interface Draft {
  base: string; // version of the file that it was made from
  text: string;
}

const key = (study: string, file: string) => `feederwright.draft:${study}:${file}`;

export function draftOf(study: string, file: string): Draft | undefined {
  try {
    const text = sessionStorage.getItem(key(study, file));
    return text === null ? undefined : (JSON.parse(text) as Draft);
  } catch {
    return undefined;
  }
}

export function keepDraft(study: string, file: string, draft: Draft | undefined): void {
  try {
    if (draft) sessionStorage.setItem(key(study, file), JSON.stringify(draft));
    else sessionStorage.removeItem(key(study, file));
  } catch {
    // No room or no permission: the draft lives as long as the chapter is shown.
  }
}
