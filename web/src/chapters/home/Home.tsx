import type { ChapterProps } from "..";
import { list } from "../../api/client";
import { useBeginDoubt, useDoubt, useHome } from "../../api/queries";
import { FindingItem } from "../../components/FindingItem";
import { VerdictMark } from "../../components/VerdictMark";
import { parsePlace } from "../../lib/address";
import { byObject } from "../../lib/assumed";
import { inWords } from "../../lib/conditions";
import { count } from "../../lib/format";
import { isVerdict, verdicts, worst, type Tally } from "../../lib/verdicts";
import { Go } from "../../router";
import classes from "./Home.module.css";

/** What the study comes to, on one screen. */
export default function Home({ study, state, condition }: ChapterProps) {
  const home = useHome(study);
  const h = home.data;
  if (home.error && !h) return <p role="alert">{home.error.message}</p>;
  if (!h) return <p className="muted">Working it out …</p>;
  const conditions = list(state.conditions).map((c) => c.name);
  const assumptions = list(h.assumptions);
  const defaults = list(h.defaults);
  const unproven = list(h.unproven);
  return (
    <div className={classes.home}>
      <section aria-labelledby="worst" className={classes.worst}>
        <p className={classes.sum}>{sentence(h.tally)}</p>
        <div className={classes.heading}>
          <h2 id="worst">Worst first</h2>
          <Go to={{ findings: "open" }}>all {count(h.findings, "finding")}</Go>
        </div>
        {list(h.worst).length === 0 ? (
          <p>Nothing fails, and nothing is thin.</p>
        ) : (
          list(h.worst).map((f) => <FindingItem key={f.id} study={study} of={f} />)
        )}
        <h2 id="unproven">Unproven, and what would settle it</h2>
          {unproven.length === 0 ? (
            <p>Nothing: every rule found the data it needs.</p>
          ) : (
            <ul className={"plain " + classes.lines}>
              {unproven.map((f) => {
                const place = f.finding.source ? parsePlace(f.finding.source) : undefined;
                return (
                  <li key={f.id}>
                    <VerdictMark verdict="unproven" size={14} />
                    <span>
                      {list(f.finding.missing).join("; ") || f.finding.title}{" "}
                      <span className="words small noprint">
                        <Go to={{ findings: "open", finding: f.id, verdict: undefined, of: undefined }}>finding</Go>
                        {place && (
                          <Go to={{ file: place.file, at: `${place.line}:${place.column}` }} chapter="file">
                            enter it
                          </Go>
                        )}
                      </span>
                    </span>
                  </li>
                );
              })}
            </ul>
          )}
        <Matters study={study} stale={state.state !== "good"} />
      </section>
      <div className={classes.beside}>
        <section aria-labelledby="chapters">
          <h2 id="chapters">By chapter</h2>
          <ByChapter chapters={h.chapters} />
        </section>
        <section aria-labelledby="assumed">
          <h2 id="assumed">Assumptions in force</h2>
          {assumptions.length + defaults.length === 0 ? (
            <p>None: every value is the study's own.</p>
          ) : (
            <ul className={"plain " + classes.assumed}>
              {byObject(assumptions).map((a) => (
                <li key={a.values[0]!.place}>
                  {a.object}:{" "}
                  {a.values.map((v, i) => {
                    const place = parsePlace(v.place);
                    return (
                      <span key={v.place}>
                        {i > 0 && ", "}
                        {v.key}{" "}
                        {place ? (
                          <Go to={{ file: place.file, at: `${place.line}:${place.column}` }} chapter="file" title={v.place}>
                            {v.value}
                          </Go>
                        ) : (
                          v.value
                        )}
                      </span>
                    );
                  })}
                  {a.source && <span className="muted"> — {a.source}</span>}
                </li>
              ))}
              {defaults.map((d) => (
                <li key={d}>{d}</li>
              ))}
            </ul>
          )}
        </section>
        <section aria-labelledby="chosen">
          <h2 id="chosen">Condition</h2>
          <p>
            Chosen: {inWords(conditions, condition)}. Findings are judged over {conditions.length === 1 ? "it" : `all ${conditions.length}`}.
          </p>
        </section>
      </div>
    </div>
  );
}

