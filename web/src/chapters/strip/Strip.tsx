import { useQuery } from "@tanstack/react-query";
import { useEffect, useMemo, useRef, useState } from "react";
import type { ChapterProps } from "..";
import { api, data, list, type Schemas } from "../../api/client";
import { usePlaces, useProfile, type FaultAt } from "../../api/queries";
import { useKeys } from "../../app/keys";
import { inWords, matching } from "../../lib/conditions";
import { grouped, number, si } from "../../lib/format";
import { useAddress } from "../../router";
import { bandType, kindAt, kindWords, nextPhases, nextType, ofType, phasesOf, phaseWords, typeOf, typesOf } from "./kinds";
import { faultOf, isBus, leadOf, locate, nextBus, pointOf, positions, stepped, type Axis, type Point, type Spot } from "./layout";
import { across, Ribbons, roomOf, useSize } from "./Ribbons";
import { Seen } from "./Seen";
import classes from "./Strip.module.css";

const between = 9; // points inside every line
const rest = 40; // ms that the pointer stands still before the server is asked
const group = "feeder strip";

/** A path from the supply to an end, and a fault anywhere on it. */
export default function Strip({ study, state, condition }: ChapterProps) {
  const { search, set } = useAddress();
  const places = usePlaces(study);
  const buses = list(places.data?.buses);
  const lines = useMemo(() => list(places.data?.lines), [places.data]);
  const ends = useMemo(() => list(places.data?.ends), [places.data]);
  const names = list(state.conditions).map((c) => c.name);
  const phases = list(state.phases);
  const axis: Axis = search.axis === "impedance" ? "impedance" : "distance";

  // The path: as chosen; else to the first end, or to the place of the fault if that end's path does not pass it.
  const chosenEnd = buses.some((b) => b.name === search.to) ? search.to : undefined;
  const firstEnd = ends[0] ?? buses.at(-1)?.name;
  const usual = useProfile(study, firstEnd && !chosenEnd ? { to: firstEnd, between, condition } : undefined);
  const passes = (p: Schemas["ProfileAnswer"] | undefined) => {
    const ps = list(p?.points);
    return search.at === undefined || ps.length === 0 || locate(ps, lines, ps.map((_, i) => i), search.at) !== undefined;
  };
  const near = search.at && (buses.find((b) => b.name === search.at)?.name ?? lines.find((l) => search.at!.startsWith(l.name + "/"))?.to);
  const to = chosenEnd ?? (near && !list(places.data?.infeed_buses).includes(near) && !passes(usual.data) ? near : firstEnd);
  const profile = useProfile(study, to ? { to, between, condition } : undefined);
  const points = useMemo(() => list(profile.data?.points), [profile.data]);
  const at = useMemo(() => positions(points, axis, state.length_unit_metre), [points, axis, state.length_unit_metre]);
  const lead = leadOf(points, axis);
  const [box, width, windowHeight] = useSize();
  const room = useMemo(() => roomOf(width), [width]);
  const xs = useMemo(() => across(at, lead, points, room), [at, lead, points, room]);

  // The fault: a place, a kind that it can have, a resistance, and one condition.
  const fixed = useMemo(
    () => (points.length === 0 ? undefined : locate(points, lines, xs, search.at ?? points.at(-1)!.place)),
    [points, lines, xs, search.at],
  );
  const [hovered, setHovered] = useState<string>();
  const hover = useMemo(() => (hovered === undefined ? undefined : locate(points, lines, xs, hovered)), [points, lines, xs, hovered]);
  const spot = hover ?? fixed;
  const place = spot?.name ?? search.at;
  const kinds = useMemo(() => kindsOf(place, buses, lines), [place, buses, lines]);
  const kind = kindAt(kinds, search.kind ?? "lg:" + (state.phases?.[0] ?? "A"));
  const resistance = search.resistance ?? "";
  const chosen = matching(names, condition);
  const point = spot && points[pointOf(xs, spot)];
  const band = point && faultOf(point, bandType(kind));
  const pick = search.in ?? "";
  const named = chosen.length === 1 ? chosen[0] : chosen.includes(pick) ? pick : ((pick === "least" ? band?.least_in : band?.most_in) ?? chosen[0]);
  const asked: FaultAt | undefined =
    place && kinds.length > 0 && named !== undefined && points.length > 0
      ? { at: place, kind, resistance: resistance || undefined, condition: named, working: search.steps === "shown" || undefined }
      : undefined;
  const { shown, fits, error } = useFaultNow(study, asked);
  const busy = !fits;

  const go = (s: Spot | undefined) => {
    setHovered(undefined);
    if (s) set({ at: s.name }, { replace: true });
  };
  // Keys go from where the fault is now, be that under the mouse or not.
  const inner = width - room.left - room.right;
  const step = (way: number) => spot && go(stepped(points, lines, xs, spot, (way * inner) / 100));
  const stepBus = (way: number) => spot && go(nextBus(points, xs, spot, way));
  const goPoint = (i: number) => points[i] && go(locate(points, lines, xs, points[i]!.place));
  const secondary = search.side === "secondary";
  const end = useRef<HTMLSelectElement>(null);
  const ohm = useRef<HTMLInputElement>(null);
  const replace = (to: Record<string, string | undefined>) => set(to, { replace: true });
  const other = { axis: axis === "distance" ? "impedance" : undefined, side: secondary ? undefined : "secondary", in: pick === "least" ? undefined : "least" };
  useKeys([
    { key: "ArrowLeft", says: "fault one step towards the supply", group, run: () => step(-1) },
    { key: "ArrowRight", says: "fault one step outwards", group, run: () => step(1) },
    { key: "Shift+ArrowLeft", says: "fault to the bus before", group, run: () => stepBus(-1) },
    { key: "Shift+ArrowRight", says: "fault to the next bus", group, run: () => stepBus(1) },
    { key: "Home", says: "fault to the beginning of the path", group, run: () => goPoint(0) },
    { key: "End", says: "fault to its end", group, run: () => goPoint(points.length - 1) },
    { key: "k", says: "next kind of fault", group, run: () => replace({ kind: nextType(kinds, kind, 1) }) },
    { key: "K", says: "kind before", group, run: () => replace({ kind: nextType(kinds, kind, -1) }) },
    { key: "j", says: "the same kind on other phases", group, run: () => replace({ kind: nextPhases(kinds, kind) }) },
    { key: "r", says: "type the fault resistance", group, run: () => (ohm.current?.focus(), ohm.current?.select()) },
    { key: "m", says: "condition of the most or of the least current", group, run: () => replace({ in: other.in }) },
    { key: "e", says: "choose another end", group, run: () => end.current?.focus() },
    { key: "a", says: "axis: distance or impedance", group, run: () => replace({ axis: other.axis }) },
    { key: "p", says: "primary or secondary values", group, run: () => replace({ side: other.side }) },
    { key: "g", says: "working of the fault", group, run: () => replace({ steps: search.steps === "shown" ? undefined : "shown" }) },
  ]);

  const figure = new URLSearchParams({ to: to ?? "", between: String(between), ...(condition ? { condition } : {}), ...(axis === "impedance" ? { impedance: "true" } : {}) });
  const current = error ? "–" : !fits || !shown ? "…" : shown.current_ampere !== undefined ? si(shown.current_ampere, "A") : shown.no_source ? "no source" : "not known";
  const pill = [place ?? "", kindWords(kind, phases), resistance || "bolted", current];
  const from = profile.data?.from ?? "the supply";
  const pathEnd = profile.data?.to ?? to;
  if (places.data && buses.length === 0) return <p className="muted">The study has no buses yet.</p>;

  return (
    <>
      <div className={classes.head}>
        <h2>
          Feeder strip, from {from} to{" "}
          <select ref={end} aria-label="end of the path" value={to ?? ""} onChange={(e) => set({ to: e.target.value, at: undefined })} className={classes.pick}>
            <optgroup label="ends">
              {ends.map((b) => (
                <option key={b}>{b}</option>
              ))}
            </optgroup>
            <optgroup label="other buses">
              {buses
                .filter((b) => !ends.includes(b.name))
                .map((b) => (
                  <option key={b.name}>{b.name}</option>
                ))}
            </optgroup>
          </select>
        </h2>
        <span className={classes.choice} role="group" aria-label="axis">
          along
          {(["distance", "impedance"] as const).map((a) => (
            <button key={a} type="button" className={classes.kind} aria-pressed={axis === a} onClick={() => replace({ axis: a === "distance" ? undefined : a })}>
              {a}
            </button>
          ))}
        </span>
        <span className="muted">{chosen.length > 1 ? `bands over ${inWords(names, condition).replace(/^worst of /, "")}` : inWords(names, condition)}</span>
        <a className={classes.save + " noprint"} href={`/api/studies/${encodeURIComponent(study)}/strip.svg?${figure}`} download={`strip-${to}.svg`}>
          figure, SVG
        </a>
      </div>
      <div className={classes.controls + " noprint"} role="group" aria-label="the fault">
        <span className={classes.choice} role="group" aria-label="kind of fault">
          {typesOf(kinds).map((t) => (
            <button
              key={t}
              type="button"
              className={classes.kind}
              aria-pressed={t === typeOf(kind)}
              onClick={() => replace({ kind: ofType(kinds, t).find((k) => phasesOf(k) === phasesOf(kind)) ?? ofType(kinds, t)[0] })}
            >
              {kindWords(t)}
            </button>
          ))}
        </span>
        {phasesOf(kind) !== "" && (
          <span className={classes.choice} role="group" aria-label="phases of the fault">
            {ofType(kinds, typeOf(kind)).map((k) => (
              <button key={k} type="button" className={classes.kind} aria-pressed={k === kind} onClick={() => replace({ kind: k })}>
                {phaseWords(phasesOf(k), phases)}
              </button>
            ))}
          </span>
        )}
        <Resistance field={ohm} value={resistance} set={(r) => replace({ resistance: r })} />
        {chosen.length > 1 && (
          <label>
            in{" "}
            <select value={chosen.includes(pick) || pick === "least" ? pick : ""} onChange={(e) => replace({ in: e.target.value })}>
              <option value="">most current: {band?.most_in ?? "…"}</option>
              <option value="least">least current: {band?.least_in ?? "…"}</option>
              {chosen.map((c) => (
                <option key={c} value={c}>
                  {c}
                </option>
              ))}
            </select>
          </label>
        )}
      </div>
      {profile.error && <p role="alert">{profile.error.message}</p>}
      {points.length > 1 && !fixed && search.at && !profile.isPlaceholderData && (
        <p className={classes.note}>
          {search.at} is not on this path; what everybody sees of a fault there is below.{" "}
          {near && near !== to && (
            <button type="button" className="word" onClick={() => set({ to: near })}>
              strip to {near}
            </button>
          )}
        </p>
      )}
      <div ref={box} className={classes.box + (profile.isPlaceholderData ? " " + classes.busy : "")}>
        {points.length > 1 && width > 0 && (
          <Ribbons
            points={points}
            lines={lines}
            ends={ends}
            at={at}
            xs={xs}
            lead={lead}
            room={room}
            axisUnit={axis === "distance" ? state.length_unit : "Ω"}
            axisWords={axis === "distance" ? `distance from ${points[lead]!.place}` : `positive-sequence impedance from ${points[0]!.place}, at the voltage of ${pathEnd}`}
            limits={state.loaded && profile.data ? [profile.data.voltage_low_of_nominal, profile.data.voltage_high_of_nominal] : undefined}
            loaded={state.loaded}
            spot={spot}
            kind={kind}
            pill={pill}
            busy={busy}
            tall={Math.round(Math.min(460, Math.max(264, 0.37 * windowHeight)))}
            onHover={(s) => setHovered(s?.name)}
            onPick={go}
            onEnd={(bus) => set({ to: bus, at: undefined })}
          />
        )}
      </div>
      {points.length > 1 && <InWords points={points} lead={lead} type={bandType(kind)} />}
      {!profile.data && !profile.error && <p className="muted">Working it out …</p>}
      <section aria-labelledby="seen-title" className={classes.fault}>
        <div className={classes.head}>
          <h2 id="seen-title">What everybody sees</h2>
          <span className="muted" role="status">
            {fits && shown?.current_ampere !== undefined && (
              <>
                {kindWords(shown.kind, phases)} at {shown.place}
                {resistance && " through " + resistance}: <b className={classes.strong}>{si(shown.current_ampere, "A")}</b>
                {shown.x_over_r !== undefined && `, X/R ${number(shown.x_over_r, 3)}`}; {shown.condition}
              </>
            )}
          </span>
          <span className={classes.choice + " " + classes.save} role="group" aria-label="side of the instrument transformers">
            {["primary", "secondary"].map((s) => (
              <button key={s} type="button" className={classes.kind} aria-pressed={(s === "secondary") === secondary} onClick={() => replace({ side: s === "secondary" ? s : undefined })}>
                {s}
              </button>
            ))}
          </span>
        </div>
        {error && <p role="alert">{error.message}</p>}
        {shown && <Seen fault={shown} secondary={secondary} busy={busy} phases={phases} />}
      </section>
    </>
  );
}

