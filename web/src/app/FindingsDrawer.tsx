import { useEffect, useRef } from "react";
import { list, type StudyState } from "../api/client";
import { useFindings } from "../api/queries";
import { FindingItem } from "../components/FindingItem";
import { VerdictMark } from "../components/VerdictMark";
import { count } from "../lib/format";
import { counted, verdicts, type Tally } from "../lib/verdicts";
import { useAddress } from "../router";
import { useKeys } from "./keys";
import classes from "./FindingsDrawer.module.css";

/** All findings, beside whatever is shown. Its filters are in the address. */
export function FindingsDrawer({ study, state }: { study: string; state: StudyState }) {
  const address = useAddress();
  const { verdict = "", of = "", finding = "" } = address.search;
  const findings = useFindings(study);
  const all = list(findings.data?.findings);
  const title = useRef<HTMLHeadingElement>(null);
  const before = useRef<Element | null>(document.activeElement);
  const close = () => address.set({ findings: undefined, verdict: undefined, of: undefined, finding: undefined, working: undefined });

  useEffect(() => {
    title.current?.focus();
    const back = before.current;
    return () => {
      if (back instanceof HTMLElement && document.contains(back)) back.focus();
    };
  }, []);
  useKeys([
    { key: "Escape", says: "close the findings", group: "findings", run: close },
    ...verdicts.map((v) => ({
      key: { fails: "F", thin: "T", unproven: "U", holds: "H" }[v],
      says: `only what ${v === "fails" || v === "holds" ? v : "is " + v}`,
      group: "findings",
      run: () => address.set({ verdict: verdict === v ? undefined : v }),
    })),
  ]);
  // A finding that the address names is brought into sight.
  useEffect(() => {
    if (finding !== "") document.getElementById("finding:" + finding)?.scrollIntoView({ block: "nearest" });
  }, [finding, findings.data]);

  const ofChapter = all.filter((f) => of === "" || f.finding.chapter === of);
  const shown = ofChapter.filter((f) => verdict === "" || f.finding.verdict === verdict);
  const tally: Tally = {};
  for (const f of ofChapter) tally[f.finding.verdict] = (tally[f.finding.verdict] ?? 0) + 1;
  const names = [...new Set(all.map((f) => f.finding.chapter))].sort();

  return (
    <aside className={classes.drawer + " noprint"} aria-labelledby="findings-title">
      <div className={classes.head}>
        <h2 id="findings-title" ref={title} tabIndex={-1}>
          Findings
        </h2>
        <span className="muted">{shown.length === all.length ? "judged over all conditions" : `${shown.length} of ${all.length}`}</span>
        <button type="button" className="word" onClick={close}>
          close
        </button>
      </div>
      <div className={classes.filters}>
        <div className={classes.row} role="group" aria-label="by verdict">
          {verdicts.map((v) => (
            <button
              key={v}
              type="button"
              className={classes.filter}
              aria-pressed={verdict === v}
              onClick={() => address.set({ verdict: verdict === v ? undefined : v })}
            >
              <VerdictMark verdict={v} size={13} /> {counted(v, tally[v] ?? 0)}
            </button>
          ))}
        </div>
        <div className={classes.row} role="group" aria-label="by chapter">
          {names.map((n) => (
            <button key={n} type="button" className={classes.filter} aria-pressed={of === n} onClick={() => address.set({ of: of === n ? undefined : n })}>
              {n}
            </button>
          ))}
        </div>
      </div>
      <div className={classes.list + (state.state === "stale" ? " stale" : "")}>
        {findings.error && <p role="alert">{findings.error.message}</p>}
        {findings.data && shown.length === 0 && (
          <p className="muted">
            {all.length === 0 ? "The study has no findings." : `No finding of ${count(all.length, "finding")} is like that.`}
          </p>
        )}
        {shown.map((f) => (
          <div key={f.id} id={"finding:" + f.id}>
            <FindingItem study={study} of={f} narrow />
          </div>
        ))}
      </div>
    </aside>
  );
}
