import {
  TILE_LAYOUTS,
  TILE_WASTE,
  type FinishKind,
  type LengthUnit,
  type UnitSystem,
} from '#lib/finish/index.ts';
import type { SurfaceKind, SurfacePart } from '#lib/job/index.ts';

type Kind = SurfacePart['kind'];

/** One number, text or choice in a line of a part's list. */
export interface Column {
  readonly key: string;
  readonly label: string;
  readonly type: 'length' | 'count' | 'text';
}

/** What is asked of a part: a list of lines, a number, two sides, or one of a few. */
export type Field =
  | {
      readonly type: 'lines';
      readonly key: string;
      readonly title: string;
      /** 'wall': completes 'Add a …' and 'Remove … 2'. */
      readonly one: string;
      readonly columns: readonly Column[];
      readonly blank: Readonly<Record<string, number | string>>;
    }
  | {
      readonly type: 'length' | 'count' | 'percent' | 'area' | 'text';
      readonly key: string;
      readonly label: string;
      /** Whether nothing is an answer: null, or zero of a length. */
      readonly optional?: 'null' | 'zero';
      readonly hint?: string;
    }
  | { readonly type: 'size'; readonly key: string; readonly label: string }
  | {
      readonly type: 'choice';
      readonly key: string;
      readonly label: string;
      readonly options: readonly (readonly [value: string | number | boolean, words: string])[];
    };

export interface PartForm {
  /** What a part of this kind is called where one is added. */
  readonly words: string;
  /** What a number without a unit is. */
  readonly bare: Readonly<Record<UnitSystem, LengthUnit>>;
  readonly fields: readonly Field[];
  /** What a part starts with; sizes of zero are still to be measured. */
  readonly start: Readonly<Record<string, unknown>>;
}

const LARGE = { metric: 'm', us: 'ft' } as const;
const SMALL = { metric: 'mm', us: 'in' } as const;

const width: Column = { key: 'width', label: 'Width', type: 'length' };
const height: Column = { key: 'height', label: 'Height', type: 'length' };
const count: Column = { key: 'count', label: 'Count', type: 'count' };
const what: Column = { key: 'what', label: 'What', type: 'text' };

function rectangles(
  key: string,
  { title, one, columns = [width, height, count] }: { title: string; one: string; columns?: Column[] },
): Field {
  return { type: 'lines', key, title, one, columns, blank: { width: 0, height: 0, count: 1 } };
}

function strips(key: string, title: string, one: string): Field {
  return {
    ...{ type: 'lines', key, title, one },
    columns: [
      { key: 'length', label: 'Length', type: 'length' },
      { key: 'girth', label: 'Width', type: 'length' },
      count,
    ],
    blank: { length: 0, girth: 0, count: 1 },
  };
}

const openings: Field = {
  ...{ type: 'lines', key: 'openings', title: 'Less openings', one: 'opening' },
  columns: [what, width, height, count],
  blank: { what: 'window', width: 0, height: 0, count: 1 },
};

const sides = (key: string, label: string): Field => ({
  ...{ type: 'choice', key, label },
  options: [
    [1, 'one side'],
    [2, 'both sides'],
  ],
});

const none = { width: 0, height: 0, count: 1 };