/** Kinds that a place can have. Inside a line those of the end that has fewer: a line has no more phases than that. */
function kindsOf(place: string | undefined, buses: Schemas["PlaceBus"][], lines: Schemas["PlaceLine"][]): string[] {
  const kinds = (name: string | undefined) => list(buses.find((b) => b.name === name)?.kinds);
  if (place === undefined) return [];
  if (buses.some((b) => b.name === place)) return kinds(place);
  const line = lines.find((l) => place.startsWith(l.name + "/"));
  const [a, b] = [kinds(line?.from), kinds(line?.to)];
  return a.length < b.length ? a : b;
}

/** The fault asked for, once the pointer rests; what was asked before is dropped, and its answer stays until the next is there.
 * `fits` says whether the answer is that of what is asked now. */
function useFaultNow(study: string, asked: FaultAt | undefined) {
  const [query, setQuery] = useState(asked);
  const text = JSON.stringify(asked);
  useEffect(() => {
    const t = setTimeout(() => setQuery(asked), rest);
    return () => clearTimeout(t);
  }, [text]);
  const { data: now, error } = useQuery({
    queryKey: ["study", study, "results", "strip-fault", query],
    enabled: query !== undefined,
    gcTime: 60_000,
    queryFn: async ({ signal }) => ({
      asked: query!,
      answer: list((await data(api.GET("/api/studies/{study}/fault", { params: { path: { study }, query: query! }, signal }))).faults)[0],
    }),
  });
  const last = useRef(now);
  if (now?.answer) last.current = now;
  const fits = last.current !== undefined && asked !== undefined && sameFault(last.current.asked, asked);
  return { shown: last.current?.answer, fits, error: fits ? null : error };
}

