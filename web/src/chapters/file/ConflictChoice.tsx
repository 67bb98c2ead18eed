import { useEffect, useRef, useState } from "react";
import { Button } from "@mantine/core";
import { yaml } from "@codemirror/lang-yaml";
import { MergeView } from "@codemirror/merge";
import { EditorState } from "@codemirror/state";
import { EditorView, lineNumbers } from "@codemirror/view";
import type { Conflict } from "../../api/client";
import classes from "./File.module.css";

const look = EditorView.theme({
  "&": { fontSize: "0.8125rem", color: "var(--fw-ink)" },
  ".cm-scroller": { fontFamily: '"IBM Plex Mono", ui-monospace, monospace' },
  ".cm-gutters": { backgroundColor: "transparent", color: "var(--fw-muted)", border: "none" },
  ".cm-cursor": { borderLeftColor: "var(--fw-ink)" },
  ".cm-collapsedLines": { color: "var(--fw-muted)", background: "var(--fw-track)" },
  ".cm-collapsedLines:before, .cm-collapsedLines:after": { content: '"···"' },
});

/** Two texts side by side; the right one may be edited where `edit` is given. */
export function SideBySide({ left, right, edit, label }: { left: string; right: string; edit?: (text: string) => void; label: [string, string] }) {
  const box = useRef<HTMLDivElement>(null);
  const told = useRef(edit);
  told.current = edit;
  const editable = edit !== undefined;
  useEffect(() => {
    const common = (name: string) => [lineNumbers(), yaml(), look, EditorView.lineWrapping, EditorView.contentAttributes.of({ "aria-label": name, tabindex: "0" })];
    const locked = [EditorState.readOnly.of(true)];
    const v = new MergeView({
      parent: box.current!,
      a: { doc: left, extensions: [common(label[0]), locked] },
      b: {
        doc: right,
        extensions: [
          common(label[1]),
          editable ? EditorView.updateListener.of((u) => u.docChanged && told.current?.(u.state.doc.toString())) : locked,
        ],
      },
      collapseUnchanged: { margin: 3, minSize: 6 },
      revertControls: editable ? "a-to-b" : undefined,
      renderRevertControl: () => {
        const b = document.createElement("button");
        b.textContent = "→";
        b.title = "take this part";
        b.setAttribute("aria-label", "take this part from the left");
        return b;
      },
    });
    return () => v.destroy();
  }, [left, editable, label[0], label[1]]); // what is on the right is its own once it is there
  return <div ref={box} className={classes.merge} data-keys="own" />;
}

/** The same file was changed here and elsewhere: both are shown, and nothing is written before one is chosen. */
export function ConflictChoice({
  conflict: c,
  busy,
  write,
  takeTheirs,
  later,
}: {
  conflict: Conflict;
  busy: boolean;
  write: (text: string) => void;
  takeTheirs: () => void;
  later: () => void;
}) {
  const [edited, setEdited] = useState<string>();
  const head = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    head.current?.focus();
  }, []);
  return (
    <section className={classes.choice} aria-labelledby="conflict">
      <h2 id="conflict" ref={head} tabIndex={-1}>
        {c.file} was changed here and elsewhere
      </h2>
      <p>
        {c.clean
          ? "The changes are in different lines and can stand together."
          : "Both changed the same lines. Choose one, or put the text on the right in order and write that."}{" "}
        Either way both texts stay among the earlier versions, as soon as something is written.
      </p>
      <div className="words">
        {c.clean && c.merged !== undefined && (
          <Button loading={busy} onClick={() => write(c.merged!)}>
            write both together
          </Button>
        )}
        <Button variant={c.clean ? "default" : "filled"} loading={busy} onClick={() => write(edited ?? c.mine)}>
          {edited === undefined ? "write mine, over theirs" : "write the text on the right"}
        </Button>
        <Button variant="default" onClick={takeTheirs}>
          take theirs, drop mine
        </Button>
        <Button variant="default" onClick={later}>
          decide later
        </Button>
      </div>
      <div className={classes.mergeHeads}>
        <span>theirs: on disk now</span>
        <span>mine: may be edited here</span>
      </div>
      <SideBySide left={c.theirs} right={c.mine} edit={setEdited} label={["theirs, on disk now", "mine"]} />
    </section>
  );
}
