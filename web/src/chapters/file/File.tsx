import type { ChapterProps } from "..";

export default function File(_: ChapterProps) {
  return <p className="muted">This chapter comes next.</p>;
}
