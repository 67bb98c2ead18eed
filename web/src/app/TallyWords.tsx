import { VerdictMark } from "../components/VerdictMark";
import { counted, verdicts, type Tally } from "../lib/verdicts";
import { Go, useAddress } from "../router";
import classes from "./TallyWords.module.css";

/** The tally of the study, always in sight; each count opens the findings of that verdict. */
export function TallyWords({ tally, stale, open }: { tally: Tally | undefined; stale: boolean; open: boolean }) {
  const { search } = useAddress();
  return (
    <div className={classes.tally + (stale ? " stale" : "")} role="group" aria-label="findings by verdict">
      {verdicts.map((v) => {
        const here = open && search.verdict === v;
        return (
          <Go
            key={v}
            to={here ? { findings: undefined, verdict: undefined } : { findings: "open", verdict: v, finding: undefined }}
            className={classes.count}
            aria-current={here ? "true" : undefined}
          >
            <VerdictMark verdict={v} /> {tally ? counted(v, tally[v] ?? 0) : "…"}
          </Go>
        );
      })}
    </div>
  );
}
