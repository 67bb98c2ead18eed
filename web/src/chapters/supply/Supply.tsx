import type { ChapterProps } from "..";
import { list, type Schemas } from "../../api/client";
import { useDuty, useEntries } from "../../api/queries";
import { Gauge } from "../../components/Gauge";
import { VerdictMark } from "../../components/VerdictMark";
import { Working } from "../../components/Working";
import { inWords } from "../../lib/conditions";
import { kindInWords, number, si } from "../../lib/format";
import { isVerdict } from "../../lib/verdicts";
import { unbraced } from "../../lib/written";
import { Go, useAddress } from "../../router";
import classes from "./Supply.module.css";

/** What feeds the study, and whether its plant is strong enough. */
export default function Supply({ study, state, condition }: ChapterProps) {
  const duty = useDuty(study, condition);
  const names = list(state.conditions).map((c) => c.name);
  return (
    <>
      <section aria-labelledby="infeeds">
        <h2 id="infeeds">Infeeds</h2>
        <Written study={study} table="supply" columns={["at", "maximum", "minimum"]} empty="The study has no infeed." />
      </section>
      <section aria-labelledby="transformers">
        <h2 id="transformers">Transformers</h2>
        <Written
          study={study}
          table="transformers"
          columns={["from", "to", "group", "rating", "voltages", "impedance", "x/r", "neutral"]}
          empty="The study has no transformer."
        />
      </section>
      <section aria-labelledby="duties">
        <h2 id="duties">Duties against ratings</h2>
        <p className={"muted " + classes.said}>
          {practice(duty.data?.practice)}; the worst of {inWords(names, condition).replace(/^worst of /, "")}. The limit is the rating; the target
          leaves a tenth of it.
        </p>
        {duty.error && <p role="alert">{duty.error.message}</p>}
        {duty.data ? <Devices of={duty.data} /> : !duty.error && <p className="muted">Working it out …</p>}
      </section>
      {duty.data && (
        <section aria-labelledby="places">
          <h2 id="places">Short-circuit duty at the buses</h2>
          <Places of={duty.data} />
          <ul className={"plain muted small " + classes.defaults}>
            {list(duty.data.defaults)
              .filter((d) => d.startsWith("duties: "))
              .map((d) => (
                <li key={d}>{d.replace(/^duties: /, "")}</li>
              ))}
          </ul>
        </section>
      )}
    </>
  );
}

function practice(word: string | undefined): string {
  if (word === "iec") return "By IEC 60909-0";
  if (word === "ieee") return "By IEEE practice (C37.010, C37.13, 551)";
  return "By the study's practice";
}

