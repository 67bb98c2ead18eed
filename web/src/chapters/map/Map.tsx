import { useEffect, useMemo, useRef, useState } from "react";
import { Button } from "@mantine/core";
import { select } from "d3-selection";
import { zoom, zoomIdentity, type ZoomBehavior } from "d3-zoom";
import type { ChapterProps } from "..";
import { list, type Schemas } from "../../api/client";
import { useMap } from "../../api/queries";
import { useKeys } from "../../app/keys";
import { count } from "../../lib/format";
import { useAddress } from "../../router";
import { Add } from "./Add";
import { Entry } from "./Entry";
import classes from "./Map.module.css";

type Item = Schemas["MapItem"];

const scale = 4; // pixels a millimetre of the drawing, at zoom 1

/** The whole feeder as the program lays it out, a list of everything on it, and the chosen thing's form. */
export default function Map({ study, state, condition }: ChapterProps) {
  const { search, set } = useAddress();
  const map = useMap(study, condition);
  const items = useMemo(() => list(map.data?.items).filter((i) => i.path), [map.data]);
  const [word, setWord] = useState("");
  const [asked, setAsked] = useState<string>(); // the thing to bring into sight
  const field = useRef<HTMLInputElement>(null);
  const chosen = items.find((i) => i.path === search.thing);
  const choose = (i: Item | undefined) => set({ thing: i?.path }, { replace: true });
  const shown = items.filter((i) => `${i.kind} ${i.name}`.toLowerCase().includes(word.toLowerCase()));
  useKeys([
    { key: "/", says: "search by name", group: "map", run: () => field.current?.focus() },
    { key: "Escape", says: "let the chosen thing go", group: "map", run: () => choose(undefined) },
  ]);
  if (!map.data) return <p className={map.error ? "" : "muted"}>{map.error ? map.error.message : "Drawing the map …"}</p>;
  return (
    <div className={classes.chapter}>
      <Figure map={map.data} items={items} chosen={chosen} asked={asked} choose={choose} />
      <div className={classes.side + " noprint"}>
        {search.thing && search.thing !== "new" && <Entry key={search.thing} study={study} state={state} path={search.thing} item={chosen} items={items} />}
        {search.thing === "new" && <Add study={study} state={state} items={items} />}
        <section aria-label="all things">
          <div className={classes.find}>
            <input
              ref={field}
              type="search"
              aria-label="search by name or kind"
              placeholder="name or kind  /"
              value={word}
              onChange={(e) => setWord(e.target.value)}
              onKeyDown={(e) => {
                if (e.key === "Enter" && shown[0]) {
                  choose(shown[0]);
                  setAsked(shown[0].path);
                } else if (e.key === "Escape") field.current?.blur();
              }}
            />
            <span className="muted">{count(shown.length, "thing")}</span>
            {search.thing !== "new" && (
              <Button variant="default" onClick={() => set({ thing: "new" }, { replace: true })}>
                add plant
              </Button>
            )}
          </div>
          <div className={classes.list} tabIndex={0} role="region" aria-label="things on the map">
            <table className="plain">
              <thead>
                <tr>
                  <th scope="col">name</th>
                  <th scope="col">kind</th>
                  <th scope="col">stands</th>
                </tr>
              </thead>
              <tbody>
                {shown.map((i) => (
                  <tr key={i.path} className={i === chosen ? classes.row : undefined}>
                    <th scope="row">
                      <button
                        type="button"
                        className="word"
                        aria-pressed={i === chosen}
                        onClick={() => {
                          choose(i);
                          setAsked(i.path);
                        }}
                      >
                        {i.name}
                      </button>
                    </th>
                    <td>{i.kind}</td>
                    <td>{stands(i)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </section>
      </div>
    </div>
  );
}

/** How a thing stands, in words. */
export function stands(i: Item): string {
  return [i.is_open === undefined ? "" : i.is_open ? "open" : "closed", i.is_dead ? (i.is_open ? "a dead side" : "dead") : ""].filter((s) => s !== "").join(", ");
}

function Figure({ map, items, chosen, asked, choose }: { map: Schemas["Map"]; items: Item[]; chosen?: Item; asked?: string; choose: (i: Item) => void }) {
  const box = useRef<HTMLDivElement>(null);
  const layer = useRef<HTMLDivElement>(null);
  const behaviour = useRef<ZoomBehavior<HTMLDivElement, unknown>>(undefined);
  const [w, h] = [map.width * scale, map.height * scale];

  const fit = () => {
    const r = box.current!.getBoundingClientRect();
    const k = Math.min(r.width / w, r.height / h, 2) * 0.98;
    select(box.current!).call(behaviour.current!.transform, zoomIdentity.translate((r.width - w * k) / 2, (r.height - h * k) / 2).scale(k));
  };
  const by = (k: number) => select(box.current!).call(behaviour.current!.scaleBy, k);
  const pan = (x: number, y: number) => select(box.current!).call(behaviour.current!.translateBy, x, y);

  useEffect(() => {
    const z = zoom<HTMLDivElement, unknown>()
      .scaleExtent([0.02, 8])
      .on("start", () => layer.current!.classList.add(classes.moving!))
      .on("zoom", (e) => {
        layer.current!.style.transform = `translate(${e.transform.x}px,${e.transform.y}px) scale(${e.transform.k})`;
        layer.current!.classList.toggle(classes.overview!, e.transform.k < 0.3);
      })
      // Sharp again when the hand rests: a layer of its own is moved as a picture.
      .on("end", () => layer.current!.classList.remove(classes.moving!));
    behaviour.current = z;
    select(box.current!).call(z).on("dblclick.zoom", null);
    const at = box.current!;
    let untouched = true; // as long as nobody moved it, the whole feeder stays in sight
    z.on("start.hand", (e) => (untouched = untouched && !e.sourceEvent));
    const seen = new ResizeObserver(() => untouched && fit());
    seen.observe(at);
    return () => {
      seen.disconnect();
      select(at).on(".zoom", null);
    };
    // eslint-disable-next-line react-hooks/exhaustive-deps
  }, []);

  // The name of a thing that was chosen in the list: bring it to the middle.
  useEffect(() => {
    if (!chosen || chosen.path !== asked) return;
    const r = box.current!.getBoundingClientRect();
    const k = 1;
    const [x, y] = [(chosen.x + chosen.w / 2) * scale, (chosen.y + chosen.h / 2) * scale];
    select(box.current!).call(behaviour.current!.transform, zoomIdentity.translate(r.width / 2 - x * k, r.height / 2 - y * k).scale(k));
    // eslint-disable-next-line react-hooks/exhaustive-deps
  }, [asked, chosen?.path]);

  const step = 80;
  useKeys([
    { key: "+", says: "nearer", group: "map", run: () => by(1.3) },
    { key: "-", says: "farther", group: "map", run: () => by(1 / 1.3) },
    { key: "0", says: "the whole feeder", group: "map", run: fit },
    { key: "ArrowLeft", says: "move to the left", group: "map", run: () => pan(step, 0) },
    { key: "ArrowRight", says: "move to the right", group: "map", run: () => pan(-step, 0) },
    { key: "ArrowUp", says: "move up", group: "map", run: () => pan(0, step) },
    { key: "ArrowDown", says: "move down", group: "map", run: () => pan(0, -step) },
  ]);

  const html = useMemo(() => ({ __html: map.svg }), [map.svg]);
  return (
    <figure className={classes.figure}>
      <div
        ref={box}
        className={classes.box}
        onClick={(e) => {
          const g = (e.target as Element).closest("g[id]");
          const i = g && items.find((x) => x.id === g.id);
          if (i) choose(i);
        }}
      >
        <div ref={layer} className={classes.layer} style={{ width: w, height: h }}>
          <div className={classes.drawing} dangerouslySetInnerHTML={html} />
          {chosen && (
            <div
              className={classes.chosen}
              style={{ left: (chosen.x - 1.5) * scale, top: (chosen.y - 1.5) * scale, width: (chosen.w + 3) * scale, height: (chosen.h + 3) * scale }}
            />
          )}
        </div>
      </div>
      <figcaption className={classes.caption}>
        <span>
          {map.condition ? map.condition : "as written, everything in its normal position"}. <span className="muted">Dashed and thin: no source reaches it. Crossed out: out of service.</span>
        </span>
        <span className="words noprint">
          <button type="button" className="word" onClick={fit}>
            whole feeder
          </button>
          <button type="button" className="word" onClick={() => save(new Blob([map.svg], { type: "image/svg+xml" }), "map.svg")}>
            save as SVG
          </button>
          <button type="button" className="word" onClick={() => void png(map)}>
            save as PNG
          </button>
        </span>
      </figcaption>
    </figure>
  );
}

function save(what: Blob, name: string) {
  const a = document.createElement("a");
  a.href = URL.createObjectURL(what);
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 10_000);
}

/** The drawing as a picture of 12 pixels a millimetre, or as many as a browser can hold. */
async function png(map: Schemas["Map"]) {
  const image = new Image();
  image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(map.svg);
  await image.decode();
  const k = Math.min(12, 8000 / map.width, 8000 / map.height);
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(map.width * k);
  canvas.height = Math.round(map.height * k);
  canvas.getContext("2d")!.drawImage(image, 0, 0, canvas.width, canvas.height);
  canvas.toBlob((b) => b && save(b, "map.png"));
}
