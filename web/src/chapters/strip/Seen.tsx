import { Fragment } from "react";
import { list, type Schemas } from "../../api/client";
import { Working } from "../../components/Working";
import { complex, grouped, number, phasor, si } from "../../lib/format";
import { useAddress } from "../../router";
import { Phasors } from "./Phasors";
import { cleaned, inOrder, sharedVoltages, type Values } from "./values";
import classes from "./Strip.module.css";

type Fault = Schemas["AnswerFault"];
type Phasor = Schemas["PhasorJSON"];

const sequences = ["positive", "negative", "zero"];

/** What everybody sees of one fault. */
export function Seen({ fault, secondary, busy, phases }: { fault: Fault; secondary: boolean; busy: boolean; phases: string[] }) {
  const { search, set } = useAddress();
  const worked = search.steps === "shown";
  if (fault.no_source) return <p>Nothing feeds {fault.place} in this condition: there is no fault current.</p>;
  if (fault.unproven) return <p>The current of this fault is not known: {fault.unproven} is not given.</p>;
  const vantages = list(fault.vantages).filter((v) => list(v.currents).length + list(v.voltages).length > 0);
  const open = vantages.find((v) => v.name === search.vantage) ?? vantages[0];
  const choose = (name: string) => set({ vantage: name }, { replace: true });
  const ampere = fault.current_ampere ?? 0;
  const volt = Math.max(
    0,
    ...Object.values(fault.voltage_to_earth_volt ?? {}).map((p) => p.magnitude),
    ...vantages.flatMap((v) => list(v.voltages).flatMap((u) => Object.values(u.primary_volt ?? {}).map((p) => p.magnitude))),
  );
  const earth = list(fault.earth_returns).filter((r) => r.current_ampere.magnitude >= 1e-3 * ampere);
  const own = cleaned(fault.phase_current_ampere, ampere);
  const there = cleaned(fault.voltage_to_earth_volt, volt);
  return (
    <div className={busy ? classes.busy : undefined}>
      <div className={classes.diagrams}>
        <section aria-label="at the fault">
          <h3>At the fault</h3>
          <div className={classes.row}>
            <Phasors values={own} unit="A" title="current" />
            {fault.sequence_current_ampere && <Phasors values={cleaned(fault.sequence_current_ampere, ampere)} unit="A" title="its sequences" />}
            <Phasors values={there} unit="V" title="voltage to earth" />
          </div>
        </section>
        {open && (
          <section aria-label={"seen by " + open.name}>
            <h3>
              Seen by{" "}
              <select value={open.name} onChange={(e) => choose(e.target.value)} aria-label="phasors of" className={classes.pick}>
                {vantages.map((v) => (
                  <option key={v.name}>{v.name}</option>
                ))}
              </select>
            </h3>
            <div className={classes.row}>
              {list(open.currents).map((c) => (
                <Fragment key={c.input}>
                  {c.primary_ampere && <Phasors values={cleaned(c.primary_ampere, ampere)} unit="A" title={c.input} />}
                  {c.sequence_ampere && <Phasors values={cleaned(c.sequence_ampere, ampere)} unit="A" title={c.input + ", sequences"} />}
                </Fragment>
              ))}
              {list(open.voltages).map((u) => (
                <Fragment key={u.input}>
                  {u.primary_volt && <Phasors values={cleaned(u.primary_volt, volt)} unit="V" title={u.input} />}
                  {u.sequence_volt && <Phasors values={cleaned(u.sequence_volt, volt)} unit="V" title={u.input + ", sequences"} />}
                </Fragment>
              ))}
            </div>
          </section>
        )}
      </div>
      <dl className={classes.facts}>
        <Fact name="current">{values(own, "A")}</Fact>
        <Fact name="voltage to earth">{values(there, "V")}</Fact>
        {fault.loop_impedance_ohm && (
          <Fact name="impedance of the loop">
            {complex(fault.loop_impedance_ohm)} Ω{fault.x_over_r !== undefined && `, X/R ${number(fault.x_over_r, 3)}`}
          </Fact>
        )}
        {earth.length > 0 && (
          <Fact name="earth current returns by">
            {earth.map((r) => `${r.plant}${r.bus ? " at " + r.bus : ""} ${si(r.current_ampere.magnitude, "A")}`).join(", ")}
            {earth.length < list(fault.earth_returns).length && ", and less than a thousandth elsewhere"}
          </Fact>
        )}
        {list(fault.inverters).map((i) => (
          <Fact key={i.name} name={"inverter " + i.name}>
            {values(i.phase_current_ampere, "A")}
            <span>rated {si(i.rated_current_ampere, "A")}</span>
          </Fact>
        ))}
      </dl>
      <button type="button" className="word noprint" aria-expanded={worked} onClick={() => set({ steps: worked ? undefined : "shown" }, { replace: true })}>
        {worked ? "hide the working" : "working of this fault"}
      </button>
      {worked && fault.working && <Working steps={fault.working} />}
      <Table
        title={`Currents, A ${secondary ? "secondary" : "primary"}`}
        phases={phases}
        secondary={secondary}
        residual="3I0"
        letter="I"
        direction
        rows={vantages.flatMap((v) =>
          list(v.currents).map((c, i) => ({
            key: v.name + "/" + c.input,
            who: i === 0 ? v.name : "",
            rows: list(v.currents).length,
            input: c.input,
            note: c.note,
            phase: cleaned(c.primary_ampere, ampere),
            residual: c.residual_ampere && cleaned({ r: c.residual_ampere }, ampere).r,
            sequence: c.sequence_ampere && cleaned(c.sequence_ampere, ampere),
            circuits: list(c.secondary_ampere),
            direction: c.direction,
          })),
        )}
        open={open?.name}
        choose={choose}
      />
      <Table
        title={`Voltages, V ${secondary ? "secondary" : "primary, to earth"}`}
        phases={phases}
        secondary={secondary}
        letter="V"
        rows={sharedVoltages(vantages).map(({ voltage: u, of }) => ({
          key: u.input + of.join(),
          who: of.join(", "),
          rows: 1,
          input: u.input,
          note: u.note,
          phase: cleaned(u.primary_volt, volt),
          sequence: u.sequence_volt && cleaned(u.sequence_volt, volt),
          circuits: list(u.secondary_volt),
        }))}
      />
      {vantages.length === 0 && <p className="muted">The study has no relay that could see it.</p>}
    </div>
  );
}

