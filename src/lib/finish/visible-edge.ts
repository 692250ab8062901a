import type { Appearance, PreparedFinish } from './appearance.ts';
import { VISIBLE_EDGE_LRV } from './pairing.ts';

/**
 * Least score of an edge: two finishes of one LRV cannot be told apart by low vision, which weighs heavily but is no veto,
 * for local codes decide. As the least desirability of any other wish.
 */
const LEAST_EDGE = 0.01;

/**
 * How well the edge between two finishes can be seen, 0.01-1: 1 from an LRV difference of `VISIBLE_EDGE_LRV` points on, in
 * proportion below (Derringer and Suich's one-sided transformation). The same either way round. Allocates nothing.
 * Source of the 30 points: guidance of BS 8300-2:2018, LRV measured per BS 8493; local codes decide.
 */
export function edgeScore(first: PreparedFinish, second: PreparedFinish): number {
  return Math.max(LEAST_EDGE, Math.min(1, Math.abs(second.lrv - first.lrv) / VISIBLE_EDGE_LRV));
}

/**
 * Whether a difference of LRVs is as large as guidance asks for. To a tenth of a point, as instruments give it and as it is
 * written: what reads 30.0 is enough.
 */
export function isEnoughForAnEdge(points: number): boolean {
  return Math.round(10 * Math.abs(points)) >= 10 * VISIBLE_EDGE_LRV;
}

/** By how much the LRV of a finish moves with L* of a colour, points of LRV per unit (CIE 15, the slope of Y over L*). */
export function lrvSlope({ lab: { L }, share }: Appearance): number {
  const f = (L + 16) / 116;
  // Below L* 8 the relation is linear: 100 / (29/3)³.
  return share * (L > 8 ? (300 * f * f) / 116 : 100 / (29 / 3) ** 3);
}

/** Standard deviation of a finish's LRV, points; its colours share their error. */
export function lrvDeviation({ colours }: PreparedFinish): number {
  // The first row of a lower triangular root has one entry: the standard deviation of L*.
  return Math.abs(colours.reduce((sum, colour) => sum + lrvSlope(colour) * colour.root[0], 0));
}
