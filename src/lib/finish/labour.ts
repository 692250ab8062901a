/**
 * What work on a surface takes and how long paint dries where neither product nor user says: hours of one person, elapsed
 * hours of drying. All of it common practice, no published source: the user's own hours and the product's data count first.
 */

/** Hours of one person for each m² of a surface worked in place, or each door of a room with its frame; coats one by one. */
export interface InPlaceLabour {
  readonly clean: number;
  /** Filling and sanding. */
  readonly sand: number;
  readonly dustOff: number;
  readonly prime: number;
  readonly coat: number;
}

export const IN_PLACE_LABOUR = {
  'paint ceiling': { clean: 0.03, sand: 0.05, dustOff: 0.01, prime: 0.1, coat: 0.1 },
  'paint walls': { clean: 0.03, sand: 0.05, dustOff: 0.01, prime: 0.08, coat: 0.08 },
  'paint cabinets': { clean: 0.15, sand: 0.25, dustOff: 0.05, prime: 0.3, coat: 0.3 },
  'paint trim': { clean: 0.15, sand: 0.25, dustOff: 0.05, prime: 0.5, coat: 0.5 },
  'paint doors': { clean: 0.25, sand: 0.5, dustOff: 0.1, prime: 0.75, coat: 0.75 },
} as const satisfies Readonly<Record<string, InPlaceLabour>>;

/** Hours of one person for each cabinet door or drawer front; coats for each side. */
export const FRONT_LABOUR = {
  takeOff: 0.125,
  clean: 0.125,
  /** Old holes filled and new ones drilled. */
  holes: 0.25,
  sand: 0.25,
  dustOff: 0.0625,
  turn: 0.03125,
  /** Between coats, with dusting off. */
  sandLightly: 0.0625,
  prime: 0.125,
  coat: 0.125,
  hang: 0.25,
} as const;

/** Hours of one person: for a room, each m², each piece, or the whole visit. */
export const OTHER_LABOUR = {
  coverRoom: 1,
  /** For each m² between coats in place, with dusting off. */
  sandLightly: 0.03,
  tile: 0.8,
  grout: 0.25,
  floor: 0.6,
  hardware: 0.125,
  template: 2,
  fitCounter: 4,
} as const;

/** Size taken where it is not known: m² or, of hardware, pieces. A medium kitchen; none for what is counted. */
export const GUESSED_SIZE: Readonly<Record<string, number>> = {
  'paint ceiling': 14,
  'paint walls': 30,
  'paint cabinets': 4,
  'paint trim': 3,
  tile: 4,
  'lay floor': 14,
  'fit hardware': 20,
};

/** Elapsed hours of drying where the product does not say. */
export const USUAL_DRYING = {
  washed: 1,
  primer: 4,
  /** Between coats of wall and ceiling paint. */
  wallCoat: 4,
  /** Between coats on cabinets, doors and trim: overnight. */
  enamelCoat: 16,
  /** Before a painted door is turned, stacked or hung. */
  handling: 24,
  /** Tiles before they are grouted, and grout before it is used. */
  tile: 24,
  grout: 24,
} as const;

/** Elapsed hours from the template of a counter to its fitting: a week at the fabricator's. */
export const FABRICATION = 7 * 24;