function sentence(t: Tally): string {
  const say = (n: number, one: string, many: string) => (n === 1 ? one : many);
  const fails = t.fails ?? 0;
  const thin = t.thin ?? 0;
  const unproven = t.unproven ?? 0;
  const holds = t.holds ?? 0;
  const parts = [];
  if (fails > 0) parts.push(`${fails} ${say(fails, "finding fails", "findings fail")}`);
  if (thin > 0) parts.push(`${thin} ${say(thin, "is", "are")} thin`);
  if (unproven > 0) parts.push(`${unproven} ${say(unproven, "is", "are")} unproven`);
  if (parts.length === 0) return `All ${count(holds, "finding")} hold.`;
  return `${parts.join(", ")}; ${holds} ${say(holds, "holds", "hold")}.`;
}

function ByChapter({ chapters }: { chapters: Record<string, Tally> }) {
  const names = Object.keys(chapters).sort();
  return (
    <table className={"plain " + classes.chapters}>
      <thead>
        <tr>
          <th scope="col">chapter</th>
          {verdicts.map((v) => (
            <th key={v} scope="col" className="number">
              <span className={classes.head}>
                <VerdictMark verdict={v} size={12} /> {v}
              </span>
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {names.map((n) => (
          <tr key={n}>
            <th scope="row">
              <span className={classes.head}>
                <VerdictMark verdict={worst(chapters[n]!)} size={14} />
                <Go to={{ findings: "open", of: n, verdict: undefined, finding: undefined }}>{n}</Go>
              </span>
            </th>
            {verdicts.map((v) => {
              const k = chapters[n]![v] ?? 0;
              return (
                <td key={v} className="number">
                  {k === 0 ? <span className="muted">–</span> : <Go to={{ findings: "open", of: n, verdict: v, finding: undefined }}>{k}</Go>}
                </td>
              );
            })}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

const follows: Record<string, string> = {
  fails: "something would fail",
  thin: "something would be thin",
  unproven: "something would be unproven",
  better: "what fails or is thin would be better",
  settles: "what is unproven would be settled",
};

/** Which of the assumed, missing and defaulted values decide verdicts; worked out when asked for. */
function Matters({ study, stale }: { study: string; stale: boolean }) {
  const doubt = useDoubt(study);
  const begin = useBeginDoubt(study);
  const d = doubt.data;
  const data = list(d?.data);
  const deciding = data.filter((x) => follows[x.consequence] !== undefined);
  return (
    <section aria-labelledby="matters">
      <h2 id="matters">Which datum matters</h2>
      {begin.error && <p role="alert">{begin.error.message}</p>}
      {d?.state === "failed" && <p role="alert">{d.error}</p>}
      {d?.state === "running" && <p role="status">Trying other plausible values, one at a time …</p>}
      {d?.state === "done" &&
        (deciding.length === 0 ? (
          <p>No verdict depends on a value that is assumed, missing or left to a default, as far as other values were tried.</p>
        ) : (
          <ul className={"plain " + classes.assumed}>
            {deciding.map((x) => {
              const place = parsePlace(x.place);
              return (
                <li key={x.datum + x.place}>
                  <VerdictMark verdict={isVerdict(x.consequence) ? x.consequence : "holds"} size={13} />{" "}
                  {place ? (
                    <Go to={{ file: place.file, at: `${place.line}:${place.column}` }} chapter="file">
                      {x.datum}
                    </Go>
                  ) : (
                    x.datum
                  )}
                  {x.value && <> ({x.value})</>}: {follows[x.consequence]}
                  <span className="muted">
                    {" — "}
                    {list(x.changes)
                      .slice(0, 3)
                      .map((c) => `${c.finding}: ${c.to}`)
                      .join("; ")}
                    {list(x.changes).length > 3 && ` and ${list(x.changes).length - 3} more`}
                  </span>
                </li>
              );
            })}
          </ul>
        ))}
      {d?.state === "done" && (
        <p className="muted small">
          {count(data.length, "datum", "data")} looked at, {count(data.length - deciding.length, "datum", "data")} without effect on a verdict or not tried.
        </p>
      )}
      {(d === undefined || d.state === "none" || d.state === "failed") && (
        <p>
          What other plausible values of what is assumed, missing or left to a default would change can be worked out; it takes a while.{" "}
          <button type="button" className="word noprint" disabled={stale || begin.isPending} onClick={() => begin.mutate()}>
            work it out
          </button>
        </p>
      )}
    </section>
  );
}