const sameFault = (a: FaultAt, b: FaultAt) => a.at === b.at && a.kind === b.kind && a.resistance === b.resistance && a.condition === b.condition;

/** The resistance, typed with its unit; Enter takes it, Escape leaves it as it was. */
function Resistance({ field, value, set }: { field: React.RefObject<HTMLInputElement | null>; value: string; set: (r: string) => void }) {
  const [typed, setTyped] = useState(value);
  useEffect(() => setTyped(value), [value]);
  const bare = /^[\d.,]+$/.test(typed.trim());
  const take = () => !bare && set(typed.trim());
  return (
    <label>
      through{" "}
      <input
        ref={field}
        value={typed}
        placeholder="0 ohm: bolted"
        size={11}
        aria-label="fault resistance, with its unit"
        aria-invalid={bare}
        onChange={(e) => setTyped(e.target.value)}
        onBlur={take}
        onKeyDown={(e) => {
          if (e.key === "Enter") take();
          if (e.key === "Escape") {
            setTyped(value);
            e.currentTarget.blur();
          }
        }}
      />
      {bare && <span className={classes.hint}> with its unit: {typed.trim()} ohm</span>}
    </label>
  );
}

/** The ribbons for those who don't see them. */
function InWords({ points, lead, type }: { points: Point[]; lead: number; type: string }) {
  const range = (b: { least: number; most: number }, write: (x: number) => string) => {
    const [least, most] = [write(b.least), write(b.most)];
    return least === most ? most : `${least} to ${most}`;
  };
  return (
    <ul className="unseen" aria-label="along the path">
      {points
        .filter((p, i) => isBus(p) && i >= lead)
        .map((p) => {
          const f = faultOf(p, type);
          const said = [
            f && `${kindWords(type)} ${range(f, (x) => grouped(x) + " A")}`,
            p.voltage_over_nominal && `voltage ${range(p.voltage_over_nominal, (x) => (100 * x).toFixed(1) + " %")}`,
            p.load_ampere && `load ${range(p.load_ampere, (x) => grouped(x, 3) + " A")}`,
          ].filter(Boolean);
          return (
            <li key={p.place}>
              {p.place}: {said.join("; ")}
            </li>
          );
        })}
    </ul>
  );
}