/** Entries of one table of the study, as written there. */
function Written({ study, table, columns, empty }: { study: string; table: string; columns: string[]; empty: string }) {
  const entries = useEntries(study, table);
  if (!entries.data) return <p className="muted">{entries.error ? entries.error.message : "…"}</p>;
  if (entries.data.length === 0) return <p>{empty}</p>;
  const used = columns.filter((c) => entries.data.some((e) => list(e.fields).some((f) => f.key === c)));
  return (
    <div className={classes.wide} tabIndex={0} role="group" aria-label={table + " as written in the study"}>
      <table className="plain">
        <thead>
          <tr>
            <th scope="col">name</th>
            {used.map((c) => (
              <th key={c} scope="col">
                {c}
              </th>
            ))}
            <th scope="col">also</th>
          </tr>
        </thead>
        <tbody>
          {entries.data.map((e) => {
            const fields = list(e.fields);
            const rest = fields.filter((f) => !used.includes(f.key));
            return (
              <tr key={e.name}>
                <th scope="row">
                  <Go to={{ file: e.file, at: `${e.line}:1` }} chapter="file" title="in the study file">
                    {e.name}
                  </Go>
                </th>
                {used.map((c) => (
                  <td key={c} className={fields.find((f) => f.key === c)?.simple ? classes.short : undefined}>{unbraced(fields.find((f) => f.key === c)?.text ?? "—")}</td>
                ))}
                <td className={classes.also}>{rest.map((f) => `${f.key}: ${unbraced(f.text)}`).join("; ")}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}

function Devices({ of }: { of: Schemas["DutyAnswer"] }) {
  const { search, set } = useAddress();
  const findings = list(of.findings);
  const devices = list(of.devices);
  if (devices.length === 0) return <p>No plant of the study has a rating against short circuits.</p>;
  return (
    <div className={classes.wide} tabIndex={0} role="group" aria-label="duties against ratings">
      <table className={"plain " + classes.devices}>
      <thead>
        <tr>
          <th scope="col">plant</th>
          <th scope="col">duty</th>
          <th scope="col">verdict</th>
          <th scope="col" className="number">
            current
          </th>
          <th scope="col" className="number">
            rating
          </th>
          <th scope="col" className="number">
            against its limit
          </th>
          <th scope="col">where</th>
        </tr>
      </thead>
      <tbody>
        {devices.map((d, i) => {
          const f = findings.find((x) => x.rule === d.rule && list(x.subjects)[0] === d.name);
          const id = `${d.name}/${d.rule}`;
          const open = search.duty === id;
          const first = devices[i - 1]?.name !== d.name;
          return [
            <tr key={id} className={first ? classes.first : undefined}>
              <th scope="row" className={classes.short}>
                {first ? (
                  <>
                    <span className={classes.kind}>{d.kind}</span> {d.name}
                  </>
                ) : (
                  <span className="unseen">
                    {d.kind} {d.name}
                  </span>
                )}
              </th>
              <td>{d.rule === "ratings" ? "no rating given" : d.rule}</td>
              <td>
                <span className={classes.verdict}>
                  <VerdictMark verdict={isVerdict(d.verdict) ? d.verdict : undefined} size={14} /> {d.verdict}
                </span>
              </td>
              <td className="number">{si(d.duty_ampere, "A")}</td>
              <td className="number">{d.rating_ampere === undefined ? "not given" : si(d.rating_ampere, "A")}</td>
              <td className="number">{f?.value && f.limit ? <Gauge of={f} compact /> : ""}</td>
              <td>
                {kindInWords(d.fault)} at {d.place}
                <span className="muted">
                  , {d.condition}
                  {d.taps !== "as in the condition" && `, on-load taps ${d.taps}`}
                </span>
                {f && (
                  <>
                    {" "}
                    <button
                      type="button"
                      className="word small noprint"
                      aria-expanded={open}
                      onClick={() => set({ duty: open ? undefined : id }, { replace: true })}
                    >
                      working
                    </button>
                  </>
                )}
              </td>
            </tr>,
            open && f && (
              <tr key={id + "?"}>
                <td colSpan={7}>
                  <p>{f.title}</p>
                  <p className="muted">
                    {d.compared}
                    {list(d.infeeds_in_parallel).length > 0 && `; fed by ${list(d.infeeds_in_parallel).join(", ")}`}
                    {list(d.missing).length > 0 && `; missing: ${list(d.missing).join("; ")}`}
                  </p>
                  <Working steps={f.working} />
                </td>
              </tr>
            ),
          ];
        })}
      </tbody>
    </table>
    </div>
  );
}

function Places({ of }: { of: Schemas["DutyAnswer"] }) {
  const rows = list(of.faults);
  const kA = (x: number | undefined) => (x === undefined ? "—" : number(x / 1000, 4));
  const after = rows.find((r) => r.after_second !== undefined)?.after_second;
  return (
    <div className={classes.wide} tabIndex={0} role="group" aria-label="short-circuit duty at the buses">
      <table className="plain">
        <thead>
          <tr>
            <th scope="col">bus</th>
            <th scope="col">fault</th>
            <th scope="col" className="number">
              initial, kA
            </th>
            <th scope="col" className="number">
              X/R
            </th>
            <th scope="col" className="number">
              peak, kA
            </th>
            <th scope="col" className="number">
              after {after === undefined ? "" : si(after, "s", 3)}, kA
            </th>
            <th scope="col" className="number">
              direct part, kA
            </th>
            <th scope="col" className="number">
              thermal, kA
            </th>
            <th scope="col">condition</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((r, i) => {
            const first = rows[i - 1]?.place !== r.place;
            return (
              <tr key={i} className={first ? classes.first : undefined}>
                <th scope="row">{first ? r.place : <span className="unseen">{r.place}</span>}</th>
                <td>{kindInWords(r.kind)}</td>
                {r.unproven ? (
                  <td colSpan={6} className="muted">
                    unproven: {r.unproven} is not given
                  </td>
                ) : (
                  <>
                    <td className="number">{kA(r.initial_ampere)}</td>
                    <td className="number">{r.x_over_r === undefined ? "—" : number(r.x_over_r, 3)}</td>
                    <td className="number">{kA(r.peak_ampere)}</td>
                    <td className="number">{kA(r.after_ampere)}</td>
                    <td className="number">{kA(r.direct_ampere)}</td>
                    <td className="number">{kA(r.thermal_ampere)}</td>
                  </>
                )}
                <td className="muted">
                  {r.condition}
                  {r.taps !== "as in the condition" && `, on-load taps ${r.taps}`}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}
