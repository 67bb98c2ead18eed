import type { ChapterProps } from "..";

export default function Supply(_: ChapterProps) {
  return <p className="muted">This chapter comes next.</p>;
}
