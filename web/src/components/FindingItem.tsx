import { useState } from "react";
import { Button, Textarea, TextInput } from "@mantine/core";
import { list, type Finding } from "../api/client";
import { useAccept, useWithdraw } from "../api/queries";
import { chapters, stopOf } from "../chapters";
import { parsePlace } from "../lib/address";
import { quantity } from "../lib/format";
import { isVerdict } from "../lib/verdicts";
import { Go, useAddress } from "../router";
import { Gauge } from "./Gauge";
import { VerdictMark } from "./VerdictMark";
import { Working } from "./Working";
import classes from "./FindingItem.module.css";

/** A finding: the sentence, the numbers, the cure; its working, its cause and its acceptance one step away. */
export function FindingItem({ study, of, narrow = false }: { study: string; of: Finding; narrow?: boolean }) {
  const f = of.finding;
  const address = useAddress();
  const open = address.search.finding === of.id;
  const working = open && address.search.working !== undefined;
  const [accepting, setAccepting] = useState(false);
  const verdict = isVerdict(f.verdict) ? f.verdict : undefined;
  const place = f.source ? parsePlace(f.source) : undefined;
  const stop = stopOf(f.chapter);
  return (
    <article className={classes.finding + (narrow ? " " + classes.narrow : "")} aria-label={f.title}>
      <div className={classes.verdict}>
        <VerdictMark verdict={verdict} size={18} />
        <b style={{ color: `var(--fw-${f.verdict})` }}>{f.verdict}</b>
      </div>
      <div className={classes.words}>
        <h3>{f.title}</h3>
        {f.verdict === "unproven" && list(f.missing).length > 0 && <p>Needed: {list(f.missing).join("; ")}.</p>}
        {(f.condition || f.place || f.fault) && (
          <p className="muted">
            {[f.fault, f.place && `at ${f.place}`, f.condition && `in ${f.condition}`].filter(Boolean).join(" ")}
          </p>
        )}
        {open && f.explanation && <p>{f.explanation}</p>}
        {f.cure && f.verdict !== "holds" && <p className={classes.cure}>Cure: {f.cure}</p>}
        {of.is_accepted && f.accepted && (
          <p>
            <b>{of.is_reopened ? "Accepted, and open again" : "Accepted"}</b> by {f.accepted.by}, {f.accepted.date}:{" "}
            {f.accepted.reason}
          </p>
        )}
        {!of.is_accepted && f.accepted?.reopened && (
          <p>
            <b>Open again:</b> {f.accepted.reopened} It was accepted by {f.accepted.by}, {f.accepted.date}: {f.accepted.reason}
          </p>
        )}
        {open && f.basis && <p className="muted small">Basis: {f.basis}</p>}
        <div className={"words noprint " + classes.links}>
          <button
            type="button"
            className="word"
            aria-expanded={working}
            onClick={() => address.set(working ? { finding: undefined, working: undefined } : { finding: of.id, working: "1" }, { replace: true })}
          >
            working
          </button>
          {place && (
            <Go to={{ file: place.file, at: `${place.line}:${place.column}` }} chapter="file">
              {f.verdict === "unproven" ? "enter the value" : "cause"}{" "}
              <span className="muted">
                {place.file}:{place.line}
              </span>
            </Go>
          )}
          {stop && stop.id !== address.chapter && (
            <Go to={f.condition ? { condition: f.condition } : {}} chapter={stop.id}>
              {chapters.find((c) => c.id === stop.id)?.title}
            </Go>
          )}
          {f.verdict !== "holds" && !of.is_accepted && !accepting && (
            <button type="button" className="word" onClick={() => setAccepting(true)}>
              accept …
            </button>
          )}
          {f.accepted && <Withdraw study={study} id={of.id} />}
        </div>
        {working && <Working steps={f.working} />}
        {accepting && <Accept study={study} id={of.id} title={f.title} close={() => setAccepting(false)} />}
      </div>
      <div className={classes.gauge}>
        {f.value || f.limit ? <Gauge of={f} /> : <span className="muted">{f.verdict === "unproven" ? "no value" : ""}</span>}
      </div>
    </article>
  );
}

/** Accepting a finding: why it may stand, and who says so. */
function Accept({ study, id, title, close }: { study: string; id: string; title: string; close: () => void }) {
  const accept = useAccept(study);
  const [reason, setReason] = useState("");
  const [by, setBy] = useState(() => localStorage.getItem("feederwright.initials") ?? "");
  const ready = reason.trim() !== "" && by.trim() !== "";
  return (
    <form
      className={classes.accept}
      aria-label={"accept: " + title}
      onSubmit={(e) => {
        e.preventDefault();
        if (!ready) return;
        localStorage.setItem("feederwright.initials", by.trim());
        accept.mutate({ finding: id, reason: reason.trim(), by: by.trim() }, { onSuccess: close });
      }}
      onKeyDown={(e) => {
        if (e.key === "Escape") {
          e.stopPropagation();
          close();
        }
      }}
    >
      <Textarea label="why it may stand" required withAsterisk={false} value={reason} onChange={(e) => setReason(e.currentTarget.value)} autosize minRows={2} data-autofocus autoFocus />
      <TextInput label="initials" required withAsterisk={false} value={by} maxLength={40} onChange={(e) => setBy(e.currentTarget.value)} w="8rem" />
      <p className="muted small">
        It stays on the list and in the dossier as accepted, and opens again when its number gets worse. Acceptance is the judgement of the
        person who signs, not of the program.
      </p>
      {accept.error && <p role="alert">{accept.error.message}</p>}
      <div className="words">
        <Button type="submit" disabled={!ready} loading={accept.isPending}>
          accept
        </Button>
        <Button variant="default" onClick={close}>
          cancel
        </Button>
      </div>
    </form>
  );
}

function Withdraw({ study, id }: { study: string; id: string }) {
  const withdraw = useWithdraw(study);
  return (
    <>
      <button type="button" className="word" disabled={withdraw.isPending} onClick={() => withdraw.mutate(id)}>
        withdraw acceptance
      </button>
      {withdraw.error && <span role="alert">{withdraw.error.message}</span>}
    </>
  );
}

/** A finding in one line, for lists of those that hold. */
export function FindingLine({ of }: { of: Finding }) {
  const f = of.finding;
  return (
    <>
      {f.title}
      {f.value && <span className="muted"> {quantity(f.value)}</span>}
    </>
  );
}
