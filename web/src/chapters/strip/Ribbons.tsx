import { scaleLinear, scaleLog } from "d3-scale";
import { area, line } from "d3-shape";
import { useLayoutEffect, useMemo, useRef, useState } from "react";
import { grouped, number } from "../../lib/format";
import {
  clearest,
  curve,
  faultOf,
  isBus,
  laterals,
  locate,
  logDomain,
  placeLabels,
  pointOf,
  roundUp,
  runInWords,
  runs,
  spotAt,
  spread,
  standing,
  type Band,
  type Lateral,
  type Line,
  type Point,
  type Spot,
} from "./layout";
import { kindWords } from "./kinds";
import classes from "./Strip.module.css";

export interface Room {
  width: number;
  left: number;
  right: number;
  narrow: boolean;
}

/** Room for scales at the left and for names of curves at the right. */
export function roomOf(width: number): Room {
  const narrow = width < 720;
  return { width, left: narrow ? 58 : 142, right: narrow ? 92 : 118, narrow };
}

/** Where the points stand on the page: the station to the left of the axis, the others along it. */
export function across(at: number[], lead: number, points: Point[], room: Room): number[] {
  const inner = room.width - room.left - room.right;
  const x = scaleLinear([0, Math.max(...at, 1e-9)], [room.left, room.left + inner]);
  const start = room.narrow ? 16 : 28;
  return points.map((_, i) => (i < lead ? start + (i * (room.left - start)) / lead : x(at[i]!)));
}

interface Props {
  points: Point[];
  lines: Line[];
  ends: string[];
  at: number[];
  xs: number[];
  lead: number;
  room: Room;
  axisUnit: string;
  axisWords: string;
  limits?: [number, number];
  loaded: boolean;
  spot?: Spot; // of the fault
  kind: string;
  pill: string[];
  busy: boolean;
  tall: number; // px that all ribbons together should have
  onHover: (s: Spot | undefined) => void;
  onPick: (s: Spot) => void;
  onEnd: (bus: string) => void;
}

type Scale = ((v: number) => number) & { invert: (y: number) => number };

interface Series {
  label: string;
  type: string; // of fault, or ""
  css: string;
  band: (p: Point) => Band | undefined;
  steps?: boolean;
}

interface Ribbon {
  name: string;
  under: string[];
  height: number;
  y: Scale;
  ticks: [number, string][];
  series: Series[];
  limits: [number, string][];
  write: (v: number) => string;
  unit: string;
  wrong?: { holds: (p: Point) => boolean; say: (from: number, to: number) => string[] };
  notes: string[]; // what can't be shown, and why
}