/** What is asked for each kind of part, in the order in which one measures. */
export const PART_FORMS: Readonly<Record<Kind, PartForm>> = {
  walls: {
    words: 'Walls',
    bare: LARGE,
    fields: [
      {
        ...{ type: 'choice', key: 'by', label: 'Measured' },
        options: [
          ['walls', 'wall by wall'],
          ['perimeter', 'all round, times the height'],
        ],
      },
      rectangles('walls', {
        ...{ title: 'Walls', one: 'wall' },
        columns: [{ ...width, label: 'Length' }, height, count],
      }),
      openings,
    ],
    start: { by: 'walls', walls: [none], openings: [] },
  },
  flat: {
    words: 'Flat area',
    bare: LARGE,
    fields: [
      rectangles('rectangles', {
        ...{ title: 'Rectangles', one: 'rectangle' },
        columns: [{ ...width, label: 'Length' }, { ...height, label: 'Width' }, count],
      }),
      openings,
    ],
    start: { rectangles: [none], openings: [] },
  },
  cabinets: {
    words: 'Cabinets',
    bare: SMALL,
    fields: [
      rectangles('faces', { title: 'Fronts of the boxes, doors and drawers included', one: 'front' }),
      rectangles('doors', { title: 'Doors', one: 'row of doors' }),
      sides('doorSides', 'Doors painted on'),
      rectangles('drawers', { title: 'Drawer fronts', one: 'row of drawer fronts' }),
      sides('drawerSides', 'Drawers painted on'),
      rectangles('sides', { title: 'Ends and sides that show', one: 'side' }),
      {
        ...{ type: 'length', key: 'overlay', label: 'Doors overlap by', optional: 'zero' },
        hint: 'over the frame at each edge; 0 where they sit in it',
      },
      {
        ...{ type: 'length', key: 'thickness', label: 'Thickness of doors', optional: 'zero' },
        hint: 'for their edges; 0 leaves them out',
      },
      {
        ...{ type: 'percent', key: 'profile', label: 'A profile adds, %', optional: 'zero' },
        hint: '0 for plain doors, 5 for a flat panel in a frame',
      },
    ],
    start: {
      faces: [none],
      ...{ overlay: 0, doors: [none], doorSides: 2, drawers: [], drawerSides: 1 },
      ...{ thickness: 20, profile: 0, sides: [] },
    },
  },
  trim: {
    words: 'Trim',
    bare: LARGE,
    fields: [strips('runs', 'Skirting, architraves, cornices; width is measured round the profile', 'run')],
    start: { runs: [{ length: 0, girth: 0, count: 1 }] },
  },
  doors: {
    words: 'Room doors',
    bare: SMALL,
    fields: [
      rectangles('leaves', { title: 'Doors', one: 'row of doors' }),
      sides('sides', 'Painted on'),
      {
        ...{ type: 'length', key: 'thickness', label: 'Thickness', optional: 'zero' },
        hint: 'for their edges; 0 leaves them out',
      },
      strips('frames', 'Frames; width is measured round the profile', 'frame'),
    ],
    start: { leaves: [none], sides: 2, thickness: 40, frames: [] },
  },
  tile: {
    words: 'Tiles',
    bare: SMALL,
    fields: [
      rectangles('areas', { title: 'Areas to tile', one: 'area' }),
      openings,
      { type: 'size', key: 'tile', label: 'One tile' },
      { type: 'length', key: 'joint', label: 'Joint', optional: 'zero' },
      {
        ...{ type: 'choice', key: 'layout', label: 'Laid' },
        options: TILE_LAYOUTS.map((layout) => [layout, layout]),
      },
      {
        ...{ type: 'percent', key: 'waste', label: 'For cuts, %', optional: 'null' },
        hint: `cuts and breakage; empty: the usual ${Object.entries(TILE_WASTE)
          .map(([layout, share]) => `${Math.round(share * 100)} ${layout}`)
          .join(', ')}`,
      },
      { type: 'count', key: 'perBox', label: 'Tiles in a box', optional: 'null' },
    ],
    start: {
      ...{ areas: [none], openings: [], tile: { width: 0, height: 0 } },
      ...{ joint: 2, layout: 'straight', waste: null, perBox: null },
    },
  },
  counter: {
    words: 'Counter from slabs',
    bare: SMALL,
    fields: [
      rectangles('pieces', {
        ...{ title: 'Pieces of the counter', one: 'piece' },
        columns: [{ ...width, label: 'Length' }, { ...height, label: 'Depth' }, count],
      }),
      { type: 'size', key: 'slab', label: 'Slab' },
      { type: 'length', key: 'kerf', label: 'The saw takes', optional: 'zero' },
      {
        ...{ type: 'choice', key: 'mayTurn', label: 'Pieces' },
        options: [
          [true, 'may be turned on the slab'],
          [false, 'all lie one way, for the veins'],
        ],
      },
    ],
    start: { pieces: [none], slab: { width: 3000, height: 1400 }, kerf: 4, mayTurn: true },
  },
  pieces: {
    words: 'Things to count',
    bare: SMALL,
    fields: [
      {
        ...{ type: 'lines', key: 'items', title: 'Pieces', one: 'kind of piece' },
        columns: [what, count],
        blank: { what: 'handle', count: 1 },
      },
    ],
    start: { items: [{ what: 'handle', count: 1 }] },
  },
  estimate: {
    words: 'An area somebody gave',
    bare: LARGE,
    fields: [
      { type: 'area', key: 'area', label: 'Area' },
      {
        ...{ type: 'percent', key: 'relativeSd', label: 'Give or take, %', optional: 'zero' },
        hint: 'a standard deviation; 0 where it is sure',
      },
      { type: 'text', key: 'from', label: 'Where it comes from' },
    ],
    start: { area: 0, relativeSd: 0.05, from: 'as told' },
  },
};

const USUAL_PART: Readonly<Record<SurfaceKind, Kind>> = {
  cabinets: 'cabinets',
  island: 'cabinets',
  walls: 'walls',
  ceiling: 'flat',
  trim: 'trim',
  doors: 'doors',
  counter: 'counter',
  backsplash: 'flat',
  floor: 'flat',
  hardware: 'pieces',
  'wood accents': 'trim',
  textiles: 'estimate',
};

/** The kind of part that is offered first for a surface, by what is to be on it. */
export function usualPart(surface: SurfaceKind, finish: FinishKind | null): Kind {
  if (finish === 'tile') return 'tile';
  if (finish === 'stone' && surface !== 'counter') return 'flat';
  if (finish === 'metal') return 'pieces';
  if (surface === 'backsplash' && finish === null) return 'tile';
  if (surface === 'counter' && finish === 'paint') return 'flat';
  return USUAL_PART[surface];
}

/** A new part with nothing measured yet. */
export function newPart(kind: Kind, { id, order }: { id: string; order: number }): SurfacePart {
  const part = { id, order, kind, name: '', coats: null, ...structuredClone(PART_FORMS[kind].start) };
  return part as unknown as SurfacePart;
}
