import { useEffect, useMemo, useRef, useState } from "react";
import type { ChapterProps } from "..";
import { list } from "../../api/client";
import { useFault, usePlaces, useProfile } from "../../api/queries";
import { useKeys } from "../../app/keys";
import { inWords, matching } from "../../lib/conditions";
import { kindInWords, number, si } from "../../lib/format";
import { useAddress } from "../../router";
import { faultOf, isBus, kindAt, leadOf, nearest, positions, type Axis } from "./layout";
import { Ribbons } from "./Ribbons";
import { Seen } from "./Seen";
import classes from "./Strip.module.css";

const between = 9; // points inside every line: a pointer finds one within a tenth of it

/** A path from the supply to an end, and a fault anywhere on it. */
export default function Strip({ study, state, condition }: ChapterProps) {
  const address = useAddress();
  const { search, set } = address;
  const places = usePlaces(study);
  const buses = list(places.data?.buses);
  const ends = list(places.data?.ends);
  const names = list(state.conditions).map((c) => c.name);
  const to = search.to && buses.some((b) => b.name === search.to) ? search.to : (ends[0] ?? buses.at(-1)?.name ?? "");
  const axis: Axis = search.axis === "impedance" ? "impedance" : "distance";
  const profile = useProfile(study, to === "" ? undefined : { to, from: search.from, between, condition });
  const points = useMemo(() => list(profile.data?.points), [profile.data]);
  const at = useMemo(() => positions(points, axis, state.length_unit_metre), [points, axis, state.length_unit_metre]);
  const lead = leadOf(points, axis);

  // The fault: a place of the path, a kind that it can have, a resistance, and one condition.
  const fixed = points.findIndex((p) => p.place === search.at);
  const [hover, setHover] = useState<number>();
  const index = hover ?? (fixed >= 0 ? fixed : points.length - 1);
  const point = points[index];
  const kinds = useMemo(() => {
    // Inside a line a fault can have what the bus at its end can.
    const end = point && (isBus(point) ? point : points.slice(index).find(isBus));
    return list(buses.find((b) => b.name === end?.place)?.kinds);
  }, [point, index, points, buses]);
  const kind = kindAt(kinds, search.kind ?? "lg:" + (state.phases?.[0] ?? "A"));
  const typed = search.resistance ?? "";
  const [resistance, setResistance] = useState(typed);
  useEffect(() => setResistance(typed), [typed]);
  const band = point && faultOf(point, kind.split(":")[0]!);
  const chosen = matching(names, condition);
  const named = search.in && chosen.includes(search.in) ? search.in : (band?.most_in ?? chosen[0] ?? "");
  const place = useSettled(point?.place, 60);
  const fault = useFault(study, place && kinds.length > 0 ? { at: place, kind, resistance: typed || undefined, condition: named, working: search.steps === "shown" } : undefined);
  const shown = list(fault.data?.faults)[0];

  const go = (i: number) => {
    setHover(undefined);
    const p = points[Math.min(Math.max(i, lead), points.length - 1)];
    if (p) set({ at: p.place }, { replace: true });
  };
  const now = fixed >= 0 ? fixed : points.length - 1;
  const step = (by: number) => go(now + by);
  const stepBus = (by: number) => {
    let i = now + by;
    while (points[i] && !isBus(points[i]!)) i += by;
    go(i);
  };
  const nextKind = () => set({ kind: kinds[(kinds.indexOf(kind) + 1) % kinds.length] }, { replace: true });
  const view = { secondary: search.side === "secondary", sequence: search.values === "sequence" };
  const end = useRef<HTMLSelectElement>(null);
  useKeys([
    { key: "ArrowLeft", says: "fault one place towards the supply", group: "feeder strip", run: () => step(-1) },
    { key: "ArrowRight", says: "fault one place outwards", group: "feeder strip", run: () => step(1) },
    { key: "Shift+ArrowLeft", says: "fault to the bus before", group: "feeder strip", run: () => stepBus(-1) },
    { key: "Shift+ArrowRight", says: "fault to the next bus", group: "feeder strip", run: () => stepBus(1) },
    { key: "Home", says: "fault at the beginning", group: "feeder strip", run: () => go(lead) },
    { key: "End", says: "fault at the end", group: "feeder strip", run: () => go(points.length - 1) },
    { key: "k", says: "next kind of fault", group: "feeder strip", run: nextKind },
    { key: "e", says: "choose another end", group: "feeder strip", run: () => end.current?.focus() },
    { key: "a", says: "axis: distance or impedance", group: "feeder strip", run: () => set({ axis: axis === "distance" ? "impedance" : undefined }, { replace: true }) },
    { key: "p", says: "primary or secondary", group: "feeder strip", run: () => set({ side: view.secondary ? undefined : "secondary" }, { replace: true }) },
    { key: "s", says: "phase or sequence values", group: "feeder strip", run: () => set({ values: view.sequence ? undefined : "sequence" }, { replace: true }) },
  ]);
  const svg = new URLSearchParams({ to, between: String(between), ...(condition ? { condition } : {}), ...(axis === "impedance" ? { impedance: "true" } : {}) });
  const unit = axis === "impedance" ? "Ω" : state.length_unit;
  const where = point ? `${point.place}${axis === "distance" && at[index]! > 0 ? `, ${number(at[index]!, 3)} ${unit}` : ""}` : "";

  return (
    <>
      <div className={classes.head}>
        <h2>
          Feeder from {profile.data?.from ?? "the supply"} to{" "}
          <select ref={end} aria-label="end of the path" value={to} onChange={(e) => set({ to: e.target.value, at: undefined })} className={classes.pick}>
            <optgroup label="ends">
              {ends.map((b) => (
                <option key={b}>{b}</option>
              ))}
            </optgroup>
            <optgroup label="other buses">
              {buses.filter((b) => !ends.includes(b.name)).map((b) => (
                <option key={b.name}>{b.name}</option>
              ))}
            </optgroup>
          </select>
        </h2>
        <span className="muted">
          along{" "}
          <button type="button" className="word" onClick={() => set({ axis: axis === "distance" ? "impedance" : undefined }, { replace: true })}>
            {axis === "distance" ? "distance, " + unit : "impedance, ohm at the voltage of " + to}
          </button>{" "}
          · {inWords(names, condition)}
        </span>
        <a className={classes.save + " noprint"} href={`/api/studies/${encodeURIComponent(study)}/strip.svg?${svg}`} download={`strip-${to}.svg`}>
          SVG
        </a>
      </div>
      {profile.error && <p role="alert">{profile.error.message}</p>}
      {points.length > 1 && (
        <Ribbons
          points={points}
          at={at}
          lead={lead}
          unit={unit}
          axisWords={axis === "distance" ? `distance from ${points[lead]!.place}, ${unit}` : `positive-sequence impedance from ${points[0]!.place}, ohm at the voltage of ${to}`}
          limits={state.loaded && profile.data ? [profile.data.voltage_low_of_nominal, profile.data.voltage_high_of_nominal] : undefined}
          index={index}
          kind={kind}
          pill={`${where} · ${kindInWords(kind)}${typed ? " · " + typed : ""}`}
          value={shown?.current_ampere}
          onHover={(x) => setHover(x === undefined ? undefined : nearest(at, lead, x))}
          onPick={(x) => go(nearest(at, lead, x))}
          onBus={(bus) => set({ to: bus })}
        />
      )}
      <section aria-label="the fault" className={classes.fault}>
        <div className={classes.head}>
          <h2>What everybody sees</h2>
          <span role="status" className="muted">
            {shown?.current_ampere !== undefined ? `${kindInWords(kind)} at ${shown.place}: ${si(shown.current_ampere, "A")}${shown.x_over_r !== undefined ? `, X/R ${number(shown.x_over_r, 3)}` : ""}` : ""}
          </span>
        </div>
        <div className={classes.controls + " noprint"}>
          <div role="group" aria-label="kind of fault" className={classes.kinds}>
            {kinds.map((k) => (
              <button key={k} type="button" className={classes.kind} aria-pressed={k === kind} onClick={() => set({ kind: k }, { replace: true })}>
                {k}
              </button>
            ))}
          </div>
          <label>
            through{" "}
            <input
              value={resistance}
              placeholder="0 ohm"
              size={8}
              aria-label="fault resistance, with its unit"
              onChange={(e) => setResistance(e.target.value)}
              onBlur={() => set({ resistance: withUnit(resistance) }, { replace: true })}
              onKeyDown={(e) => e.key === "Enter" && set({ resistance: withUnit(resistance) }, { replace: true })}
            />
          </label>
          {chosen.length > 1 && (
            <label>
              in{" "}
              <select value={search.in && chosen.includes(search.in) ? search.in : ""} onChange={(e) => set({ in: e.target.value }, { replace: true })}>
                <option value="">the most: {band?.most_in ?? "…"}</option>
                {chosen.map((c) => (
                  <option key={c}>{c}</option>
                ))}
              </select>
            </label>
          )}
          <span className="words">
            <button type="button" className="word" onClick={() => set({ side: view.secondary ? undefined : "secondary" }, { replace: true })}>
              {view.secondary ? "secondary" : "primary"} values
            </button>
            <button type="button" className="word" onClick={() => set({ values: view.sequence ? undefined : "sequence" }, { replace: true })}>
              {view.sequence ? "sequence" : "phase"} values
            </button>
          </span>
        </div>
        {fault.error && <p role="alert">{fault.error.message}</p>}
        {shown && !fault.error && <Seen fault={shown} view={view} busy={fault.isPlaceholderData} />}
      </section>
    </>
  );
}

/** A bare number is taken as ohm; what it means is said by the server. */
function withUnit(text: string): string {
  const t = text.trim();
  return /^[0-9.]+$/.test(t) ? (Number(t) === 0 ? "" : t + " ohm") : t;
}

/** A value once it has stood still for a moment: so a moving pointer asks the server for where it rests. */
function useSettled<T>(value: T, wait: number): T {
  const [settled, setSettled] = useState(value);
  useEffect(() => {
    const t = setTimeout(() => setSettled(value), wait);
    return () => clearTimeout(t);
  }, [value, wait]);
  return settled;
}
