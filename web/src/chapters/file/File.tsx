import { useCallback, useEffect, useRef, useState } from "react";
import { Button } from "@mantine/core";
import { EditorState } from "@codemirror/state";
import { EditorView } from "@codemirror/view";
import { useQuery } from "@tanstack/react-query";
import type { ChapterProps } from "..";
import { api, data, list, Refusal, type Conflict, type Diagnostic } from "../../api/client";
import { useFile, usePutFile } from "../../api/queries";
import { useKeys } from "../../app/keys";
import type { Schema } from "../../lib/complete";
import { draftOf, keepDraft } from "../../lib/drafts";
import { count } from "../../lib/format";
import { Go, useAddress } from "../../router";
import { ConflictChoice } from "./ConflictChoice";
import { extensions, offset, showDiagnostics } from "./editor";
import { History } from "./History";
import classes from "./File.module.css";

/** The study's files as text, with their earlier versions. */
export default function File({ study, state }: ChapterProps) {
  const { search } = useAddress();
  const files = list(state.files).map((f) => f.name);
  const name = files.includes(search.file ?? "") ? search.file! : (files[0] ?? "");
  return (
    <div className={classes.chapter}>
      {files.length > 1 && (
        <nav className={classes.files} aria-label="files of the study">
          {files.map((f) => (
            <Go key={f} to={{ file: f, at: undefined, past: undefined }} aria-current={f === name ? "page" : undefined} className="mono">
              {f}
            </Go>
          ))}
        </nav>
      )}
      {search.view === "history" ? (
        <History study={study} state={state} name={name} />
      ) : (
        <Text key={name} study={study} state={state} name={name} />
      )}
    </div>
  );
}

