import type { Schemas } from "../../api/client";
import { phasor, si } from "../../lib/format";
import classes from "./Strip.module.css";

type Values = Record<string, Schemas["PhasorJSON"]>;

// Told apart by dash and letter.
const dashes: Record<string, string> = { A: "", B: "7 3", C: "2 3", L1: "", L2: "7 3", L3: "2 3", positive: "", negative: "7 3", zero: "2 3" };
const letters: Record<string, string> = { positive: "1", negative: "2", zero: "0" };
const order = ["A", "B", "C", "L1", "L2", "L3", "N", "positive", "negative", "zero"];

export const inOrder = (v: Values) => Object.entries(v).sort(([a], [b]) => order.indexOf(a) - order.indexOf(b));

/** Phasors as arrows from one point, the largest as long as the rim is far. */
export function Phasors({ values, unit, title }: { values: Values; unit: string; title: string }) {
  const list = inOrder(values);
  const most = Math.max(...list.map(([, p]) => p.magnitude), 1e-12);
  const r = 46;
  // Arrows that fall together have one tip, with all their letters.
  const tips: { x: number; y: number; ux: number; uy: number; angle: number; dash: string; words: string }[] = [];
  for (const [k, p] of list) {
    const size = (p.magnitude / most) * r;
    if (size < 0.8) continue;
    const a = (p.angle_degree * Math.PI) / 180;
    const [ux, uy] = [Math.cos(a), -Math.sin(a)];
    const same = tips.find((t) => Math.hypot(t.x - ux * size, t.y - uy * size) < 7);
    if (same) same.words += " " + (letters[k] ?? k);
    else tips.push({ x: ux * size, y: uy * size, ux, uy, angle: p.angle_degree, dash: dashes[k] ?? "", words: letters[k] ?? k });
  }
  return (
    <figure className={classes.phasors}>
      <svg viewBox="-64 -62 128 124" width="132" height="128" role="img" aria-label={`${title}: ${list.map(([k, p]) => `${k} ${phasor(p, unit)}`).join(", ")}`}>
        <circle r={r} className={classes.rim} />
        <path d={`M${-r} 0H${r}M0 ${-r}V${r}`} className={classes.rim} />
        {tips.map((t) => (
          <g key={t.words}>
            <line x2={t.x} y2={t.y} className={classes.arrow} strokeDasharray={t.dash} />
            <path d="M0 0 L-7 3 L-7 -3 Z" className={classes.tip} transform={`translate(${t.x} ${t.y}) rotate(${-t.angle})`} />
            <text x={t.x + t.ux * 10} y={t.y + t.uy * 10} dominantBaseline="central" textAnchor="middle">
              {t.words}
            </text>
          </g>
        ))}
      </svg>
      <figcaption>
        {title}
        <span className="muted"> rim {si(most, unit, 3)}</span>
      </figcaption>
    </figure>
  );
}
