import { useEffect, useRef, useSyncExternalStore } from "react";

/** A key of the page: what it is, what it does in words, and the deed. */
export interface Key {
  key: string; // as KeyboardEvent.key: "f", "?", "ArrowLeft"; with "Shift+" or "Ctrl+" in front where that is wanted
  says: string;
  run: (e: KeyboardEvent) => void;
  group?: string; // heading on the sheet
}

const registered: { keys: () => Key[] }[] = [];
const listeners = new Set<() => void>();
let snapshot: Key[] = [];

function refresh() {
  snapshot = registered.flatMap((r) => r.keys());
  for (const l of listeners) l();
}

/** Makes keys work while the component stands. What was registered last wins. Keys don't act while somebody types. */
export function useKeys(keys: Key[]) {
  const now = useRef(keys);
  now.current = keys;
  const shape = keys.map((k) => k.key + k.says).join("|");
  useEffect(() => {
    const entry = { keys: () => now.current };
    registered.push(entry);
    refresh();
    return () => {
      registered.splice(registered.indexOf(entry), 1);
      refresh();
    };
  }, [shape]);
}

/** All keys that work now, for the sheet. */
export function useAllKeys(): Key[] {
  return useSyncExternalStore(
    (l) => {
      listeners.add(l);
      return () => listeners.delete(l);
    },
    () => snapshot,
  );
}

/** The name of the key that was pressed, as in Key.key. */
export function nameOf(e: KeyboardEvent): string {
  const key = e.key.length === 1 && (e.ctrlKey || e.metaKey) ? e.key.toLowerCase() : e.key;
  const shifted = e.shiftKey && (key.length > 1 || e.ctrlKey || e.metaKey);
  return (e.ctrlKey || e.metaKey ? "Ctrl+" : "") + (shifted ? "Shift+" : "") + key;
}

/** Whether keys belong to the thing that has the focus: a field, a list to choose from, the text editor. */
function typing(target: EventTarget | null): boolean {
  return target instanceof HTMLElement && target.closest("input, textarea, select, [contenteditable=true], [role=textbox], [data-keys=own]") !== null;
}

/** Listens to the keyboard for all that is registered. Once, in the frame. */
export function useKeyboard() {
  useEffect(() => {
    const onKey = (e: KeyboardEvent) => {
      if (e.defaultPrevented || e.altKey || e.isComposing) return;
      const name = nameOf(e);
      if (typing(e.target) && name !== "Escape") return;
      // A dialog has the keyboard to itself.
      if (document.querySelector("[role=dialog]") && name !== "?") return;
      for (let i = registered.length - 1; i >= 0; i--) {
        const key = registered[i]!.keys().find((k) => k.key === name);
        if (key) {
          e.preventDefault();
          key.run(e);
          return;
        }
      }
    };
    window.addEventListener("keydown", onKey);
    return () => window.removeEventListener("keydown", onKey);
  }, []);
}
