import { useState } from "react";
import { Button } from "@mantine/core";
import type { Schemas, StudyState } from "../../api/client";
import { useEdit } from "../../api/queries";
import { entryText, required, says, suggestions } from "../../lib/form";
import { path } from "../../lib/path";
import { useAddress } from "../../router";
import { tablesOf, useSchema } from "./Entry";
import { Refused } from "./Refused";
import classes from "./Map.module.css";

const plant = ["buses", "lines", "transformers", "loads", "capacitors", "switches", "breakers", "reclosers", "fuses", "current transformers", "voltage transformers", "relays"];

// Where the schema leaves a choice, what an entry usually has besides what it must have.
const usual: Record<string, string[]> = { lines: ["type"], switches: ["in", "near"], breakers: ["in", "near"], reclosers: ["in", "near"], fuses: ["in", "near"] };

/** New plant: its table, name, and what it must have. The server judges whether that is enough. */
export function Add({ study, state, items }: { study: string; state: StudyState; items: Schemas["MapItem"][] }) {
  const { set } = useAddress();
  const schema = useSchema();
  const edit = useEdit(study);
  const [table, setTable] = useState("buses");
  const [name, setName] = useState("");
  const [values, setValues] = useState<Record<string, string>>({});
  const root = schema.data;
  if (!root) return null;
  const keys = [...new Set([...required(root, table), ...(usual[table] ?? [])])];
  return (
    <form
      className={classes.form}
      aria-label="new plant"
      onSubmit={(e) => {
        e.preventDefault();
        const n = name.trim();
        edit.mutate(
          { base: state.version, what: `add ${n} to ${table}`, changes: [{ op: "insert", path: path(table, n), value: entryText(keys.map((k) => [k, values[k] ?? ""])) }] },
          { onSuccess: () => set({ thing: path(table, n) }, { replace: true }) },
        );
      }}
    >
      <h2>New plant</h2>
      <div className={classes.line}>
        <label htmlFor="new-table">goes to</label>
        <select id="new-table" value={table} onChange={(e) => setTable(e.target.value)}>
          {plant.map((t) => (
            <option key={t}>{t}</option>
          ))}
        </select>
      </div>
      <div className={classes.line}>
        <label htmlFor="new-name">name</label>
        <input id="new-name" required value={name} onChange={(e) => setName(e.target.value)} />
      </div>
      {keys.map((k) => (
        <div key={k} className={classes.line}>
          <label htmlFor={"new-" + k}>{k}</label>
          <input id={"new-" + k} list={`new-${k}-words`} value={values[k] ?? ""} onChange={(e) => setValues({ ...values, [k]: e.target.value })} />
          <datalist id={`new-${k}-words`}>
            {suggestions(root, table, k, tablesOf(items)).map((w) => (
              <option key={w} value={w} />
            ))}
          </datalist>
          <div className={classes.hint}>{says(root, table, k)}</div>
        </div>
      ))}
      {edit.error && <Refused error={edit.error} />}
      <p className={classes.line + " " + classes.pair}>
        <Button type="submit" disabled={edit.isPending}>
          add to the study
        </Button>
        <button type="button" className="word" onClick={() => set({ thing: undefined }, { replace: true })}>
          leave it
        </button>
      </p>
    </form>
  );
}
