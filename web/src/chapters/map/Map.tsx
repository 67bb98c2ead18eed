import type { ChapterProps } from "..";

/** The map. */
export default function Map(_: ChapterProps) {
  return (
    <>
      <h2>Map</h2>
      <p className="muted">This chapter comes next.</p>
    </>
  );
}
