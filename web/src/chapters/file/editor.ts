// The text editor: YAML, completion from the schema, and the checker's messages at their places.

import { autocompletion, closeBrackets, completionKeymap, type CompletionContext, type CompletionResult } from "@codemirror/autocomplete";
import { defaultKeymap, history, historyKeymap, indentWithTab } from "@codemirror/commands";
import { yaml } from "@codemirror/lang-yaml";
import { bracketMatching, HighlightStyle, indentUnit, syntaxHighlighting } from "@codemirror/language";
import { lintGutter, lintKeymap, setDiagnostics, type Diagnostic as Mark } from "@codemirror/lint";
import { highlightSelectionMatches, searchKeymap } from "@codemirror/search";
import { EditorState, type Extension, type Text } from "@codemirror/state";
import {
  drawSelection,
  EditorView,
  highlightActiveLine,
  highlightActiveLineGutter,
  hoverTooltip,
  keymap,
  lineNumbers,
} from "@codemirror/view";
import { tags } from "@lezer/highlight";
import type { Diagnostic } from "../../api/client";
import { meaning, names, options, spotAt, type Schema } from "../../lib/complete";

const look = EditorView.theme({
  "&": { backgroundColor: "var(--fw-sheet)", color: "var(--fw-ink)", fontSize: "0.8125rem", height: "100%" },
  "&.cm-focused": { outline: "2px solid var(--fw-accent)", outlineOffset: "-2px" },
  ".cm-scroller": { fontFamily: '"IBM Plex Mono", ui-monospace, monospace', lineHeight: "1.55" },
  ".cm-content": { caretColor: "var(--fw-ink)" },
  ".cm-cursor": { borderLeftColor: "var(--fw-ink)", borderLeftWidth: "2px" },
  ".cm-gutters": { backgroundColor: "var(--fw-sheet)", color: "var(--fw-muted)", border: "none", borderRight: "1px solid var(--fw-rule)" },
  ".cm-activeLine": { backgroundColor: "color-mix(in srgb, var(--fw-accent) 6%, transparent)" },
  ".cm-activeLineGutter": { backgroundColor: "transparent", color: "var(--fw-ink)", fontWeight: "600" },
  "&.cm-focused > .cm-scroller > .cm-selectionLayer .cm-selectionBackground, .cm-selectionBackground": {
    backgroundColor: "color-mix(in srgb, var(--fw-accent) 22%, transparent) !important",
  },
  ".cm-tooltip": { backgroundColor: "var(--fw-sheet)", color: "var(--fw-ink)", border: "1px solid var(--fw-rule)", maxWidth: "34rem" },
  ".cm-tooltip-autocomplete > ul > li[aria-selected]": { backgroundColor: "var(--fw-accent)", color: "var(--fw-on-accent)" },
  ".cm-completionInfo": { fontFamily: '"IBM Plex Sans", system-ui, sans-serif', maxWidth: "24rem" },
  ".cm-completionDetail": { fontStyle: "normal", color: "inherit", opacity: "0.8" },
  ".cm-diagnostic": { fontFamily: '"IBM Plex Sans", system-ui, sans-serif', whiteSpace: "pre-wrap", borderLeft: "4px solid var(--fw-fails)" },
  ".cm-diagnostic-warning": { borderLeftColor: "var(--fw-thin)" },
  ".cm-said": { padding: "0.35rem 0.6rem", fontFamily: '"IBM Plex Sans", system-ui, sans-serif' },
  ".cm-panels": { backgroundColor: "var(--fw-paper)", color: "var(--fw-ink)" },
  ".cm-panels input, .cm-panels button": { font: "inherit" },
  ".cm-lintRange-error": { backgroundImage: "none", textDecoration: "underline wavy var(--fw-fails)", textUnderlineOffset: "3px" },
  ".cm-lintRange-warning": { backgroundImage: "none", textDecoration: "underline wavy var(--fw-thin)", textUnderlineOffset: "3px" },
});

const colors = HighlightStyle.define([
  { tag: tags.comment, color: "var(--fw-muted)" },
  { tag: [tags.propertyName, tags.definition(tags.propertyName)], color: "var(--fw-accent)" },
  { tag: tags.string, color: "var(--fw-three-phase)" },
]);

export interface Wishes {
  schema: () => Schema | undefined;
  otherTexts: () => string[]; // of the study's other files, for the names in them
  changed: (text: string) => void;
  save: () => void;
}

