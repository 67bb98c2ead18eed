import { scaleLinear, scaleLog } from "d3-scale";
import { area, line } from "d3-shape";
import { useLayoutEffect, useMemo, useRef, useState } from "react";
import { grouped, number, si } from "../../lib/format";
import { faultOf, isBus, logDomain, placeLabels, roundUp, runs, spread, type Band, type Point } from "./layout";
import classes from "./Strip.module.css";

interface Props {
  points: Point[];
  at: number[];
  lead: number;
  unit: string;
  axisWords: string;
  limits?: [number, number];
  index: number; // of the fault
  kind: string;
  pill: string;
  value?: number; // the fault's current
  onHover: (x: number | undefined) => void;
  onPick: (x: number) => void;
  onBus: (bus: string) => void;
}

const left = 132;
const right = 122;
const gap = 26;
const types: [string, string, string][] = [
  ["3ph", "three-phase", classes.threePhase!],
  ["ll", "line-line", classes.lineLine!],
  ["lg", "line-ground", classes.lineGround!],
];

type Scale = ((v: number) => number) & { invert: (y: number) => number };

interface Series {
  label: string;
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
  wrong?: { holds: (p: Point) => boolean; words: string };
}

/** The path with its devices, and under it, on one axis, what was found along it. */
export function Ribbons(props: Props) {
  const { points, at, lead, index, limits } = props;
  const [box, width] = useWidth();
  const inner = Math.max(200, width - left - right);
  const x = useMemo(() => scaleLinear([0, Math.max(...at, 1e-9)], [left, left + inner]), [at, inner]);
  const along = (i: number) => (i < lead ? left - (lead - i) * Math.min(46, 96 / lead) : x(at[i]!));
  const ribbons = useMemo(() => ribbonsOf(points, lead, limits), [points, lead, limits?.[0], limits?.[1]]);

  const text = (t: string) => t.length * 7.4 + 2;
  const busLabels = placeLabels(
    points.flatMap((p, i) => (isBus(p) ? [{ x: along(i), text: p.place }] : [])),
    text,
    0,
    width,
  );
  const devices = points.flatMap((p, i) => {
    if (i === 0) return [];
    const [a, b] = [along(i - 1), along(i)];
    const unit = p.over_kind && p.over_kind !== "line" ? [{ x: (a + b) / 2, text: p.over ?? "", kind: p.over_kind }] : [];
    const own = (p.devices ?? []).map((d, n) => ({ x: (unit.length > 0 ? (a + b) / 2 + 17 : a + Math.min(9, (b - a) / 2)) + n * 9, text: d, kind: "device" }));
    return [...unit, ...own];
  });
  const deviceLabels = placeLabels(
    devices.filter((d) => d.text !== "").map((d) => ({ x: d.x, text: d.text })),
    (t) => text(t) * 0.93,
    0,
    width,
    4,
  );
  const up = Math.max(0, ...busLabels.map((l) => l.row)) + 1;
  const down = Math.max(0, ...deviceLabels.map((l) => l.row)) + 1;
  const path = up * 15 + 8;
  let top = path + down * 14 + 36; // the pill stands between
  const tops = ribbons.map((r) => {
    const t = top;
    top += r.height + gap;
    return t;
  });
  const height = top + 22;
  const fault = along(index);
  const point = points[index];
  const svg = useRef<SVGSVGElement>(null);
  const place = (e: React.PointerEvent | React.MouseEvent) => {
    const r = svg.current!.getBoundingClientRect();
    const px = ((e.clientX - r.left) * width) / r.width;
    return px < left - 20 || px > left + inner + 20 ? undefined : x.invert(px);
  };
  const pillWidth = Math.min(width - 8, props.pill.length * 7 + 26);
  const pillX = Math.min(Math.max(fault, pillWidth / 2 + 2), width - pillWidth / 2 - 2);
  const pillY = path + down * 14 + 14;

  return (
    <div ref={box} className={classes.box}>
      <svg
        ref={svg}
        width={width}
        height={height}
        viewBox={`0 0 ${width} ${height}`}
        className={classes.strip}
        role="application"
        aria-label={`Feeder strip. Fault: ${props.pill}${props.value !== undefined ? ", " + si(props.value, "A") : ""}. Arrow keys move it.`}
        tabIndex={0}
        onPointerMove={(e) => e.pointerType === "mouse" && e.buttons === 0 && props.onHover(place(e))}
        onPointerLeave={() => props.onHover(undefined)}
        onClick={(e) => {
          const p = place(e);
          if (p !== undefined) props.onPick(p);
        }}
      >
        <defs>
          <pattern id="strip-wrong" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <line y2="6" className={classes.hatch} />
          </pattern>
        </defs>
        {/* the path */}
        <g>
          <line x1={along(0)} x2={along(points.length - 1)} y1={path} y2={path} className={classes.path} />
          {devices.map((d, n) =>
            d.kind === "device" ? (
              <rect key={n} x={d.x - 3.5} y={path - 3.5} width="7" height="7" className={classes.device} />
            ) : (
              <g key={n}>
                <circle cx={d.x - 3.4} cy={path} r="5.4" className={classes.unit} />
                <circle cx={d.x + 3.4} cy={path} r="5.4" className={classes.unit} />
              </g>
            ),
          )}
          {points.map((p, i) => isBus(p) && <circle key={p.place} cx={along(i)} cy={path} r="3.2" className={classes.bus} />)}
          {busLabels.map((l) => (
            <g key={l.text}>
              {l.row > 0 && <line x1={l.mark} x2={l.mark} y1={path - 5} y2={path - 12 - (l.row - 1) * 15} className={classes.leader} />}
              <text x={l.x} y={path - 8 - l.row * 15} textAnchor="middle" className={classes.busName} onClick={(e) => (e.stopPropagation(), props.onBus(l.text))}>
                <title>strip to {l.text}</title>
                {l.text}
              </text>
            </g>
          ))}
          {deviceLabels.map((l) => (
            <g key={l.text}>
              {l.row > 0 && <line x1={l.mark} x2={l.mark} y1={path + 6} y2={path + 10 + (l.row - 1) * 14 + 4} className={classes.leader} />}
              <text x={l.x} y={path + 17 + l.row * 14} textAnchor="middle" className={classes.deviceName}>
                {l.text}
              </text>
            </g>
          ))}
        </g>
        {ribbons.map((r, n) => (
          <g key={r.name} transform={`translate(0 ${tops[n]})`}>
            <RibbonPlot r={r} points={points} lead={lead} along={along} x0={left} x1={left + inner} />
            {point && <Dots r={r} point={point} x={fault} />}
          </g>
        ))}
        {/* the axis */}
        <g transform={`translate(0 ${top - gap + 4})`}>
          {x.ticks(Math.max(3, Math.floor(inner / 90))).map((t) => (
            <g key={t} transform={`translate(${x(t)} 0)`}>
              <line y2="4" className={classes.tick} />
              <text y="17" textAnchor="middle" className={classes.tickWords}>
                {t}
              </text>
            </g>
          ))}
          <text x={left + inner / 2} y="34" textAnchor="middle" className={classes.axisWords}>
            {props.axisWords}
          </text>
        </g>
        {/* the fault */}
        <g aria-hidden="true">
          <line x1={fault} x2={fault} y1={path} y2={top - gap} className={classes.cursor} />
          <circle cx={fault} cy={path} r="5" className={classes.at} />
          <g transform={`translate(${pillX} ${pillY})`}>
            <rect x={-pillWidth / 2} y="-11" width={pillWidth} height="22" rx="11" className={classes.pill} />
            <text textAnchor="middle" dominantBaseline="central" className={classes.pillWords}>
              {props.pill}
            </text>
          </g>
        </g>
      </svg>
    </div>
  );
}

