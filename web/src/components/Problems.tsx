import type { Diagnostic } from "../api/client";
import { Go } from "../router";
import classes from "./Problems.module.css";

/** Mistakes of the files, each with its place, why it is one, and what would be right. */
export function Problems({ list, most }: { list: Diagnostic[]; most?: number }) {
  const shown = most === undefined ? list : list.slice(0, most);
  return (
    <ul className={"plain " + classes.problems}>
      {shown.map((d, i) => (
        <li key={i}>
          <Go to={{ file: d.file, at: `${d.line}:${d.column}` }} chapter="file" className="mono">
            {d.file}:{d.line}:{d.column}
          </Go>{" "}
          {d.severity === "warning" && <i>warning: </i>}
          {d.object !== "" && <b>{d.object}: </b>}
          {d.problem}
          {d.why !== "" && <span className="muted"> — {d.why}</span>}
          {d.fix !== "" && <div className={classes.fix}>{d.fix}</div>}
        </li>
      ))}
      {shown.length < list.length && (
        <li>
          <Go to={{}} chapter="file">
            {list.length - shown.length} more
          </Go>
        </li>
      )}
    </ul>
  );
}
