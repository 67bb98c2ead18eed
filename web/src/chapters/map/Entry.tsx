import { useState } from "react";
import { Button } from "@mantine/core";
import { useQuery, useQueryClient } from "@tanstack/react-query";
import { api, data, list, Refusal, type Schemas, type StudyState } from "../../api/client";
import { useEdit, useEntry, useFindings } from "../../api/queries";
import type { Schema } from "../../lib/complete";
import { count } from "../../lib/format";
import { furtherKeys, required, says, suggestions } from "../../lib/form";
import { path as pathOf } from "../../lib/path";
import { Go, useAddress } from "../../router";
import { Refused } from "./Refused";
import classes from "./Map.module.css";

export const useSchema = () => useQuery({ queryKey: ["schema"], queryFn: () => data(api.GET("/api/schema")) as Promise<Schema> });

/** Names by table, for suggestions. */
export function tablesOf(items: Schemas["MapItem"][]): Record<string, string[]> {
  const out: Record<string, string[]> = {};
  for (const i of items) (out[i.path!.split(" / ")[0]!] ??= []).push(i.name);
  return out;
}

/** One thing of the study as it is written, to be changed in place. */
export function Entry({ study, state, path, item, items }: { study: string; state: StudyState; path: string; item?: Schemas["MapItem"]; items: Schemas["MapItem"][] }) {
  const { set } = useAddress();
  const entry = useEntry(study, path);
  const schema = useSchema();
  const findings = useFindings(study);
  const edit = useEdit(study);
  const client = useQueryClient();
  const [typed, setTyped] = useState<Record<string, string>>({});
  const [wrong, setWrong] = useState<{ at: string; error: unknown }>();
  const [sure, setSure] = useState(false);
  const e = entry.data?.path === path ? entry.data : undefined;
  if (!e) return entry.error ? <p role="alert">{entry.error.message}</p> : <p className="muted">…</p>;

  const root = schema.data;
  const fields = list(e.fields);
  const keys = fields.map((f) => f.key);
  const must = root ? required(root, e.table) : [];
  const tables = tablesOf(items);
  const about = list(findings.data?.findings).filter((f) => list(f.finding.subjects).includes(e.name));
  const bus = item?.kind === "bus" ? e.name : fields.find((f) => f.key === "at" || f.key === "to")?.text;

  const make = (at: string, what: string, change: Schemas["EditChange"], then?: () => void) => {
    edit.mutate(
      { base: state.version, what, changes: [change] },
      {
        onSuccess: () => {
          setWrong(undefined);
          setTyped((t) => Object.fromEntries(Object.entries(t).filter(([k]) => k !== at)));
          then?.();
        },
        onError: (error) => {
          setWrong({ at, error });
          if (error instanceof Refusal && error.status === 409) void client.invalidateQueries({ queryKey: ["study", study] });
        },
      },
    );
  };
  const write = (key: string, now: string) => {
    const value = typed[key];
    if (value === undefined || value === now) return;
    make(key, `${e.name}: ${key} ${value}`, { op: "set", path: pathOf(e.table, e.name, key), value });
  };
  const normally = fields.find((f) => f.key === "normally")?.text ?? "closed";
  const turn = normally === "open" ? "closed" : "open";

  return (
    <section className={classes.form} aria-label={`${item?.kind ?? e.table} ${e.name}`}>
      <h2>
        <span className="muted">{item?.kind ?? e.table}</span> {e.name}
      </h2>
      <p className="words small">
        <Go to={{ findings: "open" }}>{count(about.length, "finding")}</Go>
        {bus && (
          <Go to={{ to: bus }} chapter="strip">
            strip to {bus}
          </Go>
        )}
        <Go to={{ file: e.file, at: `${e.line}:1` }} chapter="file">
          in the file
        </Go>
        <button type="button" className="word" onClick={() => set({ thing: undefined }, { replace: true })}>
          close
        </button>
      </p>
      {item?.is_open !== undefined && e.table !== "fuses" && (
        <p className={classes.line}>
          Normally {normally}.{" "}
          <Button variant="default" disabled={edit.isPending} onClick={() => make("normally", `${e.name} normally ${turn}`, { op: "set", path: pathOf(e.table, e.name, "normally"), value: turn })}>
            make it normally {turn}
          </Button>
          <span className={classes.hint}> In the study; nothing is operated.</span>
        </p>
      )}
      {[{ key: "name", text: e.name, simple: true }, ...fields].map((f, i) => {
        const id = i === 0 ? "map:name" : `map-${f.key}`;
        const at = i === 0 ? "?name" : f.key;
        const hint = i === 0 ? "Changed wherever the study speaks of it." : root ? says(root, e.table, f.key) : "";
        const words = i > 0 && root ? suggestions(root, e.table, f.key, tables) : [];
        const save = () => {
          if (i > 0) return write(f.key, f.text);
          const to = typed[at]?.trim();
          if (to && to !== e.name)
            make(at, `rename ${e.name} to ${to}`, { op: "rename", path: pathOf(e.table, e.name), value: to }, () => set({ thing: pathOf(e.table, to) }, { replace: true }));
        };
        return (
          <div key={at} className={classes.line}>
            <span className={classes.pair}>
              <label htmlFor={id}>{f.key}</label>
              {i > 0 && !must.includes(f.key) && (
                <button type="button" className="word small" aria-label={`take ${f.key} out`} onClick={() => make(at, `${e.name}: without ${f.key}`, { op: "remove", path: pathOf(e.table, e.name, f.key) })}>
                  take out
                </button>
              )}
            </span>
            {f.simple ? (
              <input
                id={id}
                value={typed[at] ?? f.text}
                list={words.length > 0 ? id + "-words" : undefined}
                aria-describedby={`${id}-hint`}
                aria-invalid={wrong?.at === at}
                autoComplete="off"
                spellCheck={false}
                onChange={(x) => setTyped({ ...typed, [at]: x.target.value })}
                onBlur={save}
                onKeyDown={(x) => {
                  if (x.key === "Enter") save();
                  else if (x.key === "Escape" && typed[at] !== undefined) {
                    x.preventDefault(); // the thing stays chosen
                    setTyped(({ [at]: _, ...rest }) => rest);
                    setWrong(undefined);
                  }
                }}
              />
            ) : (
              <div id={id} className="mono small">
                {f.text}{" "}
                <Go to={{ file: e.file, at: `${"line" in f ? f.line : e.line}:1` }} chapter="file">
                  change in the file
                </Go>
              </div>
            )}
            {words.length > 0 && (
              <datalist id={id + "-words"}>
                {words.map((w) => (
                  <option key={w} value={w} />
                ))}
              </datalist>
            )}
            <div id={`${id}-hint`} className={classes.hint}>
              {hint}
            </div>
            {wrong?.at === at && <Refused error={wrong.error} />}
          </div>
        );
      })}
      {root && <NewKey root={root} table={e.table} has={keys} tables={tables} add={(key, value) => make("?key", `${e.name}: ${key} ${value}`, { op: "set", path: pathOf(e.table, e.name, key), value })} />}
      {wrong?.at === "?key" && <Refused error={wrong.error} />}
      <p className={classes.line}>
        {!sure ? (
          <button type="button" className="word" onClick={() => setSure(true)}>
            remove {e.name} from the study
          </button>
        ) : (
          <>
            Remove {e.name}?{" "}
            <Button color="red" variant="default" onClick={() => make("?remove", `remove ${e.name}`, { op: "remove", path: pathOf(e.table, e.name) }, () => set({ thing: undefined }, { replace: true }))}>
              remove
            </Button>{" "}
            <button type="button" className="word" onClick={() => setSure(false)}>
              keep
            </button>
          </>
        )}
      </p>
      {wrong?.at === "?remove" && <Refused error={wrong.error} />}
    </section>
  );
}

