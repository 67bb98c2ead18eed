import { list, type Step } from "../api/client";
import classes from "./Working.module.css";

/** The steps behind a number: symbol, formula, values put in, result, and what each rests on. */
export function Working({ steps }: { steps: Step[] | null | undefined }) {
  const all = list(steps);
  if (all.length === 0) return <p className="muted">No working is given for this number.</p>;
  return (
    <ol className={classes.working}>
      {all.map((s, i) => (
        <li key={i}>
          {s.meaning && <div className={classes.meaning}>{s.meaning}</div>}
          <div className={classes.formula}>
            <span className={classes.symbol}>{s.symbol}</span>
            {s.formula && <span>= {s.formula}</span>}
            {s.values && <span>= {s.values}</span>}
            {s.result && (
              <b>
                = {s.result} {s.unit}
              </b>
            )}
          </div>
          {s.basis && <div className={classes.basis}>{s.basis}</div>}
        </li>
      ))}
    </ol>
  );
}