function ribbonsOf(points: Point[], lead: number, limits?: [number, number]): Ribbon[] {
  const own = points.slice(lead);
  const out: Ribbon[] = [];
  const currents = own.flatMap((p) => types.flatMap(([t]) => [faultOf(p, t)?.least ?? 0, faultOf(p, t)?.most ?? 0]));
  const domain = logDomain(currents);
  if (domain) {
    const h = 150;
    const y = scaleLog(domain, [h, 0]);
    out.push({
      name: "Fault current",
      under: ["A, log scale", "least to most"],
      height: h,
      y,
      ticks: ticksOfLog(domain).map((t) => [t, grouped(t, 2)]),
      series: types.filter(([t]) => own.some((p) => faultOf(p, t))).map(([t, label, css]) => ({ label, css, band: (p) => faultOf(p, t) })),
      limits: [],
    });
  }
  const volts = own.flatMap((p) => (p.voltage_over_nominal ? [p.voltage_over_nominal.least, p.voltage_over_nominal.most] : []));
  if (volts.length > 0) {
    const all = [...volts, ...(limits ?? [])];
    const [low, high] = [Math.min(...all), Math.max(...all)];
    const pad = Math.max(0.01, 0.06 * (high - low));
    const h = 84;
    const y = scaleLinear([low - pad, high + pad], [h, 0]);
    const below = limits && volts.some((v) => v < limits[0]);
    const above = limits && volts.some((v) => v > limits[1]);
    out.push({
      name: "Voltage",
      under: ["% of nominal", "in service"],
      height: h,
      y,
      ticks: y.ticks(4).map((t) => [t, number(100 * t, 3)]),
      series: [{ label: "", css: classes.voltage!, band: (p) => p.voltage_over_nominal }],
      limits: limits ? [[limits[0], `limit ${number(100 * limits[0], 3)}`], [limits[1], `limit ${number(100 * limits[1], 3)}`]] : [],
      wrong:
        limits && (below || above)
          ? {
              holds: (p) => p.voltage_over_nominal !== undefined && (p.voltage_over_nominal.least < limits[0] || p.voltage_over_nominal.most > limits[1]),
              words: below ? "below the limit at some time" : "above the limit at some time",
            }
          : undefined,
    });
  }
  const loads = own.flatMap((p) => (p.load_ampere ? [p.load_ampere.most] : []));
  if (Math.max(...loads, 0) > 0) {
    const h = 84;
    const y = scaleLinear([0, roundUp(Math.max(...loads))], [h, 0]);
    out.push({
      name: "Load current",
      under: ["A, largest phase", "in service"],
      height: h,
      y,
      ticks: y.ticks(3).map((t) => [t, grouped(t, 3)]),
      series: [{ label: "", css: classes.load!, band: (p) => p.load_ampere, steps: true }],
      limits: [],
    });
  }
  const ratios = own.flatMap((p) => (p.x_over_r !== undefined ? [p.x_over_r] : []));
  if (ratios.length > 0) {
    const h = 60;
    const y = scaleLinear([0, roundUp(Math.max(...ratios))], [h, 0]);
    out.push({
      name: "X/R",
      under: ["at the largest", "fault current"],
      height: h,
      y,
      ticks: y.ticks(2).map((t) => [t, number(t, 2)]),
      series: [{ label: "", css: classes.ratio!, band: (p) => (p.x_over_r === undefined ? undefined : { least: p.x_over_r, most: p.x_over_r, least_in: "", most_in: "" }) }],
      limits: [],
    });
  }
  return out;
}

