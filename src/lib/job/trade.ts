import { APPLICATIONS, MOST_LINES, SCHEDULE_ROLES, TILE_LAYOUTS } from '#lib/finish/index.ts';
import { z } from 'zod';
import { finite, id, record, text } from './fields.ts';

// What painter and suppliers need of the document: sizes, coats, cans, taxes, days. Sizes are kept as they were typed, absurd
// ones too: the take-off names what it leaves out. Lengths in mm.

const lines = <T extends z.ZodType>(line: T) => z.array(line).max(MOST_LINES);
const rectangle = { width: finite, height: finite, count: finite };
const rectangles = lines(z.strictObject(rectangle));
const openings = lines(z.strictObject({ ...rectangle, what: text(60) }));
const strips = lines(z.strictObject({ length: finite, girth: finite, count: finite }));
const size = z.strictObject({ width: finite, height: finite });
const sides = z.union([z.literal(1), z.literal(2)]);
/** `coats`: finish coats where this part needs others than its surface. */
const base = { id, order: finite, name: text(80), coats: finite.nullable() };

/** A part of a surface as the finish area's take-off reads it, with its place in the list. */
export const surfacePart = z.discriminatedUnion('kind', [
  z.strictObject({
    ...base,
    kind: z.literal('walls'),
    by: z.enum(['walls', 'perimeter']),
    walls: rectangles,
    openings,
  }),
  z.strictObject({ ...base, kind: z.literal('flat'), rectangles, openings }),
  z.strictObject({
    ...base,
    kind: z.literal('cabinets'),
    faces: rectangles,
    overlay: finite,
    doors: rectangles,
    doorSides: sides,
    drawers: rectangles,
    drawerSides: sides,
    thickness: finite,
    profile: finite,
    sides: rectangles,
  }),
  z.strictObject({ ...base, kind: z.literal('trim'), runs: strips }),
  z.strictObject({
    ...base,
    kind: z.literal('doors'),
    leaves: rectangles,
    sides,
    thickness: finite,
    frames: strips,
  }),
  z.strictObject({
    ...base,
    kind: z.literal('tile'),
    areas: rectangles,
    openings,
    tile: size,
    joint: finite,
    layout: z.enum(TILE_LAYOUTS),
    waste: finite.nullable(),
    perBox: finite.nullable(),
  }),
  z.strictObject({
    ...base,
    kind: z.literal('counter'),
    pieces: rectangles,
    slab: size,
    kerf: finite,
    mayTurn: z.boolean(),
  }),
  z.strictObject({
    ...base,
    kind: z.literal('pieces'),
    items: lines(z.strictObject({ what: text(80), count: finite })),
  }),
  z.strictObject({
    ...base,
    kind: z.literal('estimate'),
    area: finite,
    relativeSd: finite,
    from: text(300),
  }),
]);

/** How a surface is worked on; what is null is as usual. */
export const surfaceWork = z.strictObject({
  /** The primer, a swatch of the job; null for none. */
  primerId: id.nullable(),
  primerCoats: finite.nullable(),
  coats: finite.nullable(),
  application: z.enum(APPLICATIONS),
  /** Share of the paint that lands, 0-1, where the painter knows it. */
  landed: finite.nullable(),
  /** Whether holes for handles are drilled, or old ones filled, before painting. */
  newHoles: z.boolean().optional(),
  /** Calendar days a counter takes from template to delivery. */
  fabricationDays: finite.nullable().optional(),
});

/** What a supplier sells of a swatch, and how it behaves. */
export const swatchSupply = z.strictObject({
  supplier: text(120),
  /** What is sold: cans, boxes, slabs. Empty where the price is of a unit. */
  packs: record(
    z.strictObject({
      id,
      order: finite,
      name: text(60),
      size: finite,
      unit: z.enum(['l', 'm²', 'm', 'piece', 'box', 'slab']),
      price: finite.nullable(),
      discounts: z.array(z.strictObject({ from: finite, percent: finite })).max(10),
    }),
  ),
  /** Area of one coat, m² per litre. */
  spreadRate: finite.nullable(),
  /** Hours at the product's own conditions until it can be painted over, and until a door can be turned. */
  recoatHours: finite.nullable(),
  turnHours: finite.nullable(),
  /** Two-part products and strong solvents ask for more care; unknown where nothing is said. */
  twoPart: z.boolean().optional(),
  solventBased: z.boolean().optional(),
});

/** A line of the schedule as it was agreed. */
const agreedLine = z.strictObject({
  id: text(160),
  // As it was read: a name with the number that told it apart.
  room: text(100),
  surface: text(100),
  role: z.enum(SCHEDULE_ROLES),
  finish: z.strictObject({ maker: text(120), code: text(60), name: text(120), sheen: text(40) }).nullable(),
  need: z.strictObject({ amount: finite, unit: text(12) }).nullable(),
  gross: finite.nullable(),
  neededOn: text(10).nullable(),
});

/** A day as it was typed; the plan says what is no day. */
const day = text(10);
const byLine = <T extends z.ZodType>(value: T) => z.record(text(160), value);

/** What the trade's side of a job needs besides its finishes. */
export const trade = z.strictObject({
  units: z.enum(['metric', 'us']),
  tax: z.strictObject({ name: text(40), rate: finite, included: z.boolean() }).nullable(),
  budget: finite.nullable(),
  leadTimeIn: z.enum(['calendar days', 'working days']),
  /** 1 Monday to 7 Sunday, and days off besides. */
  weekdays: z.array(z.int().min(1).max(7)).max(7),
  holidays: z.array(day).max(400),
  startOn: day.nullable(),
  /** People who work, hours a day, and doors that can lie drying at once (null: half of them). */
  hands: finite,
  hoursPerDay: finite,
  doorSpace: finite.nullable(),
  /** Of the house; null where nobody knows, which counts as old. */
  yearBuilt: finite.nullable(),
  /** Steps of the plan put on a day by hand, and hours a step takes by somebody's own knowledge. */
  moved: byLine(day),
  hours: byLine(finite),
  /** Lines that are ordered, and when. */
  ordered: byLine(day),
  /** What was agreed, with which round, and why lines changed since. */
  agreed: z
    .strictObject({ round: finite.nullable(), on: day, lines: z.array(agreedLine).max(500) })
    .nullable(),
  notes: byLine(z.strictObject({ why: text(400), who: text(120), on: day.nullable() })),
});

export type SurfacePart = z.infer<typeof surfacePart>;
export type SurfaceWork = z.infer<typeof surfaceWork>;
export type SwatchSupply = z.infer<typeof swatchSupply>;
export type Trade = z.infer<typeof trade>;

/** A trade's side nobody has touched: metric, Monday to Friday, one pair of hands. */
export const DEFAULT_TRADE: Trade = {
  units: 'metric',
  tax: null,
  budget: null,
  leadTimeIn: 'calendar days',
  weekdays: [1, 2, 3, 4, 5],
  holidays: [],
  startOn: null,
  hands: 1,
  hoursPerDay: 8,
  doorSpace: null,
  yearBuilt: null,
  moved: {},
  hours: {},
  ordered: {},
  agreed: null,
  notes: {},
};

/** How a surface is worked on where nobody said. */
export const DEFAULT_WORK: SurfaceWork = {
  primerId: null,
  primerCoats: null,
  coats: null,
  application: 'brush and roller',
  landed: null,
};

/** What is known of a swatch's supply where nobody said. */
export const DEFAULT_SUPPLY: SwatchSupply = {
  supplier: '',
  packs: {},
  spreadRate: null,
  recoatHours: null,
  turnHours: null,
};
