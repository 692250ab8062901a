/** 95 % of a two-dimensional normal distribution lies within this many standard deviations. */
const REACH = Math.sqrt(5.991);

/** An ellipse: half axes in CIELAB units, and degrees by which the longer one is turned from a* towards b*. */
export interface Oval {
  readonly major: number;
  readonly minor: number;
  readonly angle: number;
}

/** Where in the a*b* plane a colour lies 19 times in 20. In: a 3×3 covariance of Lab, row-major. */
export function doubtOval(covariance: ArrayLike<number>): Oval {
  const [saa, sab, sbb] = [covariance[4], covariance[5], covariance[8]];
  const mean = (saa + sbb) / 2;
  const spread = Math.hypot((saa - sbb) / 2, sab);
  return {
    major: REACH * Math.sqrt(Math.max(0, mean + spread)),
    minor: REACH * Math.sqrt(Math.max(0, mean - spread)),
    angle: (Math.atan2(2 * sab, saa - sbb) / 2) * (180 / Math.PI),
  };
}
