import { select } from "d3-selection";
import { zoom, zoomIdentity, type ZoomBehavior } from "d3-zoom";
import { useEffect, useMemo, useRef, useState } from "react";
import type { ChapterProps } from "..";
import { list, type Schemas } from "../../api/client";
import { useMap } from "../../api/queries";
import { useKeys } from "../../app/keys";
import { inWords, matching } from "../../lib/conditions";
import { useAddress } from "../../router";
import { Entry } from "./Entry";
import classes from "./Map.module.css";

type Item = Schemas["MapItem"];
const mm = 3.78; // CSS pixels

/** The whole feeder as the program lays it out; what is chosen is read and written beside it. */
export default function Map({ study, state, condition }: ChapterProps) {
  const { search, set } = useAddress();
  const all = list(state.conditions).map((c) => c.name);
  const chosen = matching(all, condition);
  // A map shows one condition: the one chosen, or the study as written.
  const one = chosen.length === 1 ? chosen[0]! : "";
  const answer = useMap(study, one);
  const map = answer.data;
  const items = useMemo(() => list(map?.items), [map]);
  const names = useMemo(() => {
    const by: Record<string, string[]> = {};
    for (const i of items) (by[i.kind] ??= []).push(i.name);
    return by;
  }, [items]);
  const at = items.find((i) => i.path !== undefined && i.path === search.path);
  const [found, setFound] = useState("");
  const field = useRef<HTMLInputElement>(null);
  const view = useView(map?.width ?? 0, map?.height ?? 0);
  const pick = (i: Item | undefined) => set({ path: i?.path });
  const show = (i: Item) => {
    pick(i);
    view.to(i);
  };
  const find = (text: string) => {
    setFound(text);
    const i = items.find((x) => `${x.kind} ${x.name}` === text || x.name === text);
    if (i) show(i);
  };
  useKeys([
    { key: "/", says: "search the map", group: "map", run: () => field.current?.focus() },
    { key: "+", says: "closer", group: "map", run: () => view.by(1.4) },
    { key: "-", says: "further", group: "map", run: () => view.by(1 / 1.4) },
    { key: "0", says: "the whole", group: "map", run: view.whole },
    { key: "ArrowLeft", says: "move the map", group: "map", run: () => view.pan(90, 0) },
    { key: "ArrowRight", says: "", group: "map", run: () => view.pan(-90, 0) },
    { key: "ArrowUp", says: "", group: "map", run: () => view.pan(0, 90) },
    { key: "ArrowDown", says: "", group: "map", run: () => view.pan(0, -90) },
  ]);
  // Once, where the address names a thing: go to it.
  const first = useRef(true);
  useEffect(() => {
    if (first.current && at && map) {
      first.current = false;
      view.to(at);
    }
  }, [at, map]);
  const save = (kind: "svg" | "png") => map && void download(map, kind, state.title);

  return (
    <>
      <div className={classes.head}>
        <h2>Map</h2>
        <span className="muted">{one === "" ? (chosen.length > 1 && condition !== "" ? `devices as normal; ${inWords(all, condition)}: choose one to see it` : "devices as they normally stand") : one}</span>
        <input
          ref={field}
          className={classes.search}
          aria-label="search the map"
          placeholder="search  ( / )"
          list="map-things"
          value={found}
          onChange={(e) => find(e.target.value)}
          onKeyDown={(e) => {
            if (e.key === "Escape") e.currentTarget.blur();
            if (e.key === "Enter") {
              const t = found.toLowerCase();
              const i = items.find((x) => x.name.toLowerCase() === t) ?? items.find((x) => `${x.kind} ${x.name}`.toLowerCase().includes(t));
              if (i) show(i);
            }
          }}
        />
        <datalist id="map-things">
          {items.map((i) => (
            <option key={i.id} value={`${i.kind} ${i.name}`} />
          ))}
        </datalist>
        <span className={"words noprint " + classes.right}>
          <button type="button" className="word" onClick={() => view.by(1.4)}>
            closer
          </button>
          <button type="button" className="word" onClick={() => view.by(1 / 1.4)}>
            further
          </button>
          <button type="button" className="word" onClick={view.whole}>
            whole
          </button>
          <button type="button" className="word" onClick={() => save("svg")}>
            SVG
          </button>
          <button type="button" className="word" onClick={() => save("png")}>
            PNG
          </button>
        </span>
      </div>
      {answer.error && <p role="alert">{answer.error.message}</p>}
      {map && (
        <div className={classes.both}>
          <div
            ref={view.box}
            className={classes.box}
            role="img"
            aria-label={`${map.width > 0 ? "One-line diagram" : "Diagram"} of ${items.length} things. The list below has them all.`}
            onClick={(e) => {
              const g = (e.target as Element).closest("g[id]");
              const i = g && items.find((x) => x.id === g.id);
              pick(i ?? nearestItem(items, view.point(e)));
            }}
          >
            <div ref={view.layer} className={classes.layer} style={{ width: map.width * mm, height: map.height * mm }}>
              <Picture svg={map.svg} />
              {at && <div className={classes.chosen} style={{ left: (at.x - 1.5) * mm, top: (at.y - 1.5) * mm, width: (at.w + 3) * mm, height: (at.h + 3) * mm }} />}
            </div>
          </div>
          <div className={classes.side}>
            {at?.path ? (
              <Entry study={study} state={state} path={at.path} names={names} onGone={() => set({ path: undefined })} onRenamed={(p) => set({ path: p })} />
            ) : (
              <p className="muted">Choose a thing on the map, by its name above, or in the list.</p>
            )}
          </div>
        </div>
      )}
      <details className={classes.list}>
        <summary>All {items.length} things as a list</summary>
        <table className="plain">
          <thead>
            <tr>
              <th scope="col">what</th>
              <th scope="col">names</th>
            </tr>
          </thead>
          <tbody>
            {Object.entries(names).map(([kind, of]) => (
              <tr key={kind}>
                <th scope="row">{kind}</th>
                <td className={classes.names}>
                  {of.map((n) => (
                    <button key={n} type="button" className="word" onClick={() => show(items.find((i) => i.kind === kind && i.name === n)!)}>
                      {n}
                    </button>
                  ))}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </details>
    </>
  );
}

/** The drawing as the server made it. It is put in once for each drawing: moving it is left to its layer. */
function Picture({ svg }: { svg: string }) {
  return <div className={classes.picture} dangerouslySetInnerHTML={{ __html: svg }} />;
}

/** The thing whose box is nearest to a place, within a few millimetres. */
function nearestItem(items: Item[], at: { x: number; y: number }): Item | undefined {
  let best: Item | undefined;
  let least = 4;
  for (const i of items) {
    const dx = Math.max(i.x - at.x, 0, at.x - i.x - i.w);
    const dy = Math.max(i.y - at.y, 0, at.y - i.y - i.h);
    const d = Math.hypot(dx, dy);
    if (d < least) [best, least] = [i, d];
  }
  return best;
}

/** Moves and scales a layer in a box: by pointer, wheel and keys. Only the layer's transform changes. */
function useView(width: number, height: number) {
  const box = useRef<HTMLDivElement>(null);
  const layer = useRef<HTMLDivElement>(null);
  const behaviour = useRef<ZoomBehavior<HTMLDivElement, unknown>>(undefined);
  const now = useRef(zoomIdentity);
  const had = useRef(false);
  const fit = () => {
    const b = box.current!;
    const k = Math.min(b.clientWidth / (width * mm), b.clientHeight / (height * mm), 2);
    // Wide enough to read: a tall diagram begins at its top.
    const readable = Math.max(k, Math.min(b.clientWidth / (width * mm), 1));
    return { whole: k, k: readable };
  };
  const put = (t: typeof zoomIdentity) => behaviour.current && select(box.current!).call(behaviour.current.transform, t);
  const at = (k: number) => zoomIdentity.translate(Math.max(0, (box.current!.clientWidth - width * mm * k) / 2), 0).scale(k);
  useEffect(() => {
    if (!box.current || !width) return;
    const z = zoom<HTMLDivElement, unknown>()
      .scaleExtent([0.05, 8])
      .on("zoom", (e) => {
        now.current = e.transform;
        if (layer.current) layer.current.style.transform = `translate(${e.transform.x}px, ${e.transform.y}px) scale(${e.transform.k})`;
      });
    behaviour.current = z;
    const s = select(box.current);
    s.call(z).on("dblclick.zoom", null);
    put(had.current ? now.current : at(fit().k));
    had.current = true;
    return () => {
      s.on(".zoom", null);
    };
  }, [width, height]);
  return {
    box,
    layer,
    whole: () => put(at(fit().whole)),
    by: (f: number) => behaviour.current && select(box.current!).call(behaviour.current.scaleBy, f),
    pan: (x: number, y: number) => behaviour.current && select(box.current!).call(behaviour.current.translateBy, x / now.current.k, y / now.current.k),
    to: (i: Item) => {
      const b = box.current;
      if (!b) return;
      const k = Math.max(now.current.k, 0.9);
      put(zoomIdentity.translate(b.clientWidth / 2 - (i.x + i.w / 2) * mm * k, b.clientHeight / 2 - (i.y + i.h / 2) * mm * k).scale(k));
    },
    point: (e: { clientX: number; clientY: number }) => {
      const r = box.current!.getBoundingClientRect();
      const [x, y] = now.current.invert([e.clientX - r.left, e.clientY - r.top]);
      return { x: x / mm, y: y / mm };
    },
  };
}

/** Saves the drawing; a PNG has 150 pixels per inch. */
async function download(map: Schemas["Map"], kind: "svg" | "png", title: string) {
  const name = title.replace(/[^A-Za-z0-9-]+/g, "-").toLowerCase() + "." + kind;
  let blob = new Blob([map.svg], { type: "image/svg+xml" });
  if (kind === "png") {
    const picture = new Image();
    picture.src = URL.createObjectURL(blob);
    await picture.decode();
    const canvas = document.createElement("canvas");
    const k = Math.min(150 / 25.4, 12000 / Math.max(map.width, map.height));
    canvas.width = Math.round(map.width * k);
    canvas.height = Math.round(map.height * k);
    const c = canvas.getContext("2d")!;
    c.fillStyle = "#fff";
    c.fillRect(0, 0, canvas.width, canvas.height);
    c.drawImage(picture, 0, 0, canvas.width, canvas.height);
    URL.revokeObjectURL(picture.src);
    blob = await new Promise<Blob>((done) => canvas.toBlob((b) => done(b!), "image/png"));
  }
  const a = document.createElement("a");
  a.href = URL.createObjectURL(blob);
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 5000);
}
