import type { FinishInput, LightInput, PreparedFinish, PreparedLight } from './appearance.ts';
import type { CriterionName, LargestMovement, Movement, Nearness } from './criteria.ts';
import type { Estimate } from './evidence.ts';
import type { JudgedLrv } from './lrv.ts';
import type { Pairing } from './pairing.ts';
import type { Price } from './price.ts';

// What a ranking is asked, what it answers, and what its parts hand to each other on the way.

/** A finish that could go on the open surface. */
export interface CandidateInput extends FinishInput {
  readonly price: Price | null;
  readonly leadTimeDays: number | null;
  /** The maker's printed light reflectance value; it decides about LRV, being an instrument's, unless the colour contradicts it. */
  readonly lrv?: number | null;
}

/** Everything `rank` looks at. */
export interface RankInput {
  readonly surface: { readonly name: string };
  readonly target: Estimate | null;
  /** How sentences call the target; 'the inspiration' where absent. */
  readonly targetName?: string;
  readonly candidates: CandidateInput[];
  /** What stays; `contact` 0-1 says how much the two are seen together. */
  readonly fixed: {
    readonly finish: FinishInput;
    readonly surfaceName: string;
    readonly contact: number;
  }[];
  readonly lights: LightInput[];
  /** 0 or more each; 0 leaves a criterion out. */
  readonly weights: Readonly<Record<CriterionName, number>>;
  /** Limits exclude; wishes only count. */
  readonly limits: {
    readonly maxPrice: number | null;
    readonly maxLeadTimeDays: number | null;
    readonly minLrv: number | null;
    readonly maxLrv: number | null;
    readonly priceWish?: number | null;
    readonly timeWish?: number | null;
  };
  /** Draws of the simulation, 1-100,000; 1,000 gives shares to 1.6 points or better. */
  readonly draws: number;
  readonly seed: number;
}

/** One criterion of one candidate. */
export interface CriterionResult {
  /** 0.01-1; 1 where the criterion does not count. */
  readonly desirability: number;
  /** ΔE00, CAM16-UCS, LRV points, money, days; for pairing the desirability itself. Null without data. */
  readonly value: number | null;
  /** Whether it takes part in this candidate's desirability. */
  readonly counted: boolean;
  readonly words: string;
}

export interface RankedCandidate {
  readonly id: string;
  readonly name: string;
  /** 1 is best: by group, and inside a group by `firstShare`. */
  readonly place: number;
  /** Weighted geometric mean of the criteria at the best estimates, 0-1. */
  readonly desirability: number;
  /** Share of draws in which it is first, 0-1; a draw in which several are first is shared among them. */
  readonly firstShare: number;
  /** Index into `Ranking.groups`. */
  readonly group: number;
  readonly criteria: Readonly<Record<CriterionName, CriterionResult>>;
  /** Sentences, the weightiest first, each with its number. */
  readonly reasons: readonly string[];
  readonly doubts: readonly string[];
  readonly nearness: Nearness | null;
  /** Every fixed finish under every light, in the order given. */
  readonly pairings: readonly Pairing[];
  readonly steadiness: readonly Movement[];
  /** Light reflectance value, 0-100: the published one where it agrees with the colours, else of its colours by area. */
  readonly lrv: number;
  /** The published LRV where it contradicts the colours, to be named beside `lrv`; else null. */
  readonly disputedLrv: number | null;
}

export interface Ranking {
  /** False where no criterion counts at all: then places and shares say nothing, and all are in one group. */
  readonly ordered: boolean;
  readonly shortlist: readonly RankedCandidate[];
  readonly excluded: readonly { readonly id: string; readonly name: string; readonly reason: string }[];
  /** Ids by place; those in one group are too close to call. */
  readonly groups: readonly (readonly string[])[];
  readonly advice: readonly string[];
  /** Criteria that took no part at all, and why. */
  readonly leftOut: readonly { readonly criterion: CriterionName; readonly reason: string }[];
}

/** A candidate on its way through the ranking. */
export interface Entry {
  readonly candidate: CandidateInput;
  readonly finish: PreparedFinish;
  readonly lrv: JudgedLrv;
  readonly criteria: Record<CriterionName, CriterionResult>;
  readonly nearness: Nearness | null;
  readonly pairings: readonly Pairing[];
  readonly steadiness: readonly Movement[];
  readonly movement: LargestMovement | null;
  readonly desirability: number;
}

/** What is the same for all candidates. */
export interface Ground {
  readonly input: RankInput;
  readonly lights: readonly PreparedLight[];
  readonly fixed: readonly {
    readonly finish: PreparedFinish;
    readonly surfaceName: string;
    readonly contact: number;
  }[];
  /** Price wish that counts: the one named, else the cheapest; null where prices do not count. */
  readonly priceWish: number | null;
  readonly leftOut: ReadonlyMap<CriterionName, string>;
}
