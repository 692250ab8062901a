import { CMF_1931_2DEG } from './data/observer-1931.ts';
import { C2 } from './illuminant.ts';
import type { Chromaticity, XYZ } from './tristimulus.ts';

/** Correlated colour temperature in kelvin, and the distance from the Planckian locus in CIE 1960 u, v. */
export interface ColourTemperature {
  readonly cct: number;
  /** Above 0: greener than the black body; below 0: pinker. */
  readonly duv: number;
}

/** The range in which a temperature is given, K, and the widest |Duv| at which it has a meaning (CIE 15). */
const LOWEST = 1000;
const HIGHEST = 100000;
const WIDEST_DUV = 0.05;

/** The observer's whole table, 360-830 nm by 5: the locus is not cut at the grid's ends. */
const TABLE = CMF_1931_2DEG.length / 3;
const tableWavelength = (i: number) => 360 + 5 * i;

interface LocusPoint {
  u: number;
  v: number;
  /** Derivatives by the logarithm of the temperature. */
  du: number;
  dv: number;
}

/** Point of the Planckian locus and its direction. CIE 1960 u = 4X / (X + 15Y + 3Z), v = 6Y / (same). */
function locus(kelvin: number): LocusPoint {
  let X = 0;
  let Y = 0;
  let Z = 0;
  let dX = 0;
  let dY = 0;
  let dZ = 0;
  for (let i = 0; i < TABLE; i++) {
    const wavelength = tableWavelength(i);
    const exponent = C2 / (wavelength * kelvin);
    // Scaled by the exitance at 560 nm so that no temperature overflows.
    const power = (560 / wavelength) ** 5 * (Math.expm1(C2 / (560 * kelvin)) / Math.expm1(exponent));
    // d ln M / d ln T = x e^x / (e^x - 1); the common scale does not move the chromaticity.
    const change = (power * exponent) / -Math.expm1(-exponent);
    const x = CMF_1931_2DEG[3 * i];
    const y = CMF_1931_2DEG[3 * i + 1];
    const z = CMF_1931_2DEG[3 * i + 2];
    X += power * x;
    Y += power * y;
    Z += power * z;
    dX += change * x;
    dY += change * y;
    dZ += change * z;
  }
  const sum = X + 15 * Y + 3 * Z;
  const dSum = dX + 15 * dY + 3 * dZ;
  const u = (4 * X) / sum;
  const v = (6 * Y) / sum;
  return { u, v, du: (4 * dX - u * dSum) / sum, dv: (6 * dY - v * dSum) / sum };
}

/** Table of the locus for the search: steps of 1 % in temperature, a little beyond the range at both ends. */
const STEP = Math.log(1.01);
const ROWS = Math.ceil(Math.log(HIGHEST / LOWEST) / STEP) + 5;
const rowKelvin = (i: number) => LOWEST * Math.exp((i - 2) * STEP);
let rows: Float64Array | null = null;

function locusTable(): Float64Array {
  if (rows) return rows;
  rows = new Float64Array(2 * ROWS);
  for (let i = 0; i < ROWS; i++) {
    const { u, v } = locus(rowKelvin(i));
    rows[2 * i] = u;
    rows[2 * i + 1] = v;
  }
  return rows;
}

/**
 * Correlated colour temperature and Duv of a stimulus: the nearest point of the Planckian locus in CIE 1960 u, v.
 * In: XYZ, 2 degree observer, any scale. Out: kelvin in [1000, 100000]; Duv, above 0 on the green side of the locus.
 * `null` for black, outside that range, and where |Duv| is above 0.05: CCT has no meaning there (CIE 15).
 * The nearest row of a 1 % table and the parabola through its neighbours, as Ohno does, then refined on the exact
 * locus until it no longer moves, since the parabola alone is off by up to about a kelvin at that step.
 * Locus: 2 degree observer, 360-830 nm by 5, c2 = 1.4388e-2 m K.
 * Source: Ohno 2014, LEUKOS 10(1), 47-55, doi:10.1080/15502724.2014.839020.
 */