/** The path with its devices, and under it, on one axis, what was found along it. */
export function Ribbons(props: Props) {
  const { points, lines, xs, at, lead, limits, room, spot } = props;
  const { width, left, right } = room;
  const x1 = width - right;
  const type = props.kind.split(":")[0]!;
  const ribbons = useMemo(
    () => ribbonsOf(points, lead, type, limits, props.loaded, props.tall),
    [points, lead, type, limits?.[0], limits?.[1], props.loaded, props.tall],
  );
  const head = room.narrow ? 20 : 0; // names of ribbons stand above them where there is no room beside
  const gap = (room.narrow ? 12 : 18) + head;
  const track = useTrack(props);
  const pillY = track.height + 13;
  let top = track.height + (room.narrow ? 32 : 42) + head;
  const tops = ribbons.map((r) => {
    const t = top;
    top += r.height + gap;
    return t;
  });
  const bottom = top - gap;
  const height = bottom + 36;
  const svg = useRef<SVGSVGElement>(null);
  const spotOf = (e: React.PointerEvent): Spot | undefined => {
    const r = svg.current!.getBoundingClientRect();
    const px = ((e.clientX - r.left) * width) / r.width;
    if (px < xs[0]! - 12 || px > x1 + 24) return undefined;
    return spotAt(points, lines, xs, Math.min(Math.max(px, xs[0]!), Math.max(...xs)), 7);
  };
  const linked = (e: React.PointerEvent) => (e.target as Element).closest("[data-link]") !== null;
  const scale = scaleLinear([0, Math.max(...at, 1e-9)], [left, x1]);
  const words = props.pill.join(" · ");
  const pillWidth = Math.min(width - 8, words.length * 6.9 + 28);
  const pillX = spot ? Math.min(Math.max(spot.x, pillWidth / 2 + 2), width - pillWidth / 2 - 2) : 0;
  const near = spot ? points[pointOf(xs, spot)] : undefined;
  const own = spot && points.findIndex((p) => p.place === spot.name);

  return (
    <svg
      ref={svg}
      width={width}
      height={height}
      viewBox={`0 0 ${width} ${height}`}
      className={classes.strip}
      role="group"
      aria-label="feeder strip; the left and right arrow keys move the fault"
      onPointerDown={(e) => {
        if (e.button !== 0 || linked(e)) return;
        if (e.pointerType === "mouse") e.currentTarget.setPointerCapture(e.pointerId);
        props.onHover(spotOf(e));
      }}
      onPointerMove={(e) => props.onHover(linked(e) && e.buttons === 0 ? undefined : spotOf(e))}
      onPointerUp={(e) => {
        const s = spotOf(e);
        if (s && e.button === 0 && !linked(e)) props.onPick(s);
      }}
      onPointerLeave={() => props.onHover(undefined)}
      onPointerCancel={() => props.onHover(undefined)}
    >
      <defs>
        <pattern id="strip-wrong" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <line y2="6" className={classes.hatch} />
        </pattern>
      </defs>
      {track.drawing}
      {ribbons.map((r, n) => (
        <g key={r.name} transform={`translate(0 ${tops[n]})`} aria-hidden="true">
          <RibbonPlot r={r} points={points} xs={xs} lead={lead} room={room} type={type} />
        </g>
      ))}
      <g transform={`translate(0 ${bottom})`} aria-hidden="true">
        {scale.ticks(Math.max(3, Math.floor((x1 - left) / 90))).map((t) => (
          <g key={t} transform={`translate(${scale(t)} 0)`}>
            <line y2="4" className={classes.tick} />
            <text y="17" textAnchor="middle" className={classes.tickWords}>
              {t}
            </text>
          </g>
        ))}
        <text x={x1 + 9} y="17" className={classes.tickWords}>
          {props.axisUnit}
        </text>
        <text x={(left + x1) / 2} y="32" textAnchor="middle" className={classes.tickWords}>
          {props.axisWords}
        </text>
      </g>
      {spot && (
        <g
          role="slider"
          tabIndex={0}
          className={classes.pointer}
          aria-label="place of the fault"
          aria-valuemin={0}
          aria-valuemax={Math.round(x1 - xs[0]!)}
          aria-valuenow={Math.round(spot.x - xs[0]!)}
          aria-valuetext={words}
        >
          <line x1={spot.x} x2={spot.x} y1={track.path} y2={bottom} className={classes.cursor} />
          {near &&
            ribbons.map((r, n) => (
              <g key={r.name} transform={`translate(0 ${tops[n]})`} aria-hidden="true">
                <Reading r={r} point={near} exact={own === undefined || own >= 0} x={spot.x} room={room} type={type} />
              </g>
            ))}
          <circle cx={spot.x} cy={track.path} r="5" className={classes.at} />
          <g transform={`translate(${pillX} ${pillY})`}>
            <rect x={-pillWidth / 2} y="-11" width={pillWidth} height="22" rx="11" className={classes.pill} />
            <text textAnchor="middle" dominantBaseline="central" className={classes.pillWords + (props.busy ? " " + classes.waits : "")} data-pill>
              {words}
            </text>
          </g>
        </g>
      )}
    </svg>
  );
}

const boldWidth = (t: string) => t.length * 7.4 + 2;
const plainWidth = (t: string) => t.length * 6.5 + 2;

