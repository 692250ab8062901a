import {
  DEFAULT_CRITERIA,
  DEFAULT_SCHEME,
  type Criteria,
  type Photo,
  type PhotoRegion,
  type RoomDayRecord,
  type RoomScheme,
  type Sample,
  type SurfaceMask,
} from '#lib/job/index.ts';

/** A box in parts of the picture's width and height: left, top, right, bottom, each 0-1. */
export type Part = readonly [number, number, number, number];

/** The sample job's pictures: what they show, where white paper lies in them, and which places are measured. */
export const PICTURES: readonly {
  file: string;
  name: string;
  role: Photo['role'];
  paper: Part | null;
  places: readonly { id: string; name: string; part: Part; colours: PhotoRegion['colours'] }[];
}[] = [
  {
    file: 'kitchen-day.jpg',
    name: 'Kitchen by day',
    role: 'room',
    paper: [0.479, 0.412, 0.505, 0.462],
    places: [
      { id: 'tile', name: 'Tile behind the hob', part: [0.25, 0.352, 0.31, 0.386], colours: 'several' },
      { id: 'floor', name: 'Oak planks', part: [0.4, 0.87, 0.5, 0.96], colours: 'several' },
    ],
  },
  { file: 'kitchen-lamp.jpg', name: 'Kitchen by lamp light', role: 'room', paper: null, places: [] },
  { file: 'kitchen-mixed.jpg', name: 'Kitchen at dusk', role: 'room', paper: null, places: [] },
  {
    file: 'board.jpg',
    name: 'Sample board',
    role: 'sample board',
    paper: [0.69, 0.74, 0.8, 0.84],
    places: [],
  },
  {
    file: 'inspiration.jpg',
    name: 'Inspiration',
    role: 'inspiration',
    paper: null,
    places: [
      { id: 'green', name: 'Green drawers', part: [0.687, 0.575, 0.73, 0.625], colours: 'one' },
      { id: 'clay', name: 'Clay wall', part: [0.05, 0.35, 0.15, 0.48], colours: 'one' },
      { id: 'pale', name: 'Pale stone', part: [0.1, 0.535, 0.18, 0.547], colours: 'one' },
    ],
  },
  {
    file: 'slab-busy.jpg',
    name: 'Counter slab',
    role: 'slab',
    paper: [0.84, 0.76, 0.92, 0.84],
    places: [{ id: 'granite', name: 'Granite', part: [0.5, 0.3, 0.78, 0.7], colours: 'several' }],
  },
  {
    file: 'slab-calm.jpg',
    name: 'Substitute slab',
    role: 'slab',
    paper: [0.84, 0.76, 0.92, 0.84],
    places: [{ id: 'stone', name: 'Quiet stone', part: [0.3, 0.3, 0.7, 0.7], colours: 'several' }],
  },
  {
    file: 'slab-veined.jpg',
    name: 'Second substitute slab',
    role: 'slab',
    paper: [0.84, 0.76, 0.92, 0.84],
    places: [{ id: 'veined', name: 'Veined stone', part: [0.1, 0.2, 0.75, 0.7], colours: 'several' }],
  },
  {
    file: 'tile-ring.jpg',
    name: 'Ring tile',
    role: 'other',
    paper: [0.84, 0.76, 0.92, 0.84],
    // Two tiles by two, joint to joint: the figure closes after two.
    places: [{ id: 'ring', name: 'Ring tile', part: [0.36, 0.2995, 0.641, 0.7145], colours: 'several' }],
  },
];

/** The painted strips of the board, left to right. Makers and codes are invented. */
export const STRIPS = [
  { maker: 'Ternhollow', code: 'TH-12', name: 'Reed Hollow', price: 54, days: 3 },
  { maker: 'Ternhollow', code: 'TH-15', name: 'Moss Ledger', price: 54, days: 3 },
  { maker: 'Ternhollow', code: 'TH-19', name: 'Deep Lock', price: 58, days: 5 },
  { maker: 'Ternhollow', code: 'TH-03', name: 'Wet Chalk', price: 54, days: 3 },
  { maker: 'Oddmoor', code: 'OM-204', name: 'Kiln Dust', price: 61, days: 6 },
  { maker: 'Oddmoor', code: 'OM-211', name: 'Raw Flowerpot', price: 61, days: 6 },
  { maker: 'Oddmoor', code: 'OM-101', name: 'Sailcloth', price: 49, days: 2 },
] as const;

/** A supplier's list: one colour close to the board's deep green, one that comes too late, one whose LRV cannot be right. */
export const LIST = `maker;code;name;Lab L;Lab a;Lab b;LRV;sheen;price;currency;unit;lead time (days)
Oddmoor;OM-330;Lock Keeper;31,5;-10,5;3,0;;satin;63,00;EUR;2.5 l;6
Oddmoor;OM-341;Bottle Shard;33,0;-16,0;6,5;;satin;63,00;EUR;2.5 l;35
Oddmoor;OM-318;Olive Crate;44,0;-6,0;17,0;31;satin;59,00;EUR;2.5 l;6
`;

