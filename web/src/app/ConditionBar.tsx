import { list, type StudyState } from "../api/client";
import { axes, choose, chosen, inWords, matching } from "../lib/conditions";
import { useAddress } from "../router";
import classes from "./ConditionBar.module.css";

// Above this many, chips would be a wall of text: a list to choose from.
const mostChips = 9;

/** The conditions as chips: one of each axis, or left open; nothing chosen is the worst of all. */
export function ConditionBar({ state, condition }: { state: StudyState; condition: string }) {
  const address = useAddress();
  const names = list(state.conditions).map((c) => c.name);
  if (names.length === 0) return null;
  const ax = axes(names);
  const now = chosen(ax, condition);
  const set = (to: string) => address.set({ condition: to });
  const found = matching(names, condition);
  const note = found.length === 1 ? list(state.conditions).find((c) => c.name === found[0])?.note : undefined;
  return (
    <section className={classes.bar} aria-label="conditions" data-conditions>
      {names.length > 1 && (
        <button type="button" className={classes.chip} aria-pressed={condition === ""} onClick={() => set("")}>
          worst of all
        </button>
      )}
      {names.length > 1 &&
        ax.map((axis, i) =>
          axis.length > mostChips ? (
            <select key={i} className={classes.select} value={now[i]} aria-label="condition" onChange={(e) => set(e.target.value)}>
              <option value="">one of {axis.length} conditions …</option>
              {axis.map((p) => (
                <option key={p}>{p}</option>
              ))}
            </select>
          ) : (
            <span key={i} className={classes.axis}>
              {axis.map((p) => (
                <button
                  key={p}
                  type="button"
                  className={classes.chip}
                  aria-pressed={now[i] === p}
                  onClick={() => set(choose(ax, names, condition, i, p))}
                >
                  {p}
                </button>
              ))}
            </span>
          ),
        )}
      <span className={classes.said} title={note}>
        {found.length === 0 ? "no condition of that name" : names.length === 1 ? `condition: ${names[0]}` : condition === "" ? `${names.length} conditions` : found.length > 1 ? `${found.length} of ${names.length} conditions` : note || "one condition"}
      </span>
      <span className="unseen" role="status">
        {inWords(names, condition)}
      </span>
    </section>
  );
}
