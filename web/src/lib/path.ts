// Paths of the study file, as the server reads them: keys with " / " between, in quotes where a key could be misread.

/** The path of nested keys. */
export function path(...keys: string[]): string {
  return keys.map((k) => (` ${k} `.includes(" / ") || k.startsWith('"') ? JSON.stringify(k) : k)).join(" / ");
}
