import type { ChapterProps } from "..";
import { list } from "../../api/client";
import { useHome } from "../../api/queries";
import { FindingItem } from "../../components/FindingItem";
import { VerdictMark } from "../../components/VerdictMark";
import { parsePlace } from "../../lib/address";
import { byObject } from "../../lib/assumed";
import { inWords } from "../../lib/conditions";
import { count } from "../../lib/format";
import { verdicts, worst, type Tally } from "../../lib/verdicts";
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
