import type { ChapterProps } from "..";

export default function Faults(_: ChapterProps) {
  return <p className="muted">This chapter comes next.</p>;
}
