// Live events of one study: what changed, by whom, and when new results are there.

import { useEffect, useState } from "react";
import { useQueryClient } from "@tanstack/react-query";

export interface Changed {
  version: string;
  files: string[];
  by: "page" | "outside";
  broken: boolean;
  errors: number;
}

export interface Live {
  connected: boolean;
  changed?: Changed & { at: Date };
  millisecond?: number; // duration of the last run
}

export function useEvents(study: string): Live {
  const client = useQueryClient();
  const [live, setLive] = useState<Live>({ connected: true });
  useEffect(() => {
    const source = new EventSource(`/api/studies/${encodeURIComponent(study)}/events`);
    let version = "";
    const all = () => void client.invalidateQueries({ queryKey: ["study", study] });
    const parse = <T,>(e: Event) => JSON.parse((e as MessageEvent<string>).data) as T;
    source.addEventListener("hello", (e) => {
      const now = parse<{ version: string }>(e).version;
      if (version !== "" && now !== version) all(); // something happened while the line was down
      version = now;
      setLive((l) => (l.connected ? l : { ...l, connected: true }));
    });
    source.addEventListener("changed", (e) => {
      const c = parse<Changed>(e);
      version = c.version;
      setLive((l) => ({ ...l, connected: true, changed: { ...c, at: new Date() } }));
      void client.invalidateQueries({ queryKey: ["study", study, "state"] });
      void client.invalidateQueries({ queryKey: ["study", study, "files"] });
    });
    source.addEventListener("results", (e) => {
      const r = parse<{ duration_millisecond: number }>(e);
      setLive((l) => ({ ...l, connected: true, millisecond: r.duration_millisecond }));
      void client.invalidateQueries({ queryKey: ["study", study, "results"] });
      void client.invalidateQueries({ queryKey: ["study", study, "state"] });
    });
    source.addEventListener("doubt", () => void client.invalidateQueries({ queryKey: ["study", study, "results", "doubt"] }));
    source.onerror = () => setLive((l) => (l.connected ? { ...l, connected: false } : l));
    return () => source.close();
  }, [study, client]);
  return live;
}