function ticksOfLog([a, b]: [number, number]): number[] {
  const out: number[] = [];
  const decades = Math.log10(b / a);
  for (let e = Math.floor(Math.log10(a)); e <= Math.log10(b) + 1e-9; e++)
    for (const m of decades < 3 ? [1, 2, 5] : [1]) {
      const t = m * 10 ** e;
      if (t >= a * (1 - 1e-9) && t <= b * (1 + 1e-9)) out.push(t);
    }
  return out;
}

function RibbonPlot({ r, points, lead, along, x0, x1 }: { r: Ribbon; points: Point[]; lead: number; along: (i: number) => number; x0: number; x1: number }) {
  const marks: { y: number; words: string; css?: string }[] = r.limits.map(([v, words]) => ({ y: r.y(v), words }));
  // Curves that end before the path does have their names where they end.
  const within: { x: number; y: number; words: string; css: string }[] = [];
  for (const s of r.series) {
    const last = points.map(s.band).findLastIndex((b) => b !== undefined);
    if (last < 0) continue;
    const b = s.band(points[last]!)!;
    if (s.label !== "" && last < points.length - 1) within.push({ x: along(last) + 7, y: r.y(b.most), words: s.label, css: s.css });
    else if (s.label !== "") marks.push({ y: r.y(b.most), words: s.label, css: s.css });
    else {
      const most = r.name === "Voltage" ? number(100 * b.most, 3) : number(b.most, 3);
      const least = r.name === "Voltage" ? number(100 * b.least, 3) : number(b.least, 3);
      marks.push({ y: r.y(b.most), words: most });
      if (least !== most) marks.push({ y: r.y(b.least), words: least });
    }
  }
  const inside = spread(within.map((m) => m.y), 13, 6, r.height - 2);
  const ys = spread(marks.map((m) => m.y), 14, 2, r.height + 4);
  return (
    <g>
      <text x="0" y="11" className={classes.ribbonName}>
        {r.name}
      </text>
      {r.under.map((u, i) => (
        <text key={u} x="0" y={26 + 14 * i} className={classes.under}>
          {u}
        </text>
      ))}
      <rect x={x0} y="0" width={x1 - x0} height={r.height} className={classes.sheet} />
      {r.ticks.map(([t, words]) => (
        <g key={t}>
          <line x1={x0} x2={x1} y1={r.y(t)} y2={r.y(t)} className={classes.grid} />
          <text x={x0 - 6} y={r.y(t)} textAnchor="end" dominantBaseline="central" className={classes.tickWords}>
            {words}
          </text>
        </g>
      ))}
      {r.wrong && <Wrong r={r} points={points} lead={lead} along={along} x1={x1} />}
      {r.series.map((s) => (
        <Curves key={s.label} s={s} y={r.y} points={points} lead={lead} along={along} />
      ))}
      {r.limits.map(([v]) => (
        <line key={v} x1={x0} x2={x1} y1={r.y(v)} y2={r.y(v)} className={classes.limit} />
      ))}
      {within.map((m, i) => (
        <text key={m.words} x={m.x} y={inside[i]} dominantBaseline="central" className={`${classes.mark} ${classes.halo} ${m.css}`}>
          {m.words}
        </text>
      ))}
      {marks.map((m, i) => (
        <g key={i}>
          {Math.abs(ys[i]! - m.y) > 4 && <line x1={x1 + 1} y1={m.y} x2={x1 + 7} y2={ys[i]} className={classes.leader} />}
          <text x={x1 + 9} y={ys[i]} dominantBaseline="central" className={`${classes.mark} ${m.css ?? ""}`}>
            {m.words}
          </text>
        </g>
      ))}
    </g>
  );
}

