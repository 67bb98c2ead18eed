import { phasor, si } from "../../lib/format";
import { inOrder, type Values } from "./values";
import classes from "./Strip.module.css";

// Told apart by dash and letter.
const dashes: Record<string, string> = { B: "7 3", L2: "7 3", negative: "7 3", C: "2 3", L3: "2 3", zero: "2 3" };
const letters: Record<string, string> = { positive: "1", negative: "2", zero: "0" };
const r = 44; // of the rim

interface Tip {
  x: number;
  y: number;
  ux: number;
  uy: number;
  angle: number;
  dash: string;
  words: string;
}

/** Phasors as arrows from one point; the largest reaches the rim. */
export function Phasors({ values, unit, title }: { values: Values; unit: string; title: string }) {
  const all = inOrder(values);
  const most = Math.max(0, ...all.map(([, p]) => p.magnitude));
  const tips: Tip[] = [];
  const zero: string[] = [];
  for (const [k, p] of all) {
    const letter = letters[k] ?? k;
    const size = most > 0 ? (p.magnitude / most) * r : 0;
    if (size < 1) {
      zero.push(letter);
      continue;
    }
    const a = (p.angle_degree * Math.PI) / 180;
    const [ux, uy] = [Math.cos(a), -Math.sin(a)];
    // Arrows that fall together have one tip, with all their letters.
    const same = tips.find((t) => Math.hypot(t.x - ux * size, t.y - uy * size) < 6);
    if (same) same.words += " " + letter;
    else tips.push({ x: ux * size, y: uy * size, ux, uy, angle: p.angle_degree, dash: dashes[k] ?? "", words: letter });
  }
  return (
    <figure className={classes.phasors}>
      <svg viewBox="-66 -60 132 120" width="120" height="109" role="img" aria-label={`${title}: ${all.map(([k, p]) => `${k} ${phasor(p, unit)}`).join(", ")}`}>
        <circle r={r} className={classes.rim} />
        <path d={`M${-r} 0H${r}M0 ${-r}V${r}`} className={classes.rim} />
        {tips.map((t) => (
          <g key={t.words}>
            <line x2={t.x - 5 * t.ux} y2={t.y - 5 * t.uy} className={classes.arrow} strokeDasharray={t.dash} />
            <path d="M0 0 L-7 3 L-7 -3 Z" className={classes.tip} transform={`translate(${t.x} ${t.y}) rotate(${-t.angle})`} />
            <text x={t.x + t.ux * (7 + 3 * t.words.length)} y={t.y + t.uy * 10} dominantBaseline="central" textAnchor="middle">
              {t.words}
            </text>
          </g>
        ))}
      </svg>
      <figcaption>
        {title}
        <span className="muted">
          {most > 0 ? `rim ${si(most, unit, 3)}` : "nothing"}
          {most > 0 && zero.length > 0 && `; ${zero.join(", ")} none`}
        </span>
      </figcaption>
    </figure>
  );
}
