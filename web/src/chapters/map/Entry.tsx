import { useEffect, useMemo, useState } from "react";
import { Refusal, list, type Schemas, type StudyState } from "../../api/client";
import { useEdit, useEntry, useSchema } from "../../api/queries";
import { path as pathOf } from "../../lib/path";
import { Go } from "../../router";
import { fieldsOf, provenance, tableOf, type Field } from "./schema";
import classes from "./Map.module.css";

interface Props {
  study: string;
  state: StudyState;
  path: string;
  names: Record<string, string[]>; // of things by kind, to choose from
  onGone: () => void;
  onRenamed: (path: string) => void;
}

type Change = Schemas["EditChange"];

/** One thing of the study as it is written, and what may be written of it. Every change goes into the file at once. */
export function Entry({ study, state, path, names, onGone, onRenamed }: Props) {
  const entry = useEntry(study, path);
  const schema = useSchema();
  const edit = useEdit(study);
  const table = tableOf(path);
  const fields = useMemo(() => fieldsOf(schema.data, table), [schema.data, table]);
  const [adding, setAdding] = useState("");
  const [told, setTold] = useState<{ key: string; words: string }>();
  const [sure, setSure] = useState(false);
  useEffect(() => {
    setAdding("");
    setTold(undefined);
    setSure(false);
  }, [path]);
  if (entry.error) return <p role="alert">{entry.error.message}</p>;
  if (!entry.data || entry.data.path !== path) return <p className="muted">…</p>;
  const e = entry.data;
  const written = list(e.fields);
  const keys = [...written.map((f) => f.key), ...(adding && !written.some((f) => f.key === adding) ? [adding] : [])];

  /** Makes a change; what the server says against it is told at the field. */
  const make = async (key: string, what: string, changes: Change[]): Promise<boolean> => {
    try {
      await edit.mutateAsync({ base: state.version, what, changes });
      setTold(undefined);
      setAdding("");
      return true;
    } catch (err) {
      const r = err instanceof Refusal ? err : undefined;
      const words = r && r.errors.length > 0 ? r.errors.map((x) => refusal(x)).join(" ") : (err as Error).message;
      setTold({ key, words: r?.status === 409 ? words + " What you typed is still here; press Enter to try again." : words });
      return false;
    }
  };
  const at = (key: string) => `${path} / ${pathOf(key)}`;
  const set = (key: string, value: string) => make(key, `${key} of ${e.name}`, [{ op: "set", path: at(key), value }]);
  const device = ["breakers", "reclosers", "switches", "fuses"].includes(table);
  const isOpen = written.find((f) => f.key === "normally")?.text === "open";

  return (
    <section aria-label={`${table}: ${e.name}`} className={classes.entry}>
      <h2>{e.name}</h2>
      <p className="muted small">
        {table} ·{" "}
        <Go to={{ file: e.file, at: `${e.line}:1` }} chapter="file">
          {e.file}:{e.line}
        </Go>
        {table === "buses" && (
          <>
            {" "}
            ·{" "}
            <Go to={{ to: e.name }} chapter="strip">
              strip to here
            </Go>
          </>
        )}{" "}
        ·{" "}
        <Go to={{ findings: "open", q: e.name }}>findings</Go>
      </p>
      {device && (
        <p>
          Normally {isOpen ? "open" : "closed"}.{" "}
          <button type="button" className="word" onClick={() => void make("normally", `${isOpen ? "close" : "open"} ${e.name}`, [{ op: "set", path: at("normally"), value: isOpen ? "closed" : "open" }])}>
            {isOpen ? "close it" : "open it"}
          </button>
          <span className="muted small"> in the study; it switches nothing outside of it.</span>
        </p>
      )}
      <div className={classes.fields}>
        {keys.map((key) => {
          const f = written.find((w) => w.key === key);
          return (
            <Value
              key={path + key}
              field={fields.find((x) => x.key === key) ?? { key, says: "", refers: [], words: [], needed: false, simple: f?.simple ?? true }}
              text={f?.text ?? ""}
              fresh={!f}
              locked={f !== undefined && !f.simple}
              names={names}
              told={told?.key === key ? told.words : ""}
              onSet={(v) => set(key, v)}
              onRemove={f ? () => void make(key, `${key} of ${e.name}, taken out`, [{ op: "remove", path: at(key) }]) : () => setAdding("")}
            />
          );
        })}
      </div>
      {told && !keys.includes(told.key) && <p role="alert" className={classes.told}>{told.words}</p>}
      <div className={classes.deeds}>
        <label>
          add{" "}
          <select value="" onChange={(x) => setAdding(x.target.value)}>
            <option value="">…</option>
            {fields
              .filter((f) => f.simple && !keys.includes(f.key))
              .map((f) => (
                <option key={f.key} value={f.key}>
                  {f.key}
                </option>
              ))}
          </select>
        </label>
        <Rename
          name={e.name}
          onName={async (to) => {
            if (await make("name", `${e.name} is now ${to}`, [{ op: "rename", path, value: to }])) onRenamed(pathOf(table, to));
          }}
        />
        {sure ? (
          <span>
            Take {e.name} out of the study?{" "}
            <button
              type="button"
              className="word"
              onClick={async () => {
                if (await make("entry", `${e.name} taken out`, [{ op: "remove", path }])) onGone();
              }}
            >
              take it out
            </button>{" "}
            <button type="button" className="word" onClick={() => setSure(false)}>
              keep it
            </button>
          </span>
        ) : (
          <button type="button" className="word" onClick={() => setSure(true)}>
            take it out
          </button>
        )}
      </div>
    </section>
  );
}

