import { Fragment } from "react";
import { list, type Schemas } from "../../api/client";
import { Working } from "../../components/Working";
import { complex, number, phasor, si } from "../../lib/format";
import { useAddress } from "../../router";
import { inOrder, Phasors } from "./Phasors";
import classes from "./Strip.module.css";

type Fault = Schemas["AnswerFault"];
type Values = Record<string, Schemas["PhasorJSON"]>;

/** What is below a millionth of the fault's own current, or of the largest voltage, is the rounding of nothing. */
function clean(values: Values | undefined, most: number): Values {
  return Object.fromEntries(Object.entries(values ?? {}).map(([k, p]) => [k, p.magnitude < 1e-6 * most ? { ...p, magnitude: 0, angle_degree: 0 } : p]));
}

export interface View {
  secondary: boolean;
  sequence: boolean;
}

/** What everybody sees of one fault. */
export function Seen({ fault, view, busy }: { fault: Fault; view: View; busy: boolean }) {
  const address = useAddress();
  const open = address.search.vantage;
  const worked = address.search.steps === "shown";
  const vantages = list(fault.vantages).filter((v) => list(v.currents).length + list(v.voltages).length > 0);
  const amperes = fault.current_ampere ?? 0;
  const volts = Math.max(
    0,
    ...Object.values(fault.voltage_to_earth_volt ?? {}).map((p) => p.magnitude),
    ...vantages.flatMap((v) => list(v.voltages).flatMap((u) => Object.values(u.primary_volt ?? {}).map((p) => p.magnitude))),
  );
  if (fault.no_source) return <p>Nothing feeds this place in this condition.</p>;
  if (fault.unproven) return <p>This fault has no proven current: {fault.unproven} is not given.</p>;
  return (
    <div className={busy ? classes.busy : undefined}>
      <div className={classes.own}>
        <dl>
          <div>
            <dt>at the fault</dt>
            <dd>{inOrder(clean(fault.phase_current_ampere, amperes)).map(([k, p]) => <span key={k}>{k} {phasor(p, "A")}</span>)}</dd>
          </div>
          <div>
            <dt>voltages there, to earth</dt>
            <dd>{inOrder(clean(fault.voltage_to_earth_volt, volts)).map(([k, p]) => <span key={k}>{k} {phasor(p, "V")}</span>)}</dd>
          </div>
          <div>
            <dt>impedance of the loop</dt>
            <dd>
              <span>{fault.loop_impedance_ohm ? complex(fault.loop_impedance_ohm) + " Ω" : "–"}</span>
              {fault.x_over_r !== undefined && <span>X/R {number(fault.x_over_r, 3)}</span>}
              {fault.earth_current_ampere && <span>earth {si(fault.earth_current_ampere.magnitude, "A")}</span>}
            </dd>
          </div>
        </dl>
        <Phasors values={fault.phase_current_ampere ?? {}} unit="A" title="fault" />
        {fault.sequence_current_ampere && <Phasors values={fault.sequence_current_ampere} unit="A" title="sequence" />}
      </div>
      <p>
        <button type="button" className="word" aria-expanded={worked} onClick={() => address.set({ steps: worked ? undefined : "shown" }, { replace: true })}>
          working
        </button>
        {list(fault.earth_returns).length > 0 && (
          <span className="muted">
            {" "}
            · earth current returns through{" "}
            {list(fault.earth_returns)
              .map((r) => `${r.plant}${r.bus ? " at " + r.bus : ""} ${si(r.current_ampere.magnitude, "A")}`)
              .join(", ")}
          </span>
        )}
      </p>
      {worked && <Working steps={fault.working} />}
      <table className={"plain " + classes.seen}>
        <thead>
          <tr>
            <th scope="col">sees it</th>
            <th scope="col">through</th>
            <th scope="col">{view.sequence ? "sequence currents 1, 2, 0" : "phase currents"}, {view.secondary ? "secondary" : "primary"}</th>
            <th scope="col" className="number">
              residual 3I0
            </th>
            <th scope="col">direction</th>
            <th scope="col">
              phasors
            </th>
          </tr>
        </thead>
        <tbody>
          {vantages.map((v) => (
            <Fragment key={v.name}>
              {list(v.currents).map((c, i) => (
                <tr key={c.input}>
                  {i === 0 && (
                    <th scope="rowgroup" rowSpan={list(v.currents).length + list(v.voltages).length}>
                      {v.name}
                    </th>
                  )}
                  <td>{c.input}</td>
                  <td className={classes.values}>{c.note ? c.note : <Currents c={c} view={view} most={amperes} />}</td>
                  <td className="number">{c.residual_ampere && (c.residual_ampere.magnitude < 1e-6 * amperes ? "0 A" : si(c.residual_ampere.magnitude, "A"))}</td>
                  <td>{c.direction}</td>
                  <td>
                    {i === 0 && (
                      <button
                        type="button"
                        className="word"
                        aria-expanded={open === v.name}
                        onClick={() => address.set({ vantage: open === v.name ? undefined : v.name }, { replace: true })}
                      >
                        phasors
                      </button>
                    )}
                  </td>
                </tr>
              ))}
              {list(v.voltages).map((u, i) => (
                <tr key={u.input}>
                  {i === 0 && list(v.currents).length === 0 && (
                    <th scope="rowgroup" rowSpan={list(v.voltages).length}>
                      {v.name}
                    </th>
                  )}
                  <td>{u.input}</td>
                  <td className={classes.values} colSpan={3}>
                    {u.note ? u.note : <Voltages u={u} view={view} most={volts} />}
                  </td>
                  <td />
                </tr>
              ))}
              {open === v.name && (
                <tr>
                  <td colSpan={6}>
                    <div className={classes.own}>
                      {list(v.currents).map(
                        (c) =>
                          !c.note &&
                          (c.primary_ampere || c.sequence_ampere) && (
                            <Phasors key={c.input} values={(view.sequence ? c.sequence_ampere : c.primary_ampere) ?? c.primary_ampere ?? {}} unit="A" title={c.input} />
                          ),
                      )}
                      {list(v.voltages).map(
                        (u) =>
                          !u.note && (
                            <Phasors key={u.input} values={(view.sequence ? u.sequence_volt : u.primary_volt) ?? u.primary_volt ?? {}} unit="V" title={u.input} />
                          ),
                      )}
                    </div>
                  </td>
                </tr>
              )}
            </Fragment>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function Currents({ c, view, most }: { c: Schemas["AnswerCurrent"]; view: View; most: number }) {
  const values = clean(view.sequence ? (c.sequence_ampere ?? c.primary_ampere) : c.primary_ampere, most);
  return <List values={values} circuits={view.secondary ? list(c.secondary_ampere) : undefined} unit="A" />;
}

function Voltages({ u, view, most }: { u: Schemas["AnswerVoltage"]; view: View; most: number }) {
  const values = clean(view.sequence ? (u.sequence_volt ?? u.primary_volt) : u.primary_volt, most);
  return <List values={values} circuits={view.secondary ? list(u.secondary_volt) : undefined} unit="V" />;
}

const digits: Record<string, string> = { positive: "1", negative: "2", zero: "0" };

/** Secondary values are those of the circuits as wired; primary ones of conductors, or sequence values. */
function List({ values, circuits, unit }: { values: Values; circuits: Schemas["AnswerCircuit"][] | undefined; unit: string }) {
  if (circuits) {
    const most = Math.max(...circuits.map((c) => c.value.magnitude), unit === "A" ? 1e-6 : 1e-4);
    return (
      <>
        {circuits.map((c) => (
          <span key={c.conductors}>
            {c.conductors} {c.value.magnitude < 1e-6 * most || c.value.magnitude < 1e-9 ? "0 " + unit : phasor(c.value, unit)}
          </span>
        ))}
      </>
    );
  }
  return (
    <>
      {inOrder(values).map(([k, p]) => (
        <span key={k}>
          {digits[k] ?? k} {phasor(p, unit)}
        </span>
      ))}
    </>
  );
}