/** The path itself: buses named above, devices, units and laterals below. */
function useTrack({ points, lines, ends, xs, room, onPick, onEnd }: Props) {
  const above = placeLabels(
    points.flatMap((p, i) => (isBus(p) ? [{ x: xs[i]!, text: p.place }] : [])),
    boldWidth,
    0,
    room.width,
    4,
  );
  const things = standing(points, xs);
  const off = laterals(points, lines, ends);
  const last = points.length - 1;
  const leaving = off.map((l, n) => {
    const x = xs[points.findIndex((p) => p.place === l.bus)]!;
    const same = off.slice(0, n).filter((o) => o.bus === l.bus).length;
    const step = 14 * same;
    return { ...l, x: l.bus === points[last]!.place ? x - step : x + step, words: "↳ " + l.to + (l.more > 0 ? ` +${l.more}` : "") };
  });
  const below = placeLabels(
    [...things.map((t) => ({ x: t.x, text: t.name })), ...leaving.map((l) => ({ x: l.x, text: l.words }))].sort((a, b) => a.x - b.x),
    plainWidth,
    0,
    room.width,
    5,
  );
  const up = Math.max(0, ...above.map((l) => l.row));
  const down = below.length > 0 ? Math.max(...below.map((l) => l.row)) + 1 : 0;
  const path = up * 15 + 24;
  const row = (n: number) => path + 19 + n * 14;
  const drawing = (
    <g>
      <line x1={xs[0]} x2={Math.max(...xs)} y1={path} y2={path} className={classes.path} aria-hidden="true" />
      {below.map((l) => {
        const lateral = leaving.find((o) => o.words === l.text && o.x === l.mark);
        const text = (
          <text x={l.x} y={row(l.row)} textAnchor="middle" className={lateral ? classes.lateralName : classes.deviceName}>
            {l.text}
          </text>
        );
        const leader = <line x1={l.mark} x2={l.mark} y1={path + 5} y2={row(l.row) - 10} className={lateral ? classes.lateral : classes.leader} />;
        return lateral ? (
          <Leave key={l.text + l.mark} lateral={lateral} onEnd={onEnd}>
            {leader}
            {text}
          </Leave>
        ) : (
          <g key={l.text + l.mark}>
            {l.row > 0 ? leader : Math.abs(l.x - l.mark) > 20 && <line x1={l.mark} x2={l.x} y1={path + 5} y2={path + 10} className={classes.leader} />}
            {text}
          </g>
        );
      })}
      {things.map((t, n) =>
        t.kind === "device" ? (
          <rect key={n} x={t.x - 3.5} y={path - 3.5} width="7" height="7" className={classes.device}>
            <title>{t.name}</title>
          </rect>
        ) : (
          <g key={n} className={classes.unit}>
            <title>{`${t.of} ${t.name}`}</title>
            {/* a reactor or a regulator has one winding in the path, all else two */}
            {t.of === "reactor" || t.of === "regulator" ? (
              <circle cx={t.x} cy={path} r="5.4" />
            ) : (
              <>
                <circle cx={t.x - 3.4} cy={path} r="5.4" />
                <circle cx={t.x + 3.4} cy={path} r="5.4" />
              </>
            )}
          </g>
        ),
      )}
      {points.map((p, i) => isBus(p) && <circle key={p.place} cx={xs[i]} cy={path} r="3.2" className={classes.bus} aria-hidden="true" />)}
      {above.map((l) => (
        <g key={l.text}>
          {l.row > 0 ? (
            <line x1={l.mark} x2={l.mark} y1={path - 5} y2={path - 9 - (l.row - 1) * 15 - 4} className={classes.leader} />
          ) : (
            Math.abs(l.x - l.mark) > 20 && <line x1={l.mark} x2={l.x} y1={path - 4} y2={path - 8} className={classes.leader} />
          )}
          <text
            x={l.x}
            y={path - 9 - l.row * 15}
            textAnchor="middle"
            className={classes.busName}
            data-link
            onClick={() => {
              const s = locate(points, lines, xs, l.text);
              if (s) onPick(s);
            }}
          >
            {l.text}
          </text>
        </g>
      ))}
    </g>
  );
  return { drawing, path, height: path + 10 + down * 14 };
}

