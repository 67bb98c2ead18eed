// The chapters, in the order in which they stand on the line. A chapter is one entry here and one folder beside this file.

import { lazy, type ComponentType } from "react";
import type { StudyState } from "../api/client";

/** What every chapter is given. All else it keeps in the address (useAddress) or asks of the server (api/queries). */
export interface ChapterProps {
  study: string; // identity of the study
  state: StudyState;
  condition: string; // the choice of conditions, as the server takes it; "" is all of them
}

export interface Chapter {
  id: string; // in the address
  title: string;
  says: string; // what it shows, for the sheet of keys
  findings: string[]; // chapters of findings that it holds; its mark is the worst of them
  needsResults: boolean; // it shows results, which may be the last good ones
  component: ComponentType<ChapterProps>;
}

export const chapters: Chapter[] = [
  {
    id: "home",
    title: "home",
    says: "what holds and what does not",
    findings: [],
    needsResults: true,
    component: lazy(() => import("./home/Home")),
  },
  {
    id: "supply",
    title: "supply",
    says: "infeeds, transformers, duties against ratings",
    findings: ["supply", "duty"],
    needsResults: true,
    component: lazy(() => import("./supply/Supply")),
  },
  {
    id: "faults",
    title: "faults",
    says: "every place, kind and condition",
    findings: ["faults"],
    needsResults: true,
    component: lazy(() => import("./faults/Faults")),
  },
  {
    id: "strip",
    title: "feeder strip",
    says: "a path along its distance: faults, voltage, load",
    findings: ["flow"],
    needsResults: true,
    component: lazy(() => import("./strip/Strip")),
  },
  {
    id: "map",
    title: "map",
    says: "the whole feeder, and editing in place",
    findings: ["network"],
    needsResults: true,
    component: lazy(() => import("./map/Map")),
  },
  {
    id: "file",
    title: "study file",
    says: "the text itself, and its earlier versions",
    findings: [],
    needsResults: false,
    component: lazy(() => import("./file/File")),
  },
];

/** The stop at which findings of a chapter are shown. */
export function stopOf(findingChapter: string): Chapter | undefined {
  return chapters.find((c) => c.findings.includes(findingChapter));
}
