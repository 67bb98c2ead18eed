import { Refusal, type Diagnostic } from "../../api/client";
import classes from "./Map.module.css";

/** What the server has against an edit: what is wrong, where, why, and what would be right. */
export function Refused({ error, id }: { error: unknown; id?: string }) {
  const e = error as Refusal;
  const found = e instanceof Refusal ? e.errors.map((x) => x.value).filter((v): v is Diagnostic => typeof v === "object" && v !== null && "problem" in v) : [];
  return (
    <div className={classes.refusal} role="alert" id={id}>
      {e instanceof Refusal && e.status === 409 && "Somebody else changed the study meanwhile. What you typed stands here still; look at the rest, and press Enter again. "}
      {found.length === 0 && e.message}
      {found.map((d, i) => (
        <p key={i}>
          <b>{d.object}</b> {d.problem} <span className="muted">({d.file}:{d.line}:{d.column})</span>
          {d.why && ` — ${d.why}`} {d.fix && <i>{d.fix}</i>}
        </p>
      ))}
    </div>
  );
}
