import { quantity } from "../lib/format";
import { marks, sense, type Judged } from "../lib/gauge";
import classes from "./Gauge.module.css";

/** A value against its limit (black bar) and target (lighter bar), with the numbers below; compact with the value alone beside it. */
export function Gauge({ of, compact = false }: { of: Judged; compact?: boolean }) {
  const m = marks(of);
  const s = sense(of);
  const word = s === "at least" ? "≥" : s === "at most" ? "≤" : "";
  if (!of.value && !of.limit) return <div className={classes.gauge}>—</div>;
  const said = [
    of.value ? quantity(of.value) : "no value",
    of.limit ? `limit ${s ?? ""} ${quantity(of.limit)}` : "",
    of.target ? `target ${s ?? ""} ${quantity(of.target)}` : "",
  ]
    .filter((t) => t !== "")
    .join(", ");
  return (
    <div className={compact ? classes.compact : classes.gauge}>
      {m && (
        <svg viewBox="0 0 160 22" className={classes.bar} role="img" aria-label={said}>
          <rect x="0" y="7" width="160" height="8" fill="var(--fw-track)" />
          <rect x="0" y="7" width={160 * m.value} height="8" fill={`var(--fw-${of.verdict})`} />
          {m.over && <path d="M148 4l6 7-6 7" fill="none" stroke="var(--fw-paper)" strokeWidth="2" />}
          {m.target !== undefined && of.target?.value !== of.limit?.value && (
            <line
              x1={at(m.target)}
              x2={at(m.target)}
              y1="3"
              y2="19"
              stroke="var(--fw-muted)"
              strokeWidth="1.5"
              strokeDasharray="3 2"
            />
          )}
          <line x1={at(m.limit)} x2={at(m.limit)} y1="1" y2="21" stroke="var(--fw-ink)" strokeWidth="2" />
        </svg>
      )}
      <div className={classes.numbers} aria-hidden={m ? true : undefined}>
        {of.value && <b>{compact ? quantity(of.value).replace(/ of rating$/, "") : quantity(of.value)}</b>}
        {of.limit && !compact && (
          <span>
            {word} {quantity(of.limit)}
          </span>
        )}
        {of.target && !compact && of.target.value !== of.limit?.value && (
          <span>
            target {word} {quantity(of.target)}
          </span>
        )}
      </div>
    </div>
  );
}

// The outermost marks stay whole.
const at = (part: number) => Math.min(Math.max(160 * part, 1), 159);