export function cctOhno2014(xyz: XYZ): ColourTemperature | null {
  const sum = xyz.X + 15 * xyz.Y + 3 * xyz.Z;
  if (!(sum > 0) || sum === Infinity) return null;
  const u = (4 * xyz.X) / sum;
  const v = (6 * xyz.Y) / sum;

  const table = locusTable();
  let nearest = 0;
  let least = Infinity;
  for (let i = 0; i < ROWS; i++) {
    const distance = (table[2 * i] - u) ** 2 + (table[2 * i + 1] - v) ** 2;
    if (distance < least) {
      least = distance;
      nearest = i;
    }
  }
  if (nearest === 0 || nearest === ROWS - 1) return null;
  const distanceAt = (i: number) => Math.hypot(table[2 * i] - u, table[2 * i + 1] - v);
  const before = distanceAt(nearest - 1);
  const at = distanceAt(nearest);
  const after = distanceAt(nearest + 1);
  const bend = before - 2 * at + after;
  const shift = bend > 0 ? Math.min(1, Math.max(-1, (before - after) / (2 * bend))) : 0;

  // Secant steps on the component of the distance along the locus, in the logarithm of the temperature.
  const along = (logT: number) => {
    const p = locus(Math.exp(logT));
    return ((u - p.u) * p.du + (v - p.v) * p.dv) / (p.du * p.du + p.dv * p.dv);
  };
  let logT = Math.log(rowKelvin(nearest)) + shift * STEP;
  let value = along(logT);
  let next = logT + value;
  for (let i = 0; i < 30 && next !== logT; i++) {
    const nextValue = along(next);
    const slope = (nextValue - value) / (next - logT);
    const step = slope < 0 ? -nextValue / slope : nextValue;
    logT = next;
    value = nextValue;
    if (Math.abs(step) < 1e-14) break;
    // A secant thrown far off by rounding comes back within two rows.
    next = logT + Math.min(2 * STEP, Math.max(-2 * STEP, step));
  }
  const cct = Math.exp(logT);
  const p = locus(cct);
  // The locus runs from red to blue with rising temperature; its left-hand side in u, v is below it (pink).
  const side = (u - p.u) * p.dv - (v - p.v) * p.du;
  const duv = Math.hypot(u - p.u, v - p.v) * (side > 0 ? 1 : -1);
  const slack = 1e-9;
  if (!(cct >= LOWEST * (1 - slack) && cct <= HIGHEST * (1 + slack))) return null;
  if (!(Math.abs(duv) <= WIDEST_DUV * (1 + slack))) return null;
  return { cct, duv };
}

/**
 * Chromaticity (2 degrees) of a correlated colour temperature and Duv: the point of the locus, moved at a right angle
 * to it in CIE 1960 u, v.
 * Throws RangeError for a temperature outside [1000, 100000] K or |Duv| above 0.05.
 * Source: Ohno 2014, with the exact direction of the locus in place of a difference quotient.
 */
export function cctToXy(cct: number, duv: number): Chromaticity {
  if (!(cct >= LOWEST && cct <= HIGHEST)) {
    throw new RangeError(`Expected a colour temperature in [${LOWEST}, ${HIGHEST}] K, got ${cct}`);
  }
  if (!(Math.abs(duv) <= WIDEST_DUV)) {
    throw new RangeError(`Expected Duv in [-${WIDEST_DUV}, ${WIDEST_DUV}], got ${duv}`);
  }
  const p = locus(cct);
  const length = Math.hypot(p.du, p.dv);
  const u = p.u + (duv * p.dv) / length;
  const v = p.v - (duv * p.du) / length;
  const sum = 2 * u - 8 * v + 4;
  return { x: (3 * u) / sum, y: (2 * v) / sum };
}