function Text({ study, state, name }: { study: string; state: ChapterProps["state"]; name: string }) {
  const { search, set } = useAddress();
  const file = useFile(study, name);
  const put = usePutFile(study);
  const schema = useQuery({ queryKey: ["schema"], queryFn: () => data(api.GET("/api/schema")) as Promise<Schema> });
  const box = useRef<HTMLDivElement>(null);
  const view = useRef<EditorView | null>(null);
  // The version that the text in the editor was made from.
  const [base, setBase] = useState<string>();
  const [text, setText] = useState("");
  const [clean, setClean] = useState(""); // the text of that version
  const [found, setFound] = useState<Diagnostic[]>();
  const [conflict, setConflict] = useState<Conflict>();
  const dirty = base !== undefined && text !== clean;
  const disk = file.data?.name === name ? file.data : undefined;
  const behind = disk !== undefined && base !== undefined && disk.version !== base;

  const wishes = useRef({ schema: schema.data, save: () => {}, others: [] as string[] });
  wishes.current.schema = schema.data;
  const others = useQuery({
    queryKey: ["study", study, "files", "others", name],
    queryFn: () =>
      Promise.all(
        list(state.files)
          .filter((f) => f.name !== name && f.version !== "absent")
          .map((f) => data(api.GET("/api/studies/{study}/file", { params: { path: { study }, query: { name: f.name } } })).then((t) => t.text)),
      ),
  });
  wishes.current.others = others.data ?? [];

  // The editor lives as long as the file is shown.
  useEffect(() => {
    const v = new EditorView({
      parent: box.current!,
      state: EditorState.create({
        extensions: extensions({
          schema: () => wishes.current.schema,
          otherTexts: () => wishes.current.others,
          changed: setText,
          save: () => wishes.current.save(),
        }),
      }),
    });
    view.current = v;
    return () => {
      v.destroy();
      view.current = null;
    };
  }, []);

  const show = useCallback((to: string) => {
    const v = view.current!;
    const now = v.state.doc.toString();
    if (now === to) return;
    // Only what differs, so that the cursor stays where it was.
    let from = 0;
    while (from < now.length && from < to.length && now[from] === to[from]) from++;
    let end = 0;
    while (end < now.length - from && end < to.length - from && now.at(-1 - end) === to.at(-1 - end)) end++;
    v.dispatch({ changes: { from, to: now.length - end, insert: to.slice(from, to.length - end) } });
  }, []);

  // What is on disk comes into the editor, unless something was typed since.
  useEffect(() => {
    if (!disk || disk.version === base) return;
    const draft = base === undefined ? draftOf(study, name) : undefined;
    if (draft && draft.text !== disk.text) {
      setBase(draft.base);
      setClean(draft.base === disk.version ? disk.text : "");
      show(draft.text);
      setText(draft.text);
      return;
    }
    if (dirty) return;
    setBase(disk.version);
    setClean(disk.text);
    show(disk.text);
    setText(disk.text);
    if (draft) keepDraft(study, name, undefined);
  }, [disk, base, dirty, show, study, name]);

  useEffect(() => {
    if (base !== undefined) keepDraft(study, name, dirty ? { base, text } : undefined);
  }, [study, name, base, text, dirty]);

  // What is wrong with the text as it stands, a moment after the last key.
  useEffect(() => {
    if (base === undefined) return;
    let over = false;
    const wait = setTimeout(
      async () => {
        try {
          const c = await data(api.POST("/api/studies/{study}/check", { params: { path: { study } }, body: { file: name, text } }));
          if (over) return;
          const here = list(c.diagnostics);
          setFound(here);
          if (view.current) showDiagnostics(view.current, here.filter((d) => d.file === name));
        } catch {
          if (!over) setFound(undefined);
        }
      },
      dirty ? 200 : 0,
    );
    return () => {
      over = true;
      clearTimeout(wait);
    };
  }, [study, name, base, text, dirty, state.version]);

  // The place that the address names.
  const shownAt = useRef("");
  useEffect(() => {
    const v = view.current;
    const at = search.at ?? "";
    if (!v || base === undefined || at === "" || shownAt.current === at) return;
    shownAt.current = at;
    const [line = 1, column = 1] = at.split(":").map(Number);
    const pos = offset(v.state.doc, line, column);
    v.dispatch({ selection: { anchor: pos }, effects: EditorView.scrollIntoView(pos, { y: "center" }) });
    v.focus();
  }, [search.at, base]);

  const write = useCallback(
    (as: { base: string; text: string }) => {
      put.mutate(
        { name, ...as },
        {
          onSuccess: (s) => {
            const version = list(s.files).find((f) => f.name === name)?.version;
            setConflict(undefined);
            setClean(as.text);
            setBase(version);
            show(as.text);
          },
          onError: (e) => {
            if (e instanceof Refusal && e.conflicts.length > 0) setConflict(e.conflicts.find((c) => c.file === name) ?? e.conflicts[0]);
          },
        },
      );
    },
    [put, name, show],
  );
  const save = () => {
    if (dirty && base !== undefined && !put.isPending) write({ base, text });
  };
  wishes.current.save = save;
  const putBack = () => {
    if (!disk) return;
    setConflict(undefined);
    setBase(disk.version);
    setClean(disk.text);
    show(disk.text);
    setText(disk.text);
  };
  useKeys([
    { key: "Ctrl+s", says: "write the file", group: "study file", run: save },
    { key: "e", says: "into the text; Esc and Tab lead out of it", group: "study file", run: () => view.current?.focus() },
    { key: "v", says: "earlier versions", group: "study file", run: () => set({ view: "history" }) },
  ]);

  const errors = found?.filter((d) => d.severity === "error").length ?? 0;
  const warnings = (found?.length ?? 0) - errors;
  const refusal = put.error && !(put.error instanceof Refusal && put.error.conflicts.length > 0) ? put.error : undefined;
  return (
    <>
      <div className={classes.bar}>
        <span role="status">
          {base === undefined
            ? (file.error?.message ?? "…")
            : dirty
              ? "changed here, not yet written"
              : "as on disk"}
          {found && (errors + warnings === 0 ? " · no mistakes" : ` · ${[errors > 0 && count(errors, "mistake"), warnings > 0 && count(warnings, "warning")].filter(Boolean).join(", ")}`)}
        </span>
        <div className={"words noprint " + classes.deeds}>
          <Button onClick={save} disabled={!dirty} loading={put.isPending}>
            write
          </Button>
          <Button variant="default" onClick={putBack} disabled={!dirty}>
            put back
          </Button>
          <Go to={{ view: "history", past: undefined }}>earlier versions</Go>
        </div>
      </div>
      {behind && dirty && !conflict && (
        <p className={classes.notice} role="alert">
          The file has changed on disk since you began. Writing will show both, to choose from; nothing is lost.
        </p>
      )}
      {refusal && (
        <p className={classes.notice} role="alert">
          {refusal.message}
        </p>
      )}
      {conflict && base !== undefined && (
        <ConflictChoice
          conflict={{ ...conflict, mine: text }}
          busy={put.isPending}
          write={(t) => write({ base: conflict.version, text: t })}
          takeTheirs={() => {
            setConflict(undefined);
            setBase(conflict.version);
            setClean(conflict.theirs);
            show(conflict.theirs);
            setText(conflict.theirs);
          }}
          later={() => setConflict(undefined)}
        />
      )}
      <div className={classes.columns} style={conflict ? { display: "none" } : undefined}>
        <div ref={box} className={classes.editor} data-keys="own" />
        {found && found.length > 0 && (
          <section className={classes.found} aria-label="mistakes and warnings">
            <ol className="plain">
              {found.map((d, i) => (
                <li key={i}>
                  <button
                    type="button"
                    className={"word mono " + classes.place}
                    onClick={() => {
                      if (d.file !== name) {
                        set({ file: d.file, at: `${d.line}:${d.column}` });
                        return;
                      }
                      const v = view.current!;
                      const pos = offset(v.state.doc, d.line, d.column);
                      v.dispatch({ selection: { anchor: pos }, effects: EditorView.scrollIntoView(pos, { y: "center" }) });
                      v.focus();
                    }}
                  >
                    {d.file === name ? "" : d.file + ":"}
                    {d.line}:{d.column}
                  </button>{" "}
                  {d.severity === "warning" && <i>warning: </i>}
                  {d.object !== "" && <b>{d.object}: </b>}
                  {d.problem}
                  {d.why !== "" && <div className="muted">{d.why}</div>}
                  {d.fix !== "" && <div className={classes.fix}>{d.fix}</div>}
                </li>
              ))}
            </ol>
          </section>
        )}
      </div>
    </>
  );
}
