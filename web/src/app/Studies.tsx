import { Navigate } from "@tanstack/react-router";
import { useStudies } from "../api/queries";
import classes from "./Frame.module.css";

/** The studies that are open; where there is one, it is shown at once. */
export function Studies() {
  const studies = useStudies();
  if (studies.isPending) return <p className={classes.wait}>…</p>;
  if (studies.error) return <p className={classes.wait}>{studies.error.message}</p>;
  const all = studies.data ?? [];
  if (all.length === 1) return <Navigate to="/s/$study/$chapter" params={{ study: all[0]!.id, chapter: "home" }} replace />;
  return (
    <main className={classes.wait}>
      <h1>Studies</h1>
      <table className="plain" style={{ maxWidth: "50rem" }}>
        <thead>
          <tr>
            <th scope="col">study</th>
            <th scope="col">folder</th>
            <th scope="col">state</th>
          </tr>
        </thead>
        <tbody>
          {all.map((s) => (
            <tr key={s.id}>
              <th scope="row">
                <a href={`/s/${encodeURIComponent(s.id)}/home`}>{s.title}</a>
              </th>
              <td className="mono">
                {s.id}/{s.file}
              </td>
              <td>{s.state === "good" ? "reads well" : "has mistakes"}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </main>
  );
}