/** A lateral leaves the path; taken, the strip goes along it. */
function Leave({ lateral, onEnd, children }: { lateral: Lateral; onEnd: (bus: string) => void; children: React.ReactNode }) {
  return (
    <g
      role="link"
      tabIndex={0}
      data-link
      data-end={lateral.to}
      className={classes.leave}
      aria-label={`strip to ${lateral.to}, which leaves at ${lateral.bus} by ${lateral.line}`}
      onClick={() => onEnd(lateral.to)}
      onKeyDown={(e) => e.key === "Enter" && onEnd(lateral.to)}
    >
      <title>{`strip to ${lateral.to}${lateral.more > 0 ? `, one of ${lateral.more + 1} ends` : ""}, by ${lateral.line}`}</title>
      {children}
    </g>
  );
}

const css: Record<string, string> = {
  "3ph": classes.threePhase!,
  ll: classes.lineLine!,
  "ll-g": classes.lineLine!,
  lg: classes.lineGround!,
};

/** Three curves, not more: earth in a fault of two phases is shown where that is the fault. */
const typesShown = (type: string) => ["3ph", type === "ll-g" ? "ll-g" : "ll", "lg"];

function ribbonsOf(points: Point[], lead: number, type: string, limits: [number, number] | undefined, loaded: boolean, tall: number): Ribbon[] {
  const own = points.slice(lead);
  const out: (Ribbon & { weight: number })[] = [];
  const types = typesShown(type).filter((t) => own.some((p) => faultOf(p, t)));
  const domain = logDomain(own.flatMap((p) => types.flatMap((t) => [faultOf(p, t)?.least ?? 0, faultOf(p, t)?.most ?? 0])));
  const notes = new Set<string>();
  for (const p of own)
    for (const f of p.faults ?? []) if (f.unproven && typesShown(type).includes(f.kind)) notes.add(`${kindWords(f.kind)} is not shown where the ${f.unproven} is wanted`);
  if (domain)
    out.push({
      name: "Fault current",
      under: ["A, bolted, log scale", "from least to most"],
      weight: 0.44,
      height: 0,
      y: scaleLog(domain, [1, 0]),
      ticks: [],
      series: types.map((t) => ({ label: kindWords(t), type: t, css: css[t]!, band: (p: Point) => faultOf(p, t) })),
      limits: [],
      write: (v) => grouped(v, 4),
      unit: "A",
      notes: [...notes],
    });
  const percent = (v: number) => (100 * v).toFixed(1);
  const volts = own.flatMap((p) => (p.voltage_over_nominal ? [p.voltage_over_nominal.least, p.voltage_over_nominal.most] : []));
  if (volts.length > 0) {
    const all = [...volts, ...(limits ?? [])];
    const [low, high] = [Math.min(...all), Math.max(...all)];
    const pad = Math.max(0.01, 0.08 * (high - low));
    const outside = (p: Point) =>
      limits !== undefined && p.voltage_over_nominal !== undefined && (p.voltage_over_nominal.least < limits[0] || p.voltage_over_nominal.most > limits[1]);
    out.push({
      name: "Voltage",
      under: ["% of nominal, in", "service"],
      weight: 0.22,
      height: 0,
      y: scaleLinear([low - pad, high + pad], [1, 0]),
      ticks: [],
      series: [{ label: "", type: "", css: classes.voltage!, band: (p) => p.voltage_over_nominal }],
      limits: limits ? [[limits[0], `limit ${number(100 * limits[0], 4).replace(/\.0+$/, "")}`], [limits[1], `limit ${number(100 * limits[1], 4).replace(/\.0+$/, "")}`]] : [],
      write: percent,
      unit: "%",
      wrong: limits && {
        holds: outside,
        say: (from, to) => {
          const run = points.slice(from, to + 1);
          const where = runInWords(points, { from, to }, lead);
          const least = run.reduce((a, b) => (b.voltage_over_nominal!.least < a.voltage_over_nominal!.least ? b : a));
          const most = run.reduce((a, b) => (b.voltage_over_nominal!.most > a.voltage_over_nominal!.most ? b : a));
          const said: string[][] = [];
          if (least.voltage_over_nominal!.least < limits[0])
            said.push([`below the limit ${where}`, `: ${percent(least.voltage_over_nominal!.least)} % at ${least.place}`, ` in ${least.voltage_over_nominal!.least_in}`]);
          if (most.voltage_over_nominal!.most > limits[1])
            said.push([`above the limit ${where}`, `: ${percent(most.voltage_over_nominal!.most)} % at ${most.place}`, ` in ${most.voltage_over_nominal!.most_in}`]);
          // From the whole sentence to its beginning, for the room there is.
          return [3, 2, 1].map((n) => said.map((s) => s.slice(0, n).join("")).join("; "));
        },
      },
      notes: [],
    });
  }
  const loads = own.slice(1).flatMap((p) => (p.load_ampere ? [p.load_ampere.most] : []));
  if (loaded && Math.max(...loads, 0) > 0)
    out.push({
      name: "Load current",
      under: ["A, largest phase,", "in service"],
      weight: 0.2,
      height: 0,
      y: scaleLinear([0, roundUp(Math.max(...loads))], [1, 0]),
      ticks: [],
      series: [{ label: "", type: "", css: classes.load!, band: (p) => p.load_ampere, steps: true }],
      limits: [],
      write: (v) => grouped(v, 3),
      unit: "A",
      notes: [],
    });
  const ratios = own.flatMap((p) => (p.x_over_r !== undefined ? [p.x_over_r] : []));
  if (ratios.length > 0)
    out.push({
      name: "X/R",
      under: ["at the largest", "fault current"],
      weight: 0.14,
      height: 0,
      y: scaleLinear([0, roundUp(Math.max(...ratios))], [1, 0]),
      ticks: [],
      series: [
        { label: "", type: "", css: classes.ratio!, band: (p) => (p.x_over_r === undefined ? undefined : { least: p.x_over_r, most: p.x_over_r, least_in: "", most_in: "" }) },
      ],
      limits: [],
      write: (v) => number(v, 3),
      unit: "",
      notes: [],
    });
  const weight = out.reduce((s, r) => s + r.weight, 0);
  for (const r of out) {
    r.height = Math.round(Math.min((r.weight / weight) * tall, r.weight * tall * 1.5));
    const y = r.y as unknown as { range: (r: [number, number]) => void; domain: () => number[]; ticks: (n: number) => number[] };
    y.range([r.height, 0]);
    const marks = r.name === "Fault current" ? logTicks(y.domain() as [number, number], r.height) : y.ticks(Math.max(2, Math.floor(r.height / 22)));
    r.ticks = marks.map((t) => [t, r.name === "Voltage" ? String(Math.round(100 * t * 10) / 10) : String(Math.round(t * 1000) / 1000).replace(/\B(?=(\d{3})+$)/g, ",")]);
  }
  return out;
}

