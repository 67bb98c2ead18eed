import { describe, expect, it } from "vitest";
import { contrast, distance, eyes, seen } from "./color";
import { dark, light, type Palette } from "./palette";

const verdicts: (keyof Palette)[] = ["fails", "thin", "unproven", "holds"];
const series: (keyof Palette)[] = ["threePhase", "lineGround", "lineLine"];

// Three times what is just to be seen side by side: this test's choice. Shape and word carry the meaning anyhow.
const apart = 0.06;

describe("the simulation", () => {
  it("leaves grey alone", () => {
    for (const eye of Object.keys(eyes)) expect(distance(seen("#808080", eye), seen("#808080", "common")), eye).toBeLessThan(0.005);
  });
  it("brings red and green together for those without middle waves", () => {
    expect(distance(seen("#c04040", "without middle"), seen("#7d7a2a", "without middle"))).toBeLessThan(
      distance(seen("#c04040", "common"), seen("#7d7a2a", "common")) / 2,
    );
  });
});

describe.each([
  ["light", light],
  ["dark", dark],
])("the %s palette", (_, p) => {
  it("has text that can be read: 4.5 to 1 (WCAG 2.2, 1.4.3 [from memory])", () => {
    for (const ground of [p.paper, p.sheet])
      for (const ink of [p.ink, p.muted, p.accent, p.fails, p.thin, p.unproven, p.holds, p.threePhase, p.lineGround, p.lineLine])
        expect(contrast(ink, ground), `${ink} on ${ground}`).toBeGreaterThanOrEqual(4.5);
    expect(contrast(p.onAccent, p.accent)).toBeGreaterThanOrEqual(4.5);
  });
  it("has marks that stand out: 3 to 1 (1.4.11)", () => {
    for (const v of verdicts) expect(contrast(p[v], p.track), v).toBeGreaterThanOrEqual(3);
  });
  for (const eye of Object.keys(eyes))
    it(`keeps verdicts and kinds of fault apart: eyes ${eye}`, () => {
      for (const group of [verdicts, series])
        for (const a of group)
          for (const b of group) if (a < b) expect(distance(seen(p[a], eye), seen(p[b], eye)), `${a} and ${b}`).toBeGreaterThan(apart);
    });
});