/** What the server says against a change: the problem, why it is one, and what would be right. */
function refusal(x: { message?: string; value?: unknown }): string {
  const d = x.value as { why?: string; fix?: string } | undefined;
  return [x.message, d?.why && `(${d.why})`, d?.fix && `→ ${d.fix}`].filter(Boolean).join(" ") + ".";
}

function Value({
  field,
  text,
  fresh,
  locked,
  names,
  told,
  onSet,
  onRemove,
}: {
  field: Field;
  text: string;
  fresh: boolean;
  locked: boolean;
  names: Record<string, string[]>;
  told: string;
  onSet: (v: string) => Promise<boolean>;
  onRemove: () => void;
}) {
  const [typed, setTyped] = useState(text);
  useEffect(() => setTyped(text), [text]);
  const id = "field-" + field.key.replace(/[^a-z0-9]/gi, "-");
  const suggestions = field.words.length > 0 ? field.words : field.refers.flatMap((k) => names[k] ?? []);
  const submit = () => {
    if (typed.trim() !== text && typed.trim() !== "") void onSet(typed.trim());
  };
  return (
    <div className={classes.field + (provenance.includes(field.key) ? " " + classes.provenance : "")}>
      <label htmlFor={id} title={field.says}>
        {field.key}
        {field.needed ? "" : ""}
      </label>
      {locked ? (
        <output id={id} className={classes.written} title="a list or group: change it in the file">
          {text}
        </output>
      ) : (
        <input
          id={id}
          value={typed}
          autoFocus={fresh}
          aria-describedby={told ? id + "-told" : id + "-says"}
          aria-invalid={told !== ""}
          list={suggestions.length > 0 ? id + "-list" : undefined}
          onChange={(e) => setTyped(e.target.value)}
          onBlur={submit}
          onKeyDown={(e) => {
            if (e.key === "Enter") submit();
            if (e.key === "Escape") setTyped(text);
          }}
        />
      )}
      {!locked && !field.needed && (
        <button type="button" className={"word " + classes.out} aria-label={`take ${field.key} out`} onClick={onRemove}>
          out
        </button>
      )}
      {suggestions.length > 0 && (
        <datalist id={id + "-list"}>
          {suggestions.map((s) => (
            <option key={s} value={s} />
          ))}
        </datalist>
      )}
      {told ? (
        <p id={id + "-told"} role="alert" className={classes.told}>
          {told}
        </p>
      ) : (
        <p id={id + "-says"} className={classes.says}>
          {field.says}
        </p>
      )}
    </div>
  );
}

function Rename({ name, onName }: { name: string; onName: (to: string) => void }) {
  const [typed, setTyped] = useState<string>();
  if (typed === undefined)
    return (
      <button type="button" className="word" onClick={() => setTyped(name)}>
        another name
      </button>
    );
  return (
    <label>
      name{" "}
      <input
        value={typed}
        autoFocus
        size={12}
        onChange={(e) => setTyped(e.target.value)}
        onBlur={() => setTyped(undefined)}
        onKeyDown={(e) => {
          if (e.key === "Enter" && typed.trim() !== "" && typed.trim() !== name) onName(typed.trim());
          if (e.key === "Enter" || e.key === "Escape") setTyped(undefined);
        }}
      />
    </label>
  );
}