function logTicks([a, b]: [number, number], height: number): number[] {
  const out: number[] = [];
  const decades = Math.log10(b / a);
  for (let e = Math.floor(Math.log10(a)); e <= Math.log10(b) + 1e-9; e++)
    for (const m of height / decades > 42 ? [1, 2, 5] : [1]) {
      const t = m * 10 ** e;
      if (t >= a * (1 - 1e-9) && t <= b * (1 + 1e-9)) out.push(t);
    }
  return out;
}

function RibbonPlot({ r, points, xs, lead, room, type }: { r: Ribbon; points: Point[]; xs: number[]; lead: number; room: Room; type: string }) {
  const x0 = room.left;
  const x1 = room.width - room.right;
  const marks: { y: number; words: string; css?: string }[] = r.limits.map(([v, words]) => ({ y: r.y(v), words }));
  // Curves that end before the path does have their names where they end.
  const within: { x: number; y: number; words: string; css: string }[] = [];
  for (const s of r.series) {
    const last = points.map(s.band).findLastIndex((b) => b !== undefined);
    if (last < lead) continue;
    const b = s.band(points[last]!)!;
    const ends = last < points.length - 1;
    if (s.label !== "") {
      if (ends) within.push({ x: xs[last]! + 7, y: r.y(b.most), words: s.label, css: s.css });
      else marks.push({ y: r.y(b.most), words: s.label, css: s.css });
    } else if (!ends) {
      const [most, least] = [r.write(b.most), r.write(b.least)];
      marks.push({ y: r.y(b.most), words: most, css: s.css });
      if (least !== most) marks.push({ y: r.y(b.least), words: least, css: s.css });
    }
  }
  const inside = spread(
    within.map((m) => m.y),
    13,
    6,
    r.height - 2,
  );
  const ys = spread(
    marks.map((m) => m.y),
    13,
    3,
    r.height + 3,
  );
  const strong = (s: Series) => s.type === "" || s.type === type || (s.type === "3ph" && type === "3ph-g") || (s.type === "lg" && type === "ln");
  return (
    <g>
      {room.narrow ? (
        <text x="2" y="-8">
          <tspan className={classes.ribbonName}>{r.name}</tspan>
          <tspan className={classes.under} dx="8">
            {r.under.join(" ")}
          </tspan>
        </text>
      ) : (
        <>
          <text x="0" y="10" className={classes.ribbonName}>
            {r.name}
          </text>
          {r.under.map((u, i) => (
            <text key={u} x="0" y={25 + 13 * i} className={classes.under}>
              {u}
            </text>
          ))}
        </>
      )}
      <rect x={x0} y="0" width={x1 - x0} height={r.height} className={classes.sheet} />
      {r.ticks.map(([t, words]) => (
        <g key={t}>
          <line x1={x0} x2={x1} y1={r.y(t)} y2={r.y(t)} className={classes.grid} />
          <text x={x0 - 6} y={r.y(t)} textAnchor="end" dominantBaseline="central" className={classes.tickWords}>
            {words}
          </text>
        </g>
      ))}
      {r.series.map((s) => (
        <Curves key={s.type} s={s} strong={strong(s)} y={r.y} points={points} xs={xs} lead={lead} />
      ))}
      {r.limits.map(([v]) => (
        <line key={v} x1={x0} x2={x1} y1={r.y(v)} y2={r.y(v)} className={classes.limit} />
      ))}
      {r.wrong && <Wrong r={r} points={points} xs={xs} lead={lead} x0={x0} x1={x1} />}
      {within.map((m, i) => (
        <text key={m.words} x={m.x} y={inside[i]} dominantBaseline="central" className={`${classes.mark} ${classes.halo} ${m.css}`}>
          {m.words}
        </text>
      ))}
      {r.notes.slice(0, 1).map((n) => (
        <text key={n} x={x0 + 8} y={r.height - 6} className={`${classes.under} ${classes.halo}`}>
          {n}
        </text>
      ))}
      {marks.map((m, i) => (
        <g key={i}>
          {Math.abs(ys[i]! - m.y) > 3 && <line x1={x1 + 1} y1={m.y} x2={x1 + 7} y2={ys[i]} className={classes.leader} />}
          <text x={x1 + 9} y={ys[i]} dominantBaseline="central" className={`${classes.mark} ${m.css ?? ""}`}>
            {m.words}
          </text>
        </g>
      ))}
    </g>
  );
}

