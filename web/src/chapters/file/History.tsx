import { useState } from "react";
import { Button } from "@mantine/core";
import type { StudyState } from "../../api/client";
import { list, Refusal } from "../../api/client";
import { useFile, useHistory, usePast, usePutFile } from "../../api/queries";
import { ago, stamp, whole } from "../../lib/format";
import { Go, useAddress } from "../../router";
import { SideBySide } from "./ConflictChoice";
import classes from "./File.module.css";

/** Earlier versions of a file, each beside what is on disk now, and the way back to it. */
export function History({ study, name }: { study: string; state: StudyState; name: string }) {
  const { search, set } = useAddress();
  const history = useHistory(study, name);
  const file = useFile(study, name);
  const versions = list(history.data?.versions);
  const number = search.past ? Number(search.past) : undefined;
  const past = usePast(study, name, number);
  const put = usePutFile(study);
  const [now] = useState(() => new Date());
  const chosen = versions.find((v) => v.number === number);
  const shown = past.data?.name === name && number !== undefined ? past.data : undefined;
  const same = shown !== undefined && file.data?.version === shown.version;
  return (
    <>
      <div className={classes.bar}>
        <h2>Earlier versions of {name}</h2>
        <div className={"words " + classes.deeds}>
          <Go to={{ view: undefined, past: undefined }}>back to the text</Go>
        </div>
      </div>
      {history.error && <p role="alert">{history.error.message}</p>}
      {history.data && versions.length === 0 && <p>There are none yet: a version is kept whenever the file is written.</p>}
      <div className={classes.history}>
        <ul className={"plain " + classes.versions}>
          {versions.map((v) => (
            <li key={v.number}>
              <Go to={{ past: String(v.number) }} aria-current={v.number === number ? "true" : undefined}>
                <b>{ago(new Date(v.at), now)}</b> <span className="muted small">{stamp(new Date(v.at))}</span>
                <div>{v.what || "as found"}</div>
                <div className="muted small">{whole(v.bytes)} bytes</div>
              </Go>
            </li>
          ))}
        </ul>
        {shown && file.data && chosen && (
          <section aria-label="the version beside what is on disk">
            <div className="words" style={{ alignItems: "center", marginBottom: "0.5rem" }}>
              <Button
                disabled={same}
                loading={put.isPending}
                onClick={() =>
                  put.mutate(
                    { name, base: file.data!.version, text: shown.text, what: `restore ${name} of ${stamp(new Date(chosen.at))}` },
                    { onSuccess: () => set({ view: undefined, past: undefined }) },
                  )
                }
              >
                restore this version
              </Button>
              <span className="muted">
                {same ? "It is what is on disk." : "What is on disk now becomes an earlier version itself; undo takes it back."}
              </span>
            </div>
            {put.error && (
              <p role="alert">
                {put.error instanceof Refusal && put.error.status === 409 ? "The file has just changed; look again." : put.error.message}
              </p>
            )}
            <div className={classes.mergeHeads}>
              <span>this version</span>
              <span>on disk now</span>
            </div>
            <SideBySide key={number + file.data.version} left={shown.text} right={file.data.text} label={["this version", "on disk now"]} />
          </section>
        )}
      </div>
    </>
  );
}
