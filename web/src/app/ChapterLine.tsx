import type { Schemas } from "../api/client";
import { VerdictMark } from "../components/VerdictMark";
import { chapters } from "../chapters";
import { counted, sum, worst, type Verdict } from "../lib/verdicts";
import { Go } from "../router";
import classes from "./ChapterLine.module.css";

/** The chapters as stops on a line, each with the worst verdict it holds. */
export function ChapterLine({ at, home, broken }: { at: string; home: Schemas["Home"] | undefined; broken: boolean }) {
  return (
    <nav className={classes.line + " noprint"} aria-label="chapters">
      <ul className="plain">
        {chapters.map((c) => {
          let verdict: Verdict | undefined;
          let words = "";
          if (c.id === "home") verdict = home && worst(home.tally);
          else if (c.id === "file") {
            if (broken) [verdict, words] = ["fails", "has mistakes"];
          } else if (home) {
            const t = sum(c.findings.map((f) => home.chapters[f] ?? {}));
            verdict = worst(t);
            if (verdict) words = counted(verdict, t[verdict] ?? 0);
          }
          return (
            <li key={c.id}>
              <Go to={{}} chapter={c.id} aria-current={c.id === at ? "page" : undefined} className={classes.stop}>
                <span className={classes.mark}>
                  <VerdictMark verdict={verdict} />
                </span>
                <span className={classes.name}>{c.title}</span>
                {words !== "" && <span className="unseen">, {words}</span>}
              </Go>
            </li>
          );
        })}
      </ul>
    </nav>
  );
}
