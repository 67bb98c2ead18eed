// Questions to the server. Results hang below ["study", id, "results"], so that one event makes all of them anew.

import { keepPreviousData, QueryClient, useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { path } from "../lib/path";
import { api, data, list, Refusal, type Schemas } from "./client";

export function newQueryClient(): QueryClient {
  return new QueryClient({
    defaultOptions: { queries: { retry: false, staleTime: Infinity, refetchOnWindowFocus: false, placeholderData: keepPreviousData } },
  });
}

const results = (study: string, ...what: unknown[]) => ["study", study, "results", ...what];

export const useStudies = () => useQuery({ queryKey: ["studies"], queryFn: () => data(api.GET("/api/studies")) });

export const useStudy = (study: string) =>
  useQuery({
    queryKey: ["study", study, "state"],
    queryFn: () => data(api.GET("/api/studies/{study}", { params: { path: { study } } })),
  });

export const useHome = (study: string) =>
  useQuery({
    queryKey: results(study, "home"),
    queryFn: () => data(api.GET("/api/studies/{study}/home", { params: { path: { study } } })),
  });

/** Which datum matters: none where nobody asked yet for the files as they are. */
export const useDoubt = (study: string) =>
  useQuery({
    queryKey: results(study, "doubt"),
    queryFn: () => data(api.GET("/api/studies/{study}/doubt", { params: { path: { study } } })),
  });

/** Asks for it; an event says when it is known. */
export const useBeginDoubt = (study: string) => {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => data(api.POST("/api/studies/{study}/doubt", { params: { path: { study } } })),
    onSuccess: (d) => client.setQueryData(results(study, "doubt"), d),
  });
};

export const useFindings = (study: string, enabled = true) =>
  useQuery({
    queryKey: results(study, "findings"),
    enabled,
    queryFn: () => data(api.GET("/api/studies/{study}/findings", { params: { path: { study } } })),
  });

export const usePlaces = (study: string) =>
  useQuery({
    queryKey: results(study, "places"),
    queryFn: () => data(api.GET("/api/studies/{study}/places", { params: { path: { study } } })),
  });

export const useFaults = (study: string, condition: string) =>
  useQuery({
    queryKey: results(study, "faults", condition),
    queryFn: () => data(api.GET("/api/studies/{study}/faults", { params: { path: { study }, query: { condition } } })),
  });

export const useDuty = (study: string, condition: string) =>
  useQuery({
    queryKey: results(study, "duty", condition),
    queryFn: () => data(api.GET("/api/studies/{study}/duty", { params: { path: { study }, query: { condition } } })),
  });

export interface FaultAt {
  at: string;
  kind: string;
  resistance?: string; // with its unit, as "40 ohm"
  condition: string;
  working?: boolean;
}

/** One fault as everybody sees it; for the strip and the map. */
export const useFault = (study: string, q: FaultAt | undefined) =>
  useQuery({
    queryKey: results(study, "fault", q),
    enabled: q !== undefined,
    queryFn: () => data(api.GET("/api/studies/{study}/fault", { params: { path: { study }, query: q! } })),
  });

export interface Path {
  from?: string;
  to: string;
  between?: number;
  condition: string;
}

/** What lies along a path; for the strip. */
export const useProfile = (study: string, q: Path | undefined) =>
  useQuery({
    queryKey: results(study, "profile", q),
    enabled: q !== undefined,
    queryFn: () => data(api.GET("/api/studies/{study}/profile", { params: { path: { study }, query: q! } })),
  });

/** The one-line diagram; for the map. */
export const useMap = (study: string, condition: string) =>
  useQuery({
    queryKey: results(study, "map", condition),
    queryFn: () => data(api.GET("/api/studies/{study}/map", { params: { path: { study }, query: { condition } } })),
  });

export const useFlow = (study: string, condition: string, enabled = true) =>
  useQuery({
    queryKey: results(study, "flow", condition),
    enabled,
    queryFn: () => data(api.GET("/api/studies/{study}/flow", { params: { path: { study }, query: { condition } } })),
  });

export const useEntry = (study: string, path: string | undefined) =>
  useQuery({
    queryKey: ["study", study, "files", "entry", path],
    enabled: path !== undefined,
    queryFn: () => data(api.GET("/api/studies/{study}/entry", { params: { path: { study }, query: { path: path! } } })),
  });

/** The entries of one table of the study, as written: supply, transformers. A table that isn't there has none. */
export const useEntries = (study: string, table: string) =>
  useQuery({
    queryKey: ["study", study, "files", "entries", table],
    queryFn: async () => {
      const get = (at: string) => data(api.GET("/api/studies/{study}/entry", { params: { path: { study }, query: { path: at } } }));
      let whole;
      try {
        whole = await get(path(table));
      } catch (e) {
        if (e instanceof Refusal && e.status === 404) return [];
        throw e;
      }
      return Promise.all(list(whole.fields).map((f) => get(path(table, f.key))));
    },
  });

export const useFile = (study: string, name: string | undefined) =>
  useQuery({
    queryKey: ["study", study, "files", "text", name],
    enabled: name !== undefined,
    placeholderData: undefined, // never another file's text
    queryFn: () => data(api.GET("/api/studies/{study}/file", { params: { path: { study }, query: { name: name! } } })),
  });

export const useHistory = (study: string, name: string | undefined) =>
  useQuery({
    queryKey: ["study", study, "files", "history", name],
    enabled: name !== undefined,
    queryFn: () => data(api.GET("/api/studies/{study}/history", { params: { path: { study }, query: { name: name! } } })),
  });

export const usePast = (study: string, name: string | undefined, number: number | undefined) =>
  useQuery({
    queryKey: ["study", study, "past", name, number],
    enabled: name !== undefined && number !== undefined,
    queryFn: () =>
      data(api.GET("/api/studies/{study}/past", { params: { path: { study }, query: { name: name!, number: number! } } })),
  });

/** What changes the study answers with its new state; everything else is asked again. */
function useChange<V>(study: string, change: (v: V) => Promise<Schemas["StudyState"]>) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: change,
    onSuccess: (state) => {
      client.setQueryData(["study", study, "state"], state);
      void client.invalidateQueries({ queryKey: ["study", study], predicate: (q) => q.queryKey[2] !== "state" });
    },
  });
}

const at = (study: string) => ({ params: { path: { study } } });

export const useUndo = (study: string) =>
  useChange<void>(study, () => data(api.POST("/api/studies/{study}/undo", at(study))));

export const useRedo = (study: string) =>
  useChange<void>(study, () => data(api.POST("/api/studies/{study}/redo", at(study))));

export const useAccept = (study: string) =>
  useChange<Schemas["Acceptance"]>(study, (body) => data(api.POST("/api/studies/{study}/accept", { ...at(study), body })));

export const useWithdraw = (study: string) =>
  useChange<string>(study, (finding) =>
    data(api.POST("/api/studies/{study}/withdraw", { ...at(study), body: { finding } })),
  );

/** Changes made together, in the words that undo will show. */
export const useEdit = (study: string) =>
  useChange<Schemas["Edit"]>(study, (body) => data(api.POST("/api/studies/{study}/edit", { ...at(study), body })));

export interface FileWrite {
  name: string;
  base: string;
  text: string;
  what?: string;
}

export const usePutFile = (study: string) =>
  useChange<FileWrite>(study, ({ name, ...body }) =>
    data(api.PUT("/api/studies/{study}/file", { params: { path: { study }, query: { name } }, body })),
  );
