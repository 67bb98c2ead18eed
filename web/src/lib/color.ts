// Colours as eyes see them, for the test of the palette.

export type Rgb = [number, number, number]; // linear light, 0 to 1

export function rgb(hex: string): Rgb {
  const part = (i: number) => {
    const c = parseInt(hex.slice(1 + 2 * i, 3 + 2 * i), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; // IEC 61966-2-1 [from memory]
  };
  return [part(0), part(1), part(2)];
}

/** Relative luminance and contrast as WCAG 2 has them [from memory]. */
export function contrast(a: string, b: string): number {
  const y = (hex: string) => {
    const [r, g, bl] = rgb(hex);
    return 0.2126 * r + 0.7152 * g + 0.0722 * bl;
  };
  const [hi, lo] = [y(a), y(b)].sort((p, q) => q - p) as [number, number];
  return (hi + 0.05) / (lo + 0.05);
}

/** What eyes see that lack the cones for long, middle or short waves: matrices of Machado, Oliveira and Fernandes, "A
 * physiologically-based model for simulation of color vision deficiency", 2009, severity 1.0 [from memory]; on linear light. */
export const eyes: Record<string, number[][]> = {
  common: [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ],
  "without long": [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  "without middle": [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  "without short": [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
};

export function seen(hex: string, eye: string): Rgb {
  const c = rgb(hex);
  return eyes[eye]!.map((row) => Math.min(1, Math.max(0, row[0]! * c[0] + row[1]! * c[1] + row[2]! * c[2]))) as Rgb;
}

/** OKLab, Ottosson 2020 [from memory]: distances in it follow what eyes tell apart; 0.02 is just to be seen side by side. */
function lab([r, g, b]: Rgb): [number, number, number] {
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return [
    0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  ];
}

export function distance(a: Rgb, b: Rgb): number {
  const [p, q] = [lab(a), lab(b)];
  return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}