export function extensions(w: Wishes): Extension {
  return [
    lineNumbers(),
    highlightActiveLineGutter(),
    history(),
    drawSelection(),
    EditorState.allowMultipleSelections.of(true),
    indentUnit.of("  "),
    yaml(),
    syntaxHighlighting(colors),
    bracketMatching(),
    closeBrackets(),
    highlightActiveLine(),
    highlightSelectionMatches(),
    autocompletion({ override: [(c) => complete(c, w)], icons: false }),
    hoverTooltip((view, pos) => hover(view, pos, w)),
    lintGutter(),
    keymap.of([
      { key: "Mod-s", run: () => (w.save(), true), preventDefault: true },
      // Tab indents; Escape and then Tab leaves the editor.
      indentWithTab,
      ...completionKeymap,
      ...searchKeymap,
      ...historyKeymap,
      ...lintKeymap,
      ...defaultKeymap,
    ]),
    EditorView.contentAttributes.of({ "aria-label": "text of the study file", tabindex: "0" }),
    EditorView.updateListener.of((u) => u.docChanged && w.changed(u.state.doc.toString())),
    look,
  ];
}

function allNames(text: string, w: Wishes): Record<string, string[]> {
  const out: Record<string, string[]> = {};
  for (const t of [text, ...w.otherTexts()]) for (const [table, list] of Object.entries(names(t))) out[table] = [...(out[table] ?? []), ...list];
  return out;
}

function complete(c: CompletionContext, w: Wishes): CompletionResult | null {
  const schema = w.schema();
  if (!schema) return null;
  const text = c.state.doc.toString();
  const line = c.state.doc.lineAt(c.pos);
  const spot = spotAt(text.slice(0, c.pos), text.slice(c.pos));
  if (spot.word === "" && !c.explicit && !/[:{,]\s$/.test(line.text.slice(0, c.pos - line.from))) return null;
  const list = options(schema, spot, allNames(text, w));
  if (list.length === 0) return null;
  return {
    from: c.pos - spot.word.length,
    options: list.map((o, i) => ({
      label: o.label,
      info: o.isKey ? o.detail : undefined,
      detail: o.isKey ? undefined : o.detail,
      apply: o.isKey ? o.label + ": " : o.label,
      boost: -i / 10, // as the schema has them
    })),
    validFor: /^[^:,{}[\]#\n]*$/,
  };
}

/** What the schema says of the key under the pointer. */
function hover(view: EditorView, pos: number, w: Wishes) {
  const schema = w.schema();
  const line = view.state.doc.lineAt(pos);
  const end = /^[^:{},]*/.exec(line.text.slice(pos - line.from))![0].length + pos;
  if (!schema || view.state.doc.sliceString(end, end + 1) !== ":") return null;
  const spot = spotAt(view.state.doc.sliceString(0, end));
  const key = spot.word.trim().replace(/^["']|["']$/g, "");
  const said = key === "" ? undefined : meaning(schema, [...spot.path, key]);
  if (!said) return null;
  return {
    pos: end - spot.word.length,
    end,
    above: true,
    create: () => {
      const dom = document.createElement("div");
      dom.className = "cm-said";
      dom.textContent = said;
      return { dom };
    },
  };
}

/** The place of a line and column, both from 1, as far as the text has it. */
export function offset(doc: Text, line: number, column: number): number {
  const l = doc.line(Math.min(Math.max(line, 1), doc.lines));
  // Columns count characters, as people do; the editor counts halves of some.
  let at = 0;
  for (const c of l.text) {
    if (--column < 1) break;
    at += c.length;
  }
  return l.from + at;
}

export function showDiagnostics(view: EditorView, list: Diagnostic[]) {
  const doc = view.state.doc;
  const marks: Mark[] = list.map((d) => {
    const from = offset(doc, d.line, d.column);
    const line = doc.lineAt(from);
    const word = /^[^\s#,}\]]+/.exec(line.text.slice(from - line.from))?.[0].length ?? 0;
    return {
      from,
      to: Math.max(from + word, Math.min(from + 1, line.to)),
      severity: d.severity,
      message: [`${d.object === "" ? "" : d.object + ": "}${d.problem}`, d.why, d.fix].filter((t) => t !== "").join("\n"),
    };
  });
  marks.sort((a, b) => a.from - b.from);
  view.dispatch(setDiagnostics(view.state, marks));
}
