import { describe, expect, it } from "vitest";
import { marks, sense } from "./gauge";

const q = (value: number) => ({ value, unit: "%" });

describe("a gauge", () => {
  it("sees from the target which way is good", () => {
    expect(sense({ verdict: "holds", value: q(51), limit: q(100), target: q(90) })).toBe("at most");
    expect(sense({ verdict: "fails", value: q(79), limit: q(90), target: q(95) })).toBe("at least");
  });
  it("sees it from what the finding says, or from the verdict", () => {
    expect(sense({ verdict: "holds", value: q(1), limit: q(2), worse: "smaller" })).toBe("at least");
    expect(sense({ verdict: "holds", value: q(1), limit: q(2), worse: "away" })).toBe("at most");
    expect(sense({ verdict: "fails", value: q(65), limit: q(100) })).toBe("at least");
    expect(sense({ verdict: "fails", value: q(120), limit: q(100) })).toBe("at most");
    expect(sense({ verdict: "holds", value: q(120), limit: q(100) })).toBe("at least");
    expect(sense({ verdict: "unproven", limit: q(100) })).toBeUndefined();
    expect(sense({ verdict: "unproven", value: q(1) })).toBeUndefined();
  });
  it("keeps everything on the scale, and says where the value does not fit", () => {
    const m = marks({ verdict: "holds", value: q(50), limit: q(100), target: q(90) })!;
    expect(m.value).toBeCloseTo(0.4);
    expect(m.limit).toBeCloseTo(0.8);
    expect(m.target).toBeCloseTo(0.72);
    expect(m.over).toBe(false);
    const far = marks({ verdict: "fails", value: q(1000), limit: q(100) })!;
    expect(far.value).toBe(1);
    expect(far.over).toBe(true);
    expect(far.limit).toBeCloseTo(0.5);
    expect(marks({ verdict: "unproven" })).toBeUndefined();
  });
});
