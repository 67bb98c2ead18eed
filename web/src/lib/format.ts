// How numbers are written. The server sends full precision in SI units; here is said which digits mean something.
// These are spellings of what the server says, not engineering: nothing here changes a value but by a power of ten.

/** A number and its unit, as the server sends it. */
export interface Quantity {
  value: number;
  unit: string;
}

/** Writes x with so many significant digits, without an exponent and without a sign for nothing. */
export function number(x: number, digits = 4): string {
  if (Number.isNaN(x)) return "not defined";
  if (!Number.isFinite(x)) return x > 0 ? "infinite" : "−infinite";
  if (x === 0) return "0";
  let decimals = Math.max(digits - 1 - Math.floor(Math.log10(Math.abs(x))), 0);
  // 9.9996 rounds to 10.00: one digit more before the point, so one less behind it.
  const rounded = Math.abs(Number(x.toFixed(Math.min(decimals, 100))));
  if (rounded > 0) decimals = Math.min(decimals, Math.max(digits - 1 - Math.floor(Math.log10(rounded)), 0));
  return minus(x.toFixed(Math.min(decimals, 100)));
}

/** Writes x with thousands apart, as in 12,470. */
export function grouped(x: number, digits = 4): string {
  const [whole = "", part] = number(x, digits).split(".");
  const apart = whole.replace(/\B(?=(\d{3})+(?!\d))/g, ",");
  return part === undefined ? apart : apart + "." + part;
}

/** A count, with thousands apart. */
export function whole(n: number): string {
  return String(Math.round(n)).replace(/\B(?=(\d{3})+(?!\d))/g, ",");
}

function minus(text: string): string {
  return text.replace("-", "−");
}

/** Writes a quantity as the server's text output does. */
export function quantity(q: Quantity): string {
  const { value: x, unit } = q;
  let text: string;
  if (x === Math.trunc(x) && Math.abs(x) < 1e6) text = minus(String(x));
  else if (Math.abs(x) < 1e-4) text = minus(x.toExponential(1));
  else text = number(x, 4);
  return (text + nbsp + unit).trim();
}

const nbsp = "\u00a0"; // keeps a unit on the line of its number

const prefixes: [number, string][] = [
  [1e9, "G"],
  [1e6, "M"],
  [1e3, "k"],
  [1, ""],
  [1e-3, "m"],
];

/** Writes an SI value with the prefix that fits it: 11400 A is 11.40 kA, and amperes stay amperes below 10 kA. */
export function si(x: number, unit: string, digits = 4): string {
  if (x === 0) return "0" + nbsp + unit;
  if (unit === "A" && Math.abs(x) >= 1 && Math.abs(x) < 9999.5) return grouped(x, digits) + nbsp + unit;
  const size = Math.abs(x);
  const [factor, prefix] = prefixes.find(([f]) => size >= f * 0.99995) ?? [1, ""];
  return number(x / factor, digits) + nbsp + prefix + unit;
}

/** A column of amperes: whole from 1000 on, four digits below. */
export function ampere(x: number): string {
  return grouped(x, 4);
}

/** Writes R + jX. */
export function complex(z: { re: number; im: number }, digits = 4): string {
  const size = Math.hypot(z.re, z.im);
  if (size === 0) return "0";
  const decimals = Math.max(digits - 1 - Math.floor(Math.log10(size)), 0);
  const sign = z.im < 0 ? "−" : "+";
  return minus(z.re.toFixed(decimals)) + " " + sign + " j" + Math.abs(z.im).toFixed(decimals);
}

/** Writes magnitude and angle: 890 A ∠ −67.2°. */
export function phasor(p: { magnitude: number; angle_degree: number }, unit: string, digits = 4): string {
  if (p.magnitude === 0) return "0" + nbsp + unit;
  return si(p.magnitude, unit, digits) + " ∠" + nbsp + minus(p.angle_degree.toFixed(1)) + "°";
}

/** "1 finding", "2 findings". */
export function count(n: number, one: string, many = one + "s"): string {
  return `${n} ${n === 1 ? one : many}`;
}

/** Time since a moment, in words that need no clock beside them. */
export function ago(then: Date, now: Date): string {
  const s = Math.max(0, Math.round((now.getTime() - then.getTime()) / 1000));
  if (s < 45) return "just now";
  const m = Math.round(s / 60);
  if (m < 60) return count(m, "minute") + " ago";
  const h = Math.round(m / 60);
  if (h < 24) return count(h, "hour") + " ago";
  return count(Math.round(h / 24), "day") + " ago";
}

/** Day and time, year first: 2026-03-02 14:05, in the time of this machine. */
export function stamp(t: Date): string {
  const two = (n: number) => String(n).padStart(2, "0");
  return `${t.getFullYear()}-${two(t.getMonth() + 1)}-${two(t.getDate())} ${two(t.getHours())}:${two(t.getMinutes())}`;
}

/** A kind of fault in words: lg:A is "line-ground A". */
export function kindInWords(kind: string): string {
  const [type = "", phases] = kind.split(":");
  const words: Record<string, string> = {
    "3ph": "three-phase",
    "3ph-g": "three-phase-ground",
    ll: "line-line",
    "ll-g": "line-line-ground",
    lg: "line-ground",
  };
  return (words[type] ?? type) + (phases ? " " + phases : "");
}
