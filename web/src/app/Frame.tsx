import { Suspense, useEffect, useState } from "react";
import { useComputedColorScheme, useMantineColorScheme } from "@mantine/core";
import { Refusal, type StudyState } from "../api/client";
import { useEvents } from "../api/events";
import { useHome, useRedo, useStudy, useUndo } from "../api/queries";
import { chapters } from "../chapters";
import { Problems } from "../components/Problems";
import { count } from "../lib/format";
import { Go, useAddress } from "../router";
import { ChapterLine } from "./ChapterLine";
import { ConditionBar } from "./ConditionBar";
import { FindingsDrawer } from "./FindingsDrawer";
import { KeysSheet } from "./KeysSheet";
import { useKeyboard, useKeys } from "./keys";
import { TallyWords } from "./TallyWords";
import classes from "./Frame.module.css";

/** The frame of a study: its name and tally, the line of chapters, the conditions, and findings at hand. */
export function Frame() {
  const { study, chapter } = useAddress();
  const state = useStudy(study);
  if (state.isPending) return <p className={classes.wait}>Opening the study …</p>;
  if (!state.data || state.data.id !== study) {
    const e = state.error;
    return (
      <main className={classes.wait}>
        <h1>{e instanceof Refusal && e.status === 404 ? "There is no such study" : "The study can't be shown"}</h1>
        <p>{e?.message}</p>
        <p>
          <a href="/">To the list of studies</a>
        </p>
      </main>
    );
  }
  return <Opened key={study} study={study} chapter={chapter} state={state.data} />;
}

function Opened({ study, chapter: id, state }: { study: string; chapter: string; state: StudyState }) {
  const address = useAddress();
  const condition = address.search.condition ?? "";
  const live = useEvents(study);
  const home = useHome(study);
  const [keysShown, setKeysShown] = useState(false);
  const undo = useUndo(study);
  const redo = useRedo(study);
  const { setColorScheme } = useMantineColorScheme();
  const scheme = useComputedColorScheme("light");
  const chapter = chapters.find((c) => c.id === id);
  const drawer = address.search.findings !== undefined;

  useEffect(() => {
    document.title = `${chapter?.title ?? id} · ${state.title}`;
  }, [chapter, id, state.title]);

  const step = (by: number) => {
    const i = chapters.findIndex((c) => c.id === id) + by;
    if (chapters[i]) address.set({}, { chapter: chapters[i].id });
  };
  const doUndo = () => state.undo !== "" && undo.mutate();
  const doRedo = () => state.redo !== "" && redo.mutate();
  useKeyboard();
  useKeys([
    { key: "?", says: "this sheet", run: () => setKeysShown((s) => !s) },
    { key: "w", says: "findings: what is wrong", run: () => address.set({ findings: drawer ? undefined : "open", finding: undefined, working: undefined }) },
    ...chapters.map((c, i) => ({ key: String(i + 1), says: `${c.title}: ${c.says}`, group: "chapters", run: () => address.set({}, { chapter: c.id }) })),
    { key: "[", says: "chapter before", group: "chapters", run: () => step(-1) },
    { key: "]", says: "next chapter", group: "chapters", run: () => step(1) },
    { key: "c", says: "to the conditions", run: () => document.querySelector<HTMLElement>("[data-conditions] button, [data-conditions] select")?.focus() },
    { key: "Ctrl+z", says: "undo", run: doUndo },
    { key: "Ctrl+Shift+z", says: "redo", run: doRedo },
    { key: "Ctrl+y", says: "", run: doRedo },
    { key: "t", says: "light or dark", run: () => setColorScheme(scheme === "dark" ? "light" : "dark") },
  ]);

  const errors = state.diagnostics?.filter((d) => d.severity === "error") ?? [];
  const refused = undo.error ?? redo.error;
  const Component = chapter?.component;
  const stale = state.state === "stale" && chapter?.needsResults === true;

  return (
    <div className={classes.frame}>
      <a className={classes.skip} href="#main">
        to the content
      </a>
      <header className={classes.head}>
        <h1>
          <Go to={{}} chapter="home">
            {state.title}
          </Go>
        </h1>
        <span className={classes.sub}>
          <a href="/" className="noprint">
            studies
          </a>
          {!live.connected && <b role="alert"> · the server does not answer; trying again</b>}
          <Changes live={live} />
        </span>
        <span className={classes.deeds + " noprint"}>
          <button type="button" className="word" disabled={state.undo === "" || undo.isPending} onClick={doUndo} title={state.undo}>
            undo{state.undo !== "" && <span className={classes.what}>: {state.undo}</span>}
          </button>
          <button type="button" className="word" disabled={state.redo === "" || redo.isPending} onClick={doRedo} title={state.redo}>
            redo
          </button>
          <button type="button" className="word" onClick={() => setColorScheme(scheme === "dark" ? "light" : "dark")}>
            {scheme === "dark" ? "light" : "dark"}
          </button>
          <button type="button" className="word" onClick={() => setKeysShown(true)}>
            keys <kbd>?</kbd>
          </button>
        </span>
        <TallyWords tally={home.data?.tally} stale={state.state !== "good"} open={drawer} />
      </header>
      <ChapterLine at={id} home={home.data} broken={errors.length > 0} />
      <ConditionBar state={state} condition={condition} />
      {errors.length > 0 && id !== "file" && (
        <section className={classes.banner} aria-label="mistakes in the files">
          <p>
            <b>
              {count(errors.length, "mistake")} in {[...new Set(errors.map((e) => e.file))].join(", ")}.
            </b>{" "}
            {state.state === "stale"
              ? "What you see, dimmed, is what the study came to before."
              : "There are no results to show until they are mended."}{" "}
            {state.undo !== "" && (
              <button type="button" className="word" onClick={doUndo}>
                undo {state.undo}
              </button>
            )}
          </p>
          <Problems list={errors} most={3} />
        </section>
      )}
      {refused && (
        <p className={classes.banner} role="alert">
          {refused.message}
        </p>
      )}
      <div className={classes.body}>
        <main id="main" className={classes.main + (stale ? " stale" : "")} tabIndex={-1}>
          {Component === undefined ? (
            <p>There is no chapter “{id}”.</p>
          ) : state.state === "broken" && chapter?.needsResults ? (
            <Problems list={errors} />
          ) : (
            <Suspense fallback={<p className="muted">…</p>}>
              <Component study={study} state={state} condition={condition} />
            </Suspense>
          )}
        </main>
        {drawer && <FindingsDrawer study={study} state={state} />}
      </div>
      <KeysSheet opened={keysShown} close={() => setKeysShown(false)} />
    </div>
  );
}

/** The last change, and how long its results took. */
function Changes({ live }: { live: ReturnType<typeof useEvents> }) {
  const c = live.changed;
  return (
    <span role="status">
      {c && ` · ${c.files.length > 0 ? c.files.join(", ") : "the study"} ${c.by === "outside" ? "changed outside of this page" : "written"}`}
      {c && live.millisecond !== undefined && !c.broken && `, results in ${Math.max(1, Math.round(live.millisecond))} ms`}
    </span>
  );
}