type At = { x: number; least: number; most: number };

function Curves({ s, strong, y, points, xs, lead }: { s: Series; strong: boolean; y: Scale; points: Point[]; xs: number[]; lead: number }) {
  return (
    <g className={`${s.css} ${strong ? "" : classes.faint}`}>
      {runs(points, (p) => s.band(p) !== undefined, lead).map((run) => {
        let list: At[];
        if (s.steps) {
          // A branch carries what flows into the point at its end; what leads to the first point is not of this voltage.
          list = points.slice(run.from, run.to + 1).flatMap((p, i) => {
            const k = run.from + i;
            const b = s.band(p)!;
            return i === 0 ? [] : [{ x: xs[k - 1]!, ...b }, { x: xs[k]!, ...b }];
          });
        } else list = curve(points, xs, run, s.band);
        if (list.length === 0) return null;
        if (list.length === 1)
          return (
            <g key={run.from}>
              <circle cx={list[0]!.x} cy={y(list[0]!.most)} r="2.5" className={classes.dot} />
              <circle cx={list[0]!.x} cy={y(list[0]!.least)} r="2.5" className={classes.dot} />
            </g>
          );
        return (
          <g key={run.from}>
            <path d={area<At>().x((p) => p.x).y0((p) => y(p.least)).y1((p) => y(p.most))(list) ?? ""} className={classes.band} />
            <path d={line<At>().x((p) => p.x).y((p) => y(p.least))(list) ?? ""} className={classes.least} />
            <path d={line<At>().x((p) => p.x).y((p) => y(p.most))(list) ?? ""} className={classes.most} />
          </g>
        );
      })}
    </g>
  );
}

