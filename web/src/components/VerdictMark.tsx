import type { Verdict } from "../lib/verdicts";

/** The mark of a verdict: a diamond, half a ring, a broken ring, a ring. The word stands beside it, or in its title. */
export function VerdictMark({ verdict, size = 16, label }: { verdict: Verdict | undefined; size?: number; label?: string }) {
  const color = verdict ? `var(--fw-${verdict})` : "var(--fw-muted)";
  return (
    <svg
      width={size}
      height={size}
      viewBox="0 0 16 16"
      role={label ? "img" : undefined}
      aria-label={label}
      aria-hidden={label ? undefined : true}
      style={{ flex: "none" }}
    >
      {shape(verdict, color)}
    </svg>
  );
}

function shape(verdict: Verdict | undefined, color: string) {
  switch (verdict) {
    case "fails":
      return <path d="M8 1 15 8 8 15 1 8z" fill={color} />;
    case "thin":
      return (
        <>
          <circle cx="8" cy="8" r="6" fill="none" stroke={color} strokeWidth="2" />
          <path d="M8 2a6 6 0 0 1 0 12z" fill={color} />
        </>
      );
    case "unproven":
      return <circle cx="8" cy="8" r="6" fill="none" stroke={color} strokeWidth="2" strokeDasharray="2.7 2" />;
    case "holds":
      return <circle cx="8" cy="8" r="6" fill="none" stroke={color} strokeWidth="2" />;
    default:
      return <circle cx="8" cy="8" r="2.5" fill={color} />;
  }
}