/** What else could go on walls, behind the hob and on the doors. */
export const OTHER_LIST = `kind;maker;code;name;Lab L;Lab a;Lab b;sheen;price;currency;unit;lead time (days)
paint;Oddmoor;OM-104;Paper Skiff;93,5;0,2;3,0;matt;49,00;EUR;2.5 l;2
paint;Oddmoor;OM-110;Lime Dust;88,0;-1,0;8,0;matt;49,00;EUR;2.5 l;2
paint;Ternhollow;TH-31;Low Tide;66,0;-3,5;-2,0;matt;54,00;EUR;2.5 l;3
paint;Ternhollow;TH-P1;Grip primer;90,0;0,0;2,0;matt;44,00;EUR;2.5 l;3
tile;Fennick Tile;FT-09;Chalk plain;92,0;-0,5;3,0;gloss;39,00;EUR;m2;4
tile;Fennick Tile;FT-21;Reedbed plain;78,0;-5,0;7,0;gloss;52,00;EUR;m2;9
tile;Fennick Tile;FT-40;Slate plain;38,0;-1,5;-3,5;satin;46,00;EUR;m2;6
metal;Tollgate Fittings;TG-B;Pull, brushed brass;71,0;5,0;31,0;satin;9,50;EUR;piece;5
metal;Tollgate Fittings;TG-N;Pull, brushed nickel;72,0;0,3;4,0;satin;8,20;EUR;piece;5
metal;Tollgate Fittings;TG-I;Pull, blackened iron;25,0;0,2;0,8;matt;7,40;EUR;piece;12
`;

/**
 * What is known of the fixed finishes besides the photos: Lab and share of each colour, and the mean difference from the
 * truth that the source leaves. In a room photo lightness away from the white paper is hardly known, so these lead.
 */
export const KNOWN: readonly {
  id: string;
  source: Sample['source'];
  doubt: number;
  colours: readonly (readonly [L: number, a: number, b: number, share: number])[];
}[] = [
  {
    id: 'oak',
    source: 'instrument',
    doubt: 0.5,
    colours: [
      [46, 8, 20, 0.3],
      [57, 7, 21, 0.45],
      [66, 5, 20, 0.25],
    ],
  },
];

/** Photos of the kitchen that come with marks; they are taken from one place. */
export const MARKED = ['kitchen-day', 'kitchen-mixed'] as const;

/** The tiled rectangle of the hob wall in those photos, pixels, and how large it is, mm. */
export const HOB_WALL: SurfaceMask['plane'] = {
  corners: [
    [383, 368],
    [1101, 366],
    [1101, 452],
    [383, 470],
  ],
  width: 3300,
  height: 560,
};

type LitPlaces = Pick<NonNullable<Photo['lightPlaces']>, 'window' | 'lamps'>;

/** The panes of both casements, pixels of the kitchen's photos. */
const PANES: LitPlaces['window'] = [
  [1440, 200],
  [1300, 220],
];

/**
 * Where the light of the kitchen's photos comes from, by photo: at dusk white things that only the window, and only the
 * lamps, light, the panes, both pendants and the light above the cabinets; by day the panes.
 */
export const LIT: Readonly<Record<(typeof MARKED)[number], LitPlaces>> = {
  'kitchen-day': { window: PANES, lamps: [] },
  'kitchen-mixed': {
    window: [[1227, 323], ...PANES],
    lamps: [
      [541, 86],
      [399, 444],
      [522, 254],
      [801, 262],
      [330, 95],
      [980, 147],
      [438, 66],
      [991, 112],
    ],
  },
};

/** The painter comes in three weeks: later paints are out. */
export const CABINET_CRITERIA: Criteria = {
  ...DEFAULT_CRITERIA,
  limits: { ...DEFAULT_CRITERIA.limits, maxLeadTimeDays: 21 },
};

/** Visible areas, m², as measured in the flat. */
export const AREAS: Readonly<Record<string, number>> = {
  cabinets: 14.2,
  counter: 6.4,
  backsplash: 5.1,
  walls: 16.5,
  floor: 14,
  hardware: 0.3,
};

/** Places of the inspiration that stand for surfaces whose finish is decided. */
export const IN_INSPIRATION = {
  walls: 'clay',
  counter: 'pale',
} as const;

/** What could go on each surface: candidates of the open ones, substitutes of the fixed ones. */
export const ALTERNATIVES = {
  cabinets: [...STRIPS.map(({ code }) => code.toLowerCase()), 'om-330', 'om-341', 'om-318', 'om-352'],
  counter: ['quiet', 'veined'],
  backsplash: ['tile', 'ring', 'ft-09', 'ft-21', 'ft-40'],
  walls: ['wall', 'om-101', 'om-104', 'om-110', 'th-03', 'th-31', 'om-204', 'om-211'],
  floor: [],
  hardware: ['tg-b', 'tg-n', 'tg-i'],
} as const;

/** Walls and tile stay if they can; a scheme may change them, within the budget and in time for the painter. */
export const SCHEME: RoomScheme = {
  ...DEFAULT_SCHEME,
  limits: { ...DEFAULT_SCHEME.limits, budget: 1500, readyInDays: 21 },
  free: { walls: true, backsplash: true },
};

/** The kitchen's day: a north window, and pendants of 2,700 K in the evening. */
export const DAY: RoomDayRecord = {
  place: { latitude: 50, longitude: 10, timeZone: '+01:00' },
  date: '2027-02-10',
  sky: 'clear',
  windows: {
    north: { id: 'north', order: 1, name: '', facing: 0, area: 2.4, glass: 'double glass' },
  },
  lamps: {
    pendants: {
      id: 'pendants',
      order: 1,
      name: 'Pendants',
      source: { kind: 'table', name: 'LED-B1' },
      illuminance: 120,
      on: { from: 16, until: 23 },
    },
  },
  floorArea: 14,
  height: 2.5,
  reflectance: 0.5,
};

/** Hours of that day which the finishes are judged under. */
export const HOURS = [
  { id: 'day', name: 'North window, clear day', hour: 12 },
  { id: 'evening', name: 'Pendants in the evening', hour: 20 },
  { id: 'dusk', name: 'Dusk, window and pendants', hour: 17 },
] as const;
