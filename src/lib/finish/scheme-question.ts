import type { Lab } from '#lib/colour/index.ts';
import type { LightInput, PreparedFinish, PreparedLight } from './appearance.ts';
import type { Estimate } from './evidence.ts';
import type { JudgedLrv } from './lrv.ts';
import type { CandidateInput } from './question.ts';
import type { SchemeCriterion } from './scheme-criteria.ts';
import type { FinishKind } from './swatch.ts';

// What a search for schemes is asked, and what its parts hand to each other on the way.

/** A finish that could be on a place of the scheme. */
export interface SchemeOption extends CandidateInput {
  readonly kind: FinishKind;
  /** How busy its pattern looks, CIELAB units (0 for a plain colour); null where nobody knows. */
  readonly busyness: number | null;
  /** Money for the whole surface, in `SchemeInput.currency`; null where it is not known. */
  readonly cost: number | null;
}

/** A surface as part of a scheme. */
export interface SchemePlace {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly state: 'fixed' | 'chosen' | 'open';
  /** Id of the only option that counts: what is fixed or chosen, or what an open surface is locked to. */
  readonly held: string | null;
  /** Id of what is considered for it at present: what a swap starts from. */
  readonly current: string | null;
  /** Id of what is on it already: it costs nothing and takes no time. What is chosen is still to be bought. */
  readonly there: string | null;
  readonly options: readonly SchemeOption[];
  readonly target: Estimate | null;
  /** What stands for this surface in an inspiration picture; pairs of places with the same picture are compared. */
  readonly inspiration: { readonly pictureId: string; readonly lab: Lab } | null;
  /** Visible area, m² or in parts; only ratios between places count. */
  readonly area: number;
  /** As in the shortlist: they exclude what is beyond them. */
  readonly limits: {
    readonly maxPrice: number | null;
    readonly maxLeadTimeDays: number | null;
    readonly minLrv: number | null;
    readonly maxLrv: number | null;
  };
}

/** Two surfaces that are seen together. */
export interface SchemeMeeting {
  /** Surface ids. */
  readonly a: string;
  readonly b: string;
  /** How much they are seen together, 0-1. */
  readonly contact: number;
  /** Whether people must see where one ends and the other begins. */
  readonly mustBeSeen: boolean;
}

/** Everything a search for schemes looks at. */
export interface SchemeInput {
  readonly places: readonly SchemePlace[];
  readonly meetings: readonly SchemeMeeting[];
  readonly lights: readonly LightInput[];
  /** 0 or more each; 0 leaves a criterion out. */
  readonly weights: Readonly<Record<SchemeCriterion, number>>;
  readonly limits: {
    /** Money for all that is still to be bought. */
    readonly budget: number | null;
    readonly readyInDays: number | null;
    /** Different metals in the room, at most. */
    readonly metals: number | null;
    /** Parts of the visible area, 0-1, that may be dark or strongly coloured. */
    readonly darkShare: number | null;
    readonly strongShare: number | null;
  };
  /** ISO 4217 code for sentences, or ''. */
  readonly currency: string;
}

/** One option of a place, made ready. */
export interface PreparedOption {
  readonly option: SchemeOption;
  readonly finish: PreparedFinish;
  readonly lrv: JudgedLrv;
  /** Its colours averaged by area. */
  readonly mean: Lab;
  /** Part of its area, 0-1, that is dark, and that is strongly coloured. */
  readonly dark: number;
  readonly strong: number;
  /** Why a limit excludes it, in sentences; null while it is in. */
  readonly excluded: string | null;
}

/** A place, made ready. */
export interface PreparedPlace {
  readonly place: SchemePlace;
  readonly options: readonly PreparedOption[];
  /** Indices into the options; -1 for none. */
  readonly held: number;
  readonly current: number;
  /** Part of the visible area of all places, 0-1. */
  readonly share: number;
}

/**
 * One desirability that counts: of a place's options (unary) or of all pairs of options of two places. The score of a
 * scheme, the ln of its overall desirability, is the sum of weight × log over all terms.
 */
export interface SchemeTerm {
  readonly criterion: SchemeCriterion;
  /** Weights of all terms add up to 1. */
  readonly weight: number;
  /** Index of the place, and of the second one or -1. */
  readonly a: number;
  readonly b: number;
  /** ln desirability, 0 or less, per option of `a`, or row-major options of `a` × options of `b`. */
  readonly logs: Float64Array;
  /** 1 where data was missing and the usual of the others stands in; null where all is known. */
  readonly assumed: Uint8Array | null;
  /** The meeting it belongs to, where it belongs to one. */
  readonly meeting: SchemeMeeting | null;
}

/** What the terms are made from. */
export interface SchemeGround {
  readonly input: SchemeInput;
  readonly lights: readonly PreparedLight[];
  readonly places: readonly PreparedPlace[];
}

/** One sentence with the number it stands on and what it is about, so that a screen can open it to its proof. */
export interface SchemeStatement {
  /** For a client, without a full stop at the end. */
  readonly sentence: string;
  /** With its unit: 'difference 2.3', '24 points of LRV', '120 EUR'. */
  readonly number: string;
  readonly about: {
    /** Surface ids. */
    readonly surfaces: readonly string[];
    /** Name of the light, where one decides. */
    readonly light: string | null;
    readonly criterion: SchemeCriterion | 'limits' | 'money' | 'look';
  };
}

/** Something about a scheme that is good, worth knowing or wrong. */
export interface SchemeFinding extends SchemeStatement {
  readonly rule: string;
  readonly severity: 'good' | 'note' | 'fault';
  /** The rule and what it is about: the same thing found in two schemes has the same key. */
  readonly key: string;
}
