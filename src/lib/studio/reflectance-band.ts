import { plausibleReflectance, type Lab, type Spectrum } from '#lib/colour/index.ts';

/** A reflectance worked out from a colour, 0-1, and the band that holds 95 % of the plausible ones at each wavelength. */
export interface ReflectanceBand {
  reflectance: Spectrum;
  low: Spectrum;
  high: Spectrum;
  /** CIEDE2000 to the colour asked for: above 0 where no surface can have it. */
  deltaE: number;
}

/** 95 % of a normal distribution lies within this many standard deviations. */
const REACH = 1.96;

/** What `plausibleReflectance` says of a colour, wavelength by wavelength; the band ends where a surface's does, at 0 and 1. */
export function reflectanceBand(lab: Lab): ReflectanceBand {
  const { reflectance, directions, deltaE } = plausibleReflectance(lab);
  const reach = reflectance.map((_, i) => REACH * Math.hypot(...directions.map((direction) => direction[i])));
  return {
    reflectance,
    low: reflectance.map((value, i) => Math.max(0, value - reach[i])),
    high: reflectance.map((value, i) => Math.min(1, value + reach[i])),
    deltaE,
  };
}