/** What is outside of its limits is hatched, and said on the spot. */
function Wrong({ r, points, xs, lead, x0, x1 }: { r: Ribbon; points: Point[]; xs: number[]; lead: number; x0: number; x1: number }) {
  const list = runs(points, r.wrong!.holds, lead);
  if (list.length === 0) return null;
  const widest = list.reduce((a, b) => (xs[b.to]! - xs[b.from]! > xs[a.to]! - xs[a.from]! ? b : a));
  const said = r.wrong!.say(widest.from, widest.to);
  const size = (t: string) => t.length * 6.6;
  const words = said.find((t) => size(t) < x1 - x0 - 12) ?? said.at(-1)!;
  const half = size(words) / 2 + 6;
  const x = Math.max(x0 + half, Math.min((xs[widest.from]! + xs[widest.to]!) / 2, x1 - half));
  // Not over the curves, where there is room.
  const curves = points.flatMap((p, i) => {
    const b = r.series[0]!.band(p);
    return b && Math.abs(xs[i]! - x) <= half + 10 ? [r.y(b.least), r.y(b.most)] : [];
  });
  const y = clearest([...curves, ...r.limits.map(([v]) => r.y(v)), r.height - 4], 8, r.height - 15, r.height - 15);
  return (
    <g>
      {list.map((run) => (
        <rect
          key={run.from}
          x={Math.max(x0, xs[run.from]! - 2)}
          y={r.height - 8}
          width={Math.min(x1, xs[run.to]! + 2) - Math.max(x0, xs[run.from]! - 2)}
          height="8"
          fill="url(#strip-wrong)"
        />
      ))}
      <text x={x} y={y} textAnchor="middle" dominantBaseline="central" className={classes.wrong}>
        {words}
      </text>
    </g>
  );
}

/** What the ribbon says where the fault is: of the place itself, or, marked so, of the nearest one that was worked out. */
function Reading({ r, point, exact, x, room, type }: { r: Ribbon; point: Point; exact: boolean; x: number; room: Room; type: string }) {
  const s = r.series.find((s) => s.type === type) ?? r.series.find((s) => s.type === (type === "3ph-g" ? "3ph" : type === "ln" ? "lg" : "")) ?? r.series[0]!;
  const b = s.band(point);
  if (!b) return null;
  const [least, most] = [r.write(b.least), r.write(b.most)];
  const words = `${exact ? "" : "≈ "}${least === most ? most : `${least} to ${most}`}${r.unit && " " + r.unit}`;
  const x1 = room.width - room.right;
  const turned = room.narrow || x + words.length * 6.8 > x1;
  return (
    <>
      <circle cx={x} cy={r.y(b.most)} r="3" className={`${s.css} ${classes.dot}`} />
      {least !== most && <circle cx={x} cy={r.y(b.least)} r="2.2" className={`${s.css} ${classes.dot}`} />}
      <text x={room.narrow ? x1 : turned ? x - 5 : x + 5} y="-4" textAnchor={turned ? "end" : "start"} className={`${classes.mark} ${classes.reading} ${s.css}`}>
        {words}
      </text>
    </>
  );
}

/** The width that there is for the strip, and the height of the window. */
export function useSize(): [React.RefObject<HTMLDivElement | null>, number, number] {
  const ref = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState<[number, number]>([0, 800]);
  useLayoutEffect(() => {
    const box = ref.current!;
    const measure = () => {
      const now: [number, number] = [Math.max(420, Math.floor(box.clientWidth)), window.innerHeight];
      setSize((s) => (s[0] === now[0] && s[1] === now[1] ? s : now));
    };
    measure();
    const o = new ResizeObserver(measure);
    o.observe(box);
    window.addEventListener("resize", measure);
    return () => {
      o.disconnect();
      window.removeEventListener("resize", measure);
    };
  }, []);
  return [ref, ...size];
}