function NewKey({ root, table, has, tables, add }: { root: Schema; table: string; has: string[]; tables: Record<string, string[]>; add: (key: string, value: string) => void }) {
  const [key, setKey] = useState("");
  const [value, setValue] = useState("");
  const further = furtherKeys(root, table, has);
  if (further.length === 0) return null;
  return (
    <form
      className={classes.line}
      onSubmit={(e) => {
        e.preventDefault();
        if (key && value.trim()) add(key, value.trim());
      }}
    >
      <select aria-label="key to add" value={has.includes(key) ? "" : key} onChange={(e) => (setKey(e.target.value), setValue(""))}>
        <option value="">add a key …</option>
        {further.map((o) => (
          <option key={o.label} value={o.label}>
            {o.label}
          </option>
        ))}
      </select>
      {key && !has.includes(key) && (
        <>
          <input aria-label={`value of ${key}`} list="map-new-words" value={value} onChange={(e) => setValue(e.target.value)} />
          <datalist id="map-new-words">
            {suggestions(root, table, key, tables).map((w) => (
              <option key={w} value={w} />
            ))}
          </datalist>
          <div className={classes.hint}>{says(root, table, key)}</div>
          <Button type="submit" variant="default">
            add
          </Button>
        </>
      )}
    </form>
  );
}