function Curves({ s, y, points, lead, along }: { s: Series; y: Scale; points: Point[]; lead: number; along: (i: number) => number }) {
  return (
    <g className={s.css}>
      {runs(points, (p) => s.band(p) !== undefined, lead).map((run) => {
        let list = points.slice(run.from, run.to + 1).map((p, i) => ({ x: along(run.from + i), ...s.band(p)! }));
        if (s.steps) {
          // A branch carries what flows into the point at its end; what leads to the start is none of the axis.
          if (run.from === lead) list = list.slice(1).flatMap((p, i) => [{ ...p, x: list[i]!.x }, p]);
          else list = list.flatMap((p, i) => (i === 0 ? [p] : [{ ...p, x: list[i - 1]!.x }, p]));
        }
        if (list.length === 1)
          return (
            <g key={run.from}>
              <circle cx={list[0]!.x} cy={y(list[0]!.most)} r="2.5" className={classes.dot} />
              <circle cx={list[0]!.x} cy={y(list[0]!.least)} r="2.5" className={classes.dot} />
            </g>
          );
        return (
          <g key={run.from}>
            <path d={area<(typeof list)[0]>().x((p) => p.x).y0((p) => y(p.least)).y1((p) => y(p.most))(list) ?? ""} className={classes.band} />
            <path d={line<(typeof list)[0]>().x((p) => p.x).y((p) => y(p.least))(list) ?? ""} className={classes.least} />
            <path d={line<(typeof list)[0]>().x((p) => p.x).y((p) => y(p.most))(list) ?? ""} className={classes.most} />
          </g>
        );
      })}
    </g>
  );
}

/** What is wrong is hatched, and said on the spot. */
function Wrong({ r, points, lead, along, x1 }: { r: Ribbon; points: Point[]; lead: number; along: (i: number) => number; x1: number }) {
  const list = runs(points, r.wrong!.holds, lead);
  const widest = list.reduce((a, b) => (along(b.to) - along(b.from) > along(a.to) - along(a.from) ? b : a), list[0] ?? { from: 0, to: 0 });
  const words = r.wrong!.words;
  const x = Math.min((along(widest.from) + along(widest.to)) / 2, x1 - words.length * 3.4);
  return (
    <g>
      {list.map((run) => (
        <rect key={run.from} x={along(run.from) - 2} y={r.height - 9} width={along(run.to) - along(run.from) + 4} height="9" fill="url(#strip-wrong)" />
      ))}
      {list.length > 0 && (
        <text x={x} y={r.height - 13} textAnchor="middle" className={classes.wrong}>
          {words}
        </text>
      )}
    </g>
  );
}

/** The values where the fault is. */
function Dots({ r, point, x }: { r: Ribbon; point: Point; x: number }) {
  return (
    <g aria-hidden="true">
      {r.series.map((s) => {
        const b = s.band(point);
        return b && <circle key={s.label} cx={x} cy={r.y(b.most)} r="3" className={`${s.css} ${classes.dot}`} />;
      })}
    </g>
  );
}

function useWidth(): [React.RefObject<HTMLDivElement | null>, number] {
  const ref = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(900);
  useLayoutEffect(() => {
    const box = ref.current!;
    const measure = () => setWidth(Math.max(480, Math.floor(box.clientWidth)));
    measure();
    const o = new ResizeObserver(measure);
    o.observe(box);
    return () => o.disconnect();
  }, []);
  return [ref, width];
}