function Fact({ name, children }: { name: string; children: React.ReactNode }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}

const values = (v: Values, unit: string) =>
  inOrder(v).map(([k, p]) => (
    <span key={k}>
      {k} {phasor(p, unit)}
    </span>
  ));

interface Row {
  key: string;
  who: string; // "" where the row before has it
  rows: number; // that have it
  input: string;
  note?: string;
  phase: Values;
  residual?: Phasor;
  sequence?: Values;
  circuits: Schemas["AnswerCircuit"][];
  direction?: string;
}

interface TableProps {
  title: string;
  phases: string[];
  secondary: boolean;
  residual?: string;
  letter: string;
  direction?: boolean;
  rows: Row[];
  open?: string;
  choose?: (name: string) => void;
}

/** One row for each input of each vantage. Primary values are of conductors, secondary ones of circuits as they are wired. */
function Table({ title, phases, secondary, residual, letter, direction, rows, open, choose }: TableProps) {
  if (rows.length === 0) return null;
  const others = secondary && rows.some((r) => r.circuits.some((c) => !phases.includes(c.conductors)));
  return (
    <div className={classes.wide} tabIndex={0} role="region" aria-label={title}>
      <table className={"plain " + classes.seen}>
        <caption>{title}</caption>
        <thead>
          <tr>
            <th scope="col">{choose ? "seen by" : "used by"}</th>
            <th scope="col">through</th>
            {phases.map((p) => (
              <th key={p} scope="col" className="number">
                {p}
              </th>
            ))}
            {!secondary && residual && (
              <th scope="col" className="number">
                residual {residual}
              </th>
            )}
            {!secondary &&
              ["1", "2", "0"].map((n) => (
                <th key={n} scope="col" className="number" title={{ "1": "positive sequence", "2": "negative sequence", "0": "zero sequence" }[n]}>
                  {letter}
                  {n}
                </th>
              ))}
            {others && (
              <th scope="col" className="number">
                other circuits
              </th>
            )}
            {direction && <th scope="col">direction</th>}
          </tr>
        </thead>
        <tbody>
          {rows.map((r) => (
            <tr key={r.key}>
              {r.who !== "" && (
                <th scope={r.rows > 1 ? "rowgroup" : "row"} rowSpan={r.rows} className={choose && r.who === open ? classes.open : undefined}>
                  {choose ? (
                    <button type="button" className="word" title={"phasors of " + r.who} aria-pressed={r.who === open} onClick={() => choose(r.who)}>
                      {r.who}
                    </button>
                  ) : (
                    r.who
                  )}
                </th>
              )}
              <td>{r.input}</td>
              {r.note ? (
                <td colSpan={phases.length + 4} className="muted">
                  {r.note}
                </td>
              ) : (
                <>
                  {phases.map((p) => (
                    <Cell key={p} value={secondary ? r.circuits.find((c) => c.conductors === p)?.value : r.phase[p]} />
                  ))}
                  {!secondary && residual && <Cell value={r.residual} />}
                  {!secondary && sequences.map((s) => <Cell key={s} value={r.sequence?.[s]} />)}
                  {others && (
                    <td className="number">
                      {r.circuits
                        .filter((c) => !phases.includes(c.conductors))
                        .map((c) => (
                          <div key={c.conductors}>
                            <span className="muted">{c.conductors}</span> <Value value={c.value} />
                          </div>
                        ))}
                    </td>
                  )}
                </>
              )}
              {direction && <td>{r.direction}</td>}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const Cell = ({ value }: { value: Phasor | undefined }) => <td className="number">{value === undefined ? <span className="muted">–</span> : <Value value={value} />}</td>;

function Value({ value }: { value: Phasor }) {
  if (value.magnitude < 1e-9) return <>0</>;
  return (
    <>
      {grouped(value.magnitude, 4)}
      <span className={classes.angle}> ∠ {value.angle_degree.toFixed(1).replace("-", "−")}°</span>
    </>
  );
}
