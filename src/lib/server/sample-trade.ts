import {
  DEFAULT_TRADE,
  DEFAULT_WORK,
  type SurfacePart,
  type SurfaceWork,
  type SwatchSupply,
  type Trade,
} from '#lib/job/index.ts';

// The trade's side of the sample job: sizes as measured in the invented flat, what its invented makers sell. Lengths in mm.

const part = <T extends { kind: SurfacePart['kind'] }>(
  order: number,
  name: string,
  fields: T,
  coats: number | null = null,
) => ({ id: `p${order}`, order, name, coats, ...fields }) as const;

/** What each surface is made of. */
export const PARTS: Readonly<Record<string, readonly SurfacePart[]>> = {
  cabinets: [
    part(1, 'Window wall and hob wall', {
      kind: 'cabinets',
      faces: [
        { width: 3300, height: 720, count: 1 },
        { width: 2700, height: 720, count: 1 },
        { width: 2300, height: 700, count: 1 },
        { width: 900, height: 2160, count: 1 },
      ],
      overlay: 12,
      doors: [
        { width: 450, height: 690, count: 6 },
        { width: 440, height: 670, count: 5 },
        { width: 420, height: 1060, count: 4 },
      ],
      doorSides: 2,
      drawers: [
        { width: 450, height: 170, count: 5 },
        { width: 880, height: 250, count: 3 },
      ],
      drawerSides: 1,
      thickness: 20,
      profile: 0.05,
      sides: [
        { width: 600, height: 2160, count: 1 },
        { width: 330, height: 700, count: 2 },
      ],
    }),
    part(
      2,
      'Island',
      {
        kind: 'cabinets',
        faces: [{ width: 2050, height: 800, count: 1 }],
        overlay: 0,
        doors: [],
        doorSides: 2,
        drawers: [],
        drawerSides: 1,
        thickness: 0,
        profile: 0.05,
        sides: [{ width: 820, height: 800, count: 2 }],
      },
      // Knees and shoes: the front gets a coat more.
      3,
    ),
  ],
  counter: [
    part(1, 'Counters and island top', {
      kind: 'counter',
      pieces: [
        { width: 2700, height: 620, count: 1 },
        { width: 1900, height: 620, count: 1 },
        { width: 2200, height: 900, count: 1 },
      ],
      slab: { width: 3000, height: 1400 },
      kerf: 4,
      mayTurn: false,
    }),
  ],
  backsplash: [
    part(1, 'Hob wall and window wall', {
      kind: 'tile',
      areas: [
        { width: 3300, height: 560, count: 1 },
        { width: 3300, height: 560, count: 1 },
        { width: 700, height: 900, count: 1 },
      ],
      openings: [{ width: 1500, height: 300, count: 1, what: 'window' }],
      tile: { width: 200, height: 100 },
      joint: 2,
      layout: 'half-bond',
      waste: null,
      perBox: 44,
    }),
  ],
  walls: [
    part(1, 'Walls above counter and tile', {
      kind: 'walls',
      by: 'walls',
      walls: [
        { width: 4200, height: 2500, count: 1 },
        { width: 3300, height: 1040, count: 1 },
        { width: 3300, height: 1040, count: 1 },
      ],
      openings: [
        { width: 1500, height: 1000, count: 1, what: 'window' },
        { width: 830, height: 2040, count: 1, what: 'door' },
      ],
    }),
  ],
  floor: [
    part(1, 'Kitchen floor', {
      kind: 'flat',
      rectangles: [{ width: 4200, height: 3350, count: 1 }],
      openings: [],
    }),
  ],
  hardware: [part(1, 'Pulls', { kind: 'pieces', items: [{ what: '128 mm pull', count: 23 }] })],
};

/** How the surfaces are worked on. */
export const WORK: Readonly<Record<string, SurfaceWork>> = {
  cabinets: { ...DEFAULT_WORK, primerId: 'th-p1', application: 'HVLP' },
};

const can = (size: number, price: number) => {
  const name = `can of ${size} l`;
  const id = `c${size}`.replace('.', '-');
  return [id, { id, order: size, name, size, unit: 'l' as const, price, discounts: [] }] satisfies [
    string,
    SwatchSupply['packs'][string],
  ];
};

/** Cans by the price of the 2.5 l one, as the makers' lists have them. */
export function paintSupply(supplier: string, price: number): SwatchSupply {
  const small = Math.round(price * 0.48 * 10) / 10;
  const large = Math.round(price * 1.8);
  return {
    supplier,
    packs: Object.fromEntries([can(1, small), can(2.5, price), can(5, large)]),
    spreadRate: null,
    recoatHours: 16,
    turnHours: 24,
  };
}

export const TRADE: Trade = {
  ...DEFAULT_TRADE,
  tax: { name: 'VAT', rate: 19, included: true },
  budget: 2600,
  yearBuilt: 1964,
};

/** Days of every year on which nobody works or delivers. */
export const DAYS_OFF = ['01-01', '12-25', '12-26'] as const;

/** Days from the day the sample is made until the flat is to be shown. */
export const DAYS_UNTIL_SHOWN = 56;
