import { useEffect, useMemo, useRef, useState } from "react";
import { flushSync } from "react-dom";
import { TextInput } from "@mantine/core";
import { useVirtualizer } from "@tanstack/react-virtual";
import type { ChapterProps } from "..";
import { list } from "../../api/client";
import { useFaults } from "../../api/queries";
import { useKeys } from "../../app/keys";
import { inWords } from "../../lib/conditions";
import { ampere, kindInWords, number, whole } from "../../lib/format";
import { copyText } from "../../lib/copy";
import { filtered, nextOrder, orderText, parseOrder, remark, sorted, tabbed, typeOf, type Column } from "../../lib/rows";
import { Go, useAddress } from "../../router";
import classes from "./Faults.module.css";

const rowHeight = 29; // px, as in the style sheet

/** Every place, kind and condition in one table. */
export default function Faults({ study, state, condition }: ChapterProps) {
  const address = useAddress();
  const { q = "", type = "" } = address.search;
  const order = parseOrder(address.search.sort);
  const table = useFaults(study, condition);
  const all = useMemo(() => list(table.data?.rows), [table.data]);
  const types = useMemo(() => [...new Set(all.map((r) => typeOf(r.kind)))].filter((t) => t !== ""), [all]);
  const rows = useMemo(() => sorted(filtered(all, { text: q, type }), order), [all, q, type, address.search.sort]);
  const search = useRef<HTMLInputElement>(null);
  const [said, setSaid] = useState("");
  const names = list(state.conditions).map((c) => c.name);
  const query = new URLSearchParams(condition === "" ? {} : { condition }).toString();
  const download = (kind: string) => `/api/studies/${encodeURIComponent(study)}/faults.${kind}${query === "" ? "" : "?" + query}`;
  const copy = async () => {
    const ok = await copyText(tabbed(rows));
    setSaid(ok ? `${whole(rows.length)} rows copied; paste them into a spreadsheet` : "the browser did not allow copying");
  };
  useKeys([
    { key: "/", says: "search place, kind or condition", group: "faults", run: () => search.current?.focus() },
    { key: "y", says: "copy the rows for a spreadsheet", group: "faults", run: () => void copy() },
  ]);
  return (
    <>
      <div className={classes.head}>
        <h2>Fault currents</h2>
        <span className="muted">bolted faults at every bus, {inWords(names, condition)}; r.m.s., the largest phase of each</span>
      </div>
      <div className={classes.filters + " noprint"}>
        <TextInput
          ref={search}
          aria-label="search place, kind or condition"
          placeholder="place, kind or condition  ( / )"
          value={q}
          onChange={(e) => address.set({ q: e.currentTarget.value }, { replace: true })}
          onKeyDown={(e) => e.key === "Escape" && e.currentTarget.blur()}
          w="17rem"
        />
        <div role="group" aria-label="type of fault" className={classes.types}>
          {types.map((t) => (
            <button
              key={t}
              type="button"
              className={classes.type}
              aria-pressed={type === t}
              onClick={() => address.set({ type: type === t ? undefined : t }, { replace: true })}
            >
              {kindInWords(t)}
            </button>
          ))}
        </div>
        <div className={"words " + classes.deeds}>
          <button type="button" className="word" onClick={() => void copy()}>
            copy
          </button>
          <a href={download("xlsx")} download>
            XLSX
          </a>
          <a href={download("csv")} download>
            CSV
          </a>
        </div>
      </div>
      <p className="muted small" role="status">
        {said ||
          (table.data
            ? rows.length === all.length
              ? `${whole(all.length)} rows`
              : `${whole(rows.length)} of ${whole(all.length)} rows; the downloads hold all`
            : "")}
      </p>
      {table.error && <p role="alert">{table.error.message}</p>}
      {!table.data && !table.error && <p className="muted">Working it out …</p>}
      {table.data && <Rows rows={rows} order={order} one={names.length === 1} />}
    </>
  );
}

const heads: Record<Column, string> = { place: "place", kind: "kind", condition: "condition", current: "current, A", xr: "X/R" };

function Rows({ rows, order, one }: { rows: ReturnType<typeof filtered>; order: ReturnType<typeof parseOrder>; one: boolean }) {
  const address = useAddress();
  const box = useRef<HTMLDivElement>(null);
  const [printing, setPrinting] = useState(false);
  const virtual = useVirtualizer({ count: rows.length, getScrollElement: () => box.current, estimateSize: () => rowHeight, overscan: 24 });
  // On paper there is nothing to scroll: all rows, or as many as anybody would print.
  useEffect(() => {
    const on = () => flushSync(() => setPrinting(true));
    const off = () => setPrinting(false);
    window.addEventListener("beforeprint", on);
    window.addEventListener("afterprint", off);
    return () => {
      window.removeEventListener("beforeprint", on);
      window.removeEventListener("afterprint", off);
    };
  }, []);
  useEffect(() => {
    if (box.current) box.current.scrollTop = 0;
  }, [order?.by, order?.down]);
  const items = virtual.getVirtualItems();
  const from = printing ? 0 : (items[0]?.index ?? 0);
  const to = printing ? Math.min(rows.length, 3000) : (items.at(-1)?.index ?? -1) + 1;
  const above = printing ? 0 : (items[0]?.start ?? 0);
  const below = printing ? 0 : virtual.getTotalSize() - (items.at(-1)?.end ?? 0);
  const shown: Column[] = one ? ["place", "kind", "current", "xr"] : ["place", "kind", "condition", "current", "xr"];
  const sortedBy = (c: Column) => (order?.by !== c ? "none" : order.down ? "descending" : "ascending");
  return (
    <div ref={box} className={classes.box} tabIndex={0} role="group" aria-label="fault currents" data-scroll>
      <table className={"plain " + classes.table} aria-rowcount={rows.length + 1}>
        <thead>
          <tr>
            {shown.map((c) => (
              <th key={c} scope="col" className={c === "current" || c === "xr" ? "number" : undefined} aria-sort={sortedBy(c)}>
                <button
                  type="button"
                  className={classes.sort}
                  onClick={() => address.set({ sort: orderText(nextOrder(order, c)) }, { replace: true })}
                >
                  {heads[c]}
                  <span aria-hidden> {order?.by === c ? (order.down ? "↓" : "↑") : ""}</span>
                </button>
              </th>
            ))}
            <th scope="col">remark</th>
          </tr>
        </thead>
        <tbody>
          {above > 0 && <tr aria-hidden style={{ height: above }} />}
          {rows.slice(from, to).map((r, i) => (
            <tr key={from + i} aria-rowindex={from + i + 2}>
              <th scope="row">{r.place}</th>
              <td>
                {r.kind !== "" && (
                  <Go to={{ at: r.place, kind: r.kind, condition: r.condition }} chapter="strip" title="this fault as everybody sees it">
                    {kindInWords(r.kind)}
                  </Go>
                )}
              </td>
              {!one && <td>{r.condition}</td>}
              <td className="number">{r.current_ampere === undefined ? "—" : ampere(r.current_ampere)}</td>
              <td className="number">{r.x_over_r === undefined ? "—" : number(r.x_over_r, 3)}</td>
              <td className="muted">{remark(r)}</td>
            </tr>
          ))}
          {below > 0 && <tr aria-hidden style={{ height: below }} />}
        </tbody>
      </table>
    </div>
  );
}
