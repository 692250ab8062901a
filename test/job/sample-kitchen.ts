import {
  DEFAULT_CRITERIA,
  emptyJob,
  type Job,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from '#lib/job/index.ts';
import { PARTS, TRADE, WORK, paintSupply } from '#lib/server/sample-trade.ts';

/** The sample job's kitchen with its sizes, cans and taxes, without its pictures; its finishes as its lists have them. */
export function sampleKitchen(): Job {
  const job = emptyJob('Canal-side kitchen');
  job.finishBy = '2027-01-21';
  job.trade = TRADE;
  job.rooms.kitchen = { id: 'kitchen', order: 1, name: 'Kitchen', note: '' };
  const swatch = (id: string, fields: Partial<Swatch>) => {
    const order = Object.keys(job.swatches).length + 1;
    const plain = { maker: '', code: id.toUpperCase(), name: '', sheen: null, price: null } as const;
    const rest = { leadTimeDays: null, publishedLrv: null, samples: {}, note: '' };
    job.swatches[id] = { id, order, kind: 'paint', ...plain, ...rest, ...fields };
  };
  const paint = (id: string, maker: string, name: string, [price, days]: [number, number]) =>
    swatch(id, {
      maker,
      name,
      sheen: 'satin',
      leadTimeDays: days,
      price: { amount: price, currency: 'EUR', unit: '2.5 l' },
      supply: paintSupply(`${maker} paint counter`, price),
      samples: {
        s1: {
          id: 's1',
          order: 1,
          source: 'instrument',
          colours: [{ lab: { L: 40, a: -8, b: 4 }, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1], share: 1 }],
          reflectance: null,
          from: null,
          note: '',
        },
      },
    });
  paint('th-19', 'Ternhollow', 'Deep Lock', [58, 5]);
  paint('th-12', 'Ternhollow', 'Reed Hollow', [54, 3]);
  paint('th-p1', 'Ternhollow', 'Grip primer', [44, 3]);
  paint('om-104', 'Oddmoor', 'Paper Skiff', [49, 2]);
  const piece = { currency: 'EUR', unit: 'piece' };
  const metal = { kind: 'metal', maker: 'Tollgate Fittings' } as const;
  swatch('tg-b', {
    ...metal,
    name: 'Pull, brushed brass',
    price: { amount: 9.5, ...piece },
    leadTimeDays: 5,
  });
  swatch('tg-i', {
    ...metal,
    name: 'Pull, blackened iron',
    price: { amount: 7.4, ...piece },
    leadTimeDays: 12,
  });
  swatch('quiet', {
    kind: 'stone',
    maker: 'Drumlin Stone',
    code: '',
    name: 'Still Water',
    price: { amount: 265, currency: 'EUR', unit: 'm²' },
    leadTimeDays: 10,
  });
  swatch('tile', { kind: 'tile', maker: 'Fennick Tile', name: 'Half-bond tile' });
  swatch('oak', { kind: 'wood', maker: 'laid in the flat', name: 'Oak planks' });
  const surface = (kind: SurfaceKind, name: string, fields: Partial<Surface>) => {
    const order = Object.keys(job.surfaces).length + 1;
    job.surfaces[kind] = {
      id: kind,
      order,
      roomId: 'kitchen',
      name,
      kind,
      state: 'fixed',
      swatchId: null,
      candidateIds: {},
      target: null,
      criteria: DEFAULT_CRITERIA,
      parts: Object.fromEntries((PARTS[kind] ?? []).map((part) => [part.id, part])),
      ...(WORK[kind] && { work: WORK[kind] }),
      ...fields,
    };
  };
  surface('cabinets', 'Cabinets', { state: 'open', candidateIds: { 'th-19': true, 'th-12': true } });
  surface('counter', 'Counter', { state: 'open', candidateIds: { quiet: true } });
  surface('backsplash', 'Backsplash', { swatchId: 'tile' });
  surface('walls', 'Walls', { state: 'open', candidateIds: { 'om-104': true } });
  surface('floor', 'Floor', { swatchId: 'oak' });
  surface('hardware', 'Handles', { state: 'open', candidateIds: { 'tg-b': true, 'tg-i': true } });
  return job;
}

/** The same kitchen with a finish chosen for every open surface. */
export function chosenKitchen(): Job {
  const job = sampleKitchen();
  const choose = (surfaceId: string, swatchId: string) =>
    Object.assign(job.surfaces[surfaceId], { state: 'chosen', swatchId });
  choose('cabinets', 'th-19');
  choose('counter', 'quiet');
  choose('walls', 'om-104');
  choose('hardware', 'tg-b');
  return job;
}

/** The day the kitchen's documents speak of. */
export const TODAY = '2026-11-26';
