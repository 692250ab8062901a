/** A rectangle, mm, and how many there are of it. */
export interface Rectangles {
  readonly width: number;
  readonly height: number;
  readonly count: number;
}

/** A hole in a wall or a surface: a door, a window, a socket. `what` is the one word it is said by. */
export interface Openings extends Rectangles {
  readonly what: string;
}

/** A strip, mm: its length, and its girth, which is its width measured round the profile. */
export interface Strips {
  readonly length: number;
  readonly girth: number;
  readonly count: number;
}

interface PartBase {
  /** What the user calls it: 'long wall', 'island front'. */
  readonly name: string;
  /** Finish coats this part needs, where it needs others than its surface; else null. */
  readonly coats: number | null;
}

/** Walls one by one (`width` is the length of a wall) or as the perimeter of a room times its height, less openings. */
export interface WallsPart extends PartBase {
  readonly kind: 'walls';
  readonly by: 'walls' | 'perimeter';
  readonly walls: readonly Rectangles[];
  readonly openings: readonly Openings[];
}

/** A ceiling, a floor or any other flat thing made of rectangles, less holes. */
export interface FlatPart extends PartBase {
  readonly kind: 'flat';
  readonly rectangles: readonly Rectangles[];
  readonly openings: readonly Openings[];
}

/** Fitted cabinets. */
export interface CabinetsPart extends PartBase {
  readonly kind: 'cabinets';
  /** Fronts of the boxes measured over all, doors and drawers included; the face frame is what these do not hide. */
  readonly faces: readonly Rectangles[];
  /** By how much doors and drawer fronts lie over the frame at each edge, mm; 0 where they sit in it. */
  readonly overlay: number;
  readonly doors: readonly Rectangles[];
  readonly doorSides: 1 | 2;
  readonly drawers: readonly Rectangles[];
  readonly drawerSides: 1 | 2;
  /** Of doors and drawer fronts, mm, for their edges; 0 leaves the edges out. */
  readonly thickness: number;
  /** What a profile adds to the faces of doors and drawer fronts, 0-0.5; 0 where they are plain. */
  readonly profile: number;
  /** Ends and sides that show. */
  readonly sides: readonly Rectangles[];
}

/** Skirting, architraves, cornices. */
export interface TrimPart extends PartBase {
  readonly kind: 'trim';
  readonly runs: readonly Strips[];
}

/** Doors of a room with their frames. */
export interface DoorsPart extends PartBase {
  readonly kind: 'doors';
  readonly leaves: readonly Rectangles[];
  readonly sides: 1 | 2;
  readonly thickness: number;
  readonly frames: readonly Strips[];
}

export const TILE_LAYOUTS = ['straight', 'half-bond', 'diagonal'] as const;
export type TileLayout = (typeof TILE_LAYOUTS)[number];

export interface TilePart extends PartBase {
  readonly kind: 'tile';
  readonly areas: readonly Rectangles[];
  readonly openings: readonly Openings[];
  /** One tile as it is laid: `width` runs along the width of the areas. */
  readonly tile: { readonly width: number; readonly height: number };
  readonly joint: number;
  readonly layout: TileLayout;
  /** Share of the tiles for cuts and breakage, 0-1; null for the usual share of the layout. */
  readonly waste: number | null;
  readonly perBox: number | null;
}

/** Counter pieces cut from slabs. */
export interface CounterPart extends PartBase {
  readonly kind: 'counter';
  readonly pieces: readonly Rectangles[];
  /** What of a slab can be used, without its rough edges. */
  readonly slab: { readonly width: number; readonly height: number };
  /** What the saw takes between two pieces, mm. */
  readonly kerf: number;
  /** False where the veins must run one way: along the width of slab and pieces alike. */
  readonly mayTurn: boolean;
}

/** Things that are counted: handles, hinges, hooks. */
export interface PiecesPart extends PartBase {
  readonly kind: 'pieces';
  readonly items: readonly { readonly what: string; readonly count: number }[];
}

/** An area that was not worked out here: said by somebody, or measured in a photo. */
export interface EstimatePart extends PartBase {
  readonly kind: 'estimate';
  /** m² */
  readonly area: number;
  /** Standard deviation over the area; 0 where it is sure. */
  readonly relativeSd: number;
  /** Where it comes from, in words. */
  readonly from: string;
}

/** What a surface is made of, for the take-off. Lengths in mm throughout; plain JSON. */
export type Part =
  | WallsPart
  | FlatPart
  | CabinetsPart
  | TrimPart
  | DoorsPart
  | TilePart
  | CounterPart
  | PiecesPart
  | EstimatePart;

export const PART_KINDS = [
  'walls',
  'flat',
  'cabinets',
  'trim',
  'doors',
  'tile',
  'counter',
  'pieces',
  'estimate',
] as const satisfies readonly Part['kind'][];

/** Bounds of a size. Outside `possible` it is an error and left out; outside `usual` it counts, with a warning. */
export interface SizeBounds {
  readonly possible: readonly [number, number];
  readonly usual: readonly [number, number];
}

/** Bounds of each kind of length, mm. Common practice, no published source. */
export const SIZE_BOUNDS = {
  'wall length': { possible: [10, 200_000], usual: [300, 60_000] },
  'wall height': { possible: [10, 20_000], usual: [300, 5000] },
  'opening width': { possible: [10, 12_000], usual: [50, 5000] },
  'opening height': { possible: [10, 8000], usual: [50, 3500] },
  'side of a flat area': { possible: [10, 100_000], usual: [100, 25_000] },
  'side of a cabinet': { possible: [10, 20_000], usual: [50, 8000] },
  'side of a door or drawer front': { possible: [10, 4000], usual: [60, 2500] },
  'door width': { possible: [100, 6000], usual: [400, 2000] },
  'door height': { possible: [100, 8000], usual: [1500, 3000] },
  thickness: { possible: [0, 200], usual: [0, 60] },
  overlay: { possible: [0, 60], usual: [0, 30] },
  'trim length': { possible: [10, 1_000_000], usual: [50, 100_000] },
  'trim girth': { possible: [2, 1500], usual: [10, 500] },
  'side of a tile': { possible: [5, 4000], usual: [10, 1800] },
  joint: { possible: [0, 50], usual: [0, 15] },
  'side of a slab': { possible: [100, 6000], usual: [600, 3600] },
  'side of a counter piece': { possible: [10, 20_000], usual: [40, 6000] },
  kerf: { possible: [0, 30], usual: [0, 12] },
} as const satisfies Readonly<Record<string, SizeBounds>>;
export type SizeName = keyof typeof SIZE_BOUNDS;

/** Most pieces of one kind on a line. */
export const MOST_PIECES = 10_000;
/** Most lines of one list of a part. */
export const MOST_LINES = 200;

/** Something wrong with a field. */
export interface FieldProblem {
  /** The field, as a path from what was handed in: 'parts[2].openings[0].width'. */
  readonly path: string;
  /** Errors are left out of the totals, warnings are counted. */
  readonly severity: 'error' | 'warning';
  readonly words: string;
}
