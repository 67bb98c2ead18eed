import type { ChapterProps } from "..";

/** The feeder strip. */
export default function Strip(_: ChapterProps) {
  return (
    <>
      <h2>Feeder strip</h2>
      <p className="muted">This chapter comes next.</p>
    </>
  );
}
