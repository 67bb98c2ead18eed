// Colours, light and dark. Verdicts have shapes too; the test beside this file holds contrast, and that verdicts and kinds of
// fault stay apart for eyes that miss one of the three kinds of cones.

export interface Palette {
  paper: string; // ground
  sheet: string; // tables, fields and figures
  ink: string;
  muted: string; // second words
  rule: string; // lines between things
  track: string; // ground of gauges
  accent: string;
  onAccent: string;
  fails: string;
  thin: string;
  unproven: string;
  holds: string;
  // kinds of fault, voltage and load in figures
  threePhase: string;
  lineGround: string;
  lineLine: string;
  voltage: string;
  load: string;
}

export const light: Palette = {
  paper: "#faf9f5",
  sheet: "#ffffff",
  ink: "#1b2631",
  muted: "#5d646b",
  rule: "#dcd9cf",
  track: "#ebe5d5",
  accent: "#0b6a6a",
  onAccent: "#ffffff",
  fails: "#a3240c",
  thin: "#8f6a00",
  unproven: "#5f5a9c",
  holds: "#1f5f6b",
  threePhase: "#0a5aa0",
  lineGround: "#9a3070",
  lineLine: "#7a6400",
  voltage: "#1b2631",
  load: "#2f7d4f",
};

export const dark: Palette = {
  paper: "#14181c",
  sheet: "#1a1f24",
  ink: "#e9e7e0",
  muted: "#a3abb2",
  rule: "#363d44",
  track: "#2c333a",
  accent: "#5cc9c1",
  onAccent: "#0d1a1a",
  fails: "#ff7a66",
  thin: "#ecc14e",
  unproven: "#b6aef5",
  holds: "#86cfd6",
  threePhase: "#6fb3f2",
  lineGround: "#f08cc4",
  lineLine: "#d9c25a",
  voltage: "#e9e7e0",
  load: "#7fd19b",
};

/** The colours as custom properties: --fw-paper and so on. */
export function variables(p: Palette): Record<string, string> {
  return Object.fromEntries(
    Object.entries(p).map(([k, v]) => ["--fw-" + k.replace(/[A-Z]/g, (c) => "-" + c.toLowerCase()), v]),
  );
}
