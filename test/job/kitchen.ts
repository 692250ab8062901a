import { DEFAULT_CRITERIA, type Job, type Swatch } from '#lib/job/index.ts';

const covariance = [1, 0, 0, 0, 1, 0, 0, 0, 1];

function paint(id: string, order: number, L: number, a: number, b: number): Swatch {
  return {
    id,
    order,
    kind: 'paint',
    maker: 'Ternhollow',
    code: `TH-${order}`,
    name: id,
    sheen: 'satin',
    price: { amount: 60 + order, currency: 'EUR', unit: '2.5 l' },
    leadTimeDays: 3,
    publishedLrv: null,
    samples: {
      s1: {
        id: 's1',
        order: 1,
        source: 'instrument',
        colours: [{ lab: { L, a, b }, covariance, share: 1 }],
        reflectance: null,
        from: null,
        note: '',
      },
    },
    note: '',
  };
}

/** A small invented job that touches every kind of link the document has. */
export function kitchen(): Job {
  const granite = paint('granite', 9, 45, 1, 4);
  granite.kind = 'stone';
  granite.samples.s1.from = { photoId: 'day', regionId: 'r1' };
  granite.samples.s1.colours = [
    { lab: { L: 60, a: 1, b: 6 }, covariance, share: 0.7 },
    { lab: { L: 20, a: 0, b: 1 }, covariance, share: 0.3 },
  ];
  return {
    format: 1,
    name: 'Canal-side kitchen',
    note: '',
    currency: 'EUR',
    finishBy: '2027-03-01',
    rooms: { k: { id: 'k', order: 1, name: 'Kitchen', note: '' } },
    surfaces: {
      cabinets: {
        id: 'cabinets',
        order: 1,
        roomId: 'k',
        name: 'Cabinets',
        kind: 'cabinets',
        state: 'open',
        swatchId: null,
        candidateIds: { sage: true, clay: true, bare: true },
        target: {
          kind: 'photo',
          photoId: 'day',
          regionId: 'r1',
          at: null,
          estimate: { lab: { L: 60, a: -9, b: 10 }, covariance },
          words: 'from the picture',
        },
        criteria: DEFAULT_CRITERIA,
      },
      counter: {
        id: 'counter',
        order: 2,
        roomId: 'k',
        name: 'Counter',
        kind: 'counter',
        state: 'fixed',
        swatchId: 'granite',
        candidateIds: {},
        target: null,
        criteria: DEFAULT_CRITERIA,
      },
    },
    lights: {
      noon: {
        id: 'noon',
        order: 1,
        roomId: 'k',
        name: 'Noon',
        parts: [{ source: { kind: 'daylight', cct: 6500 }, share: 1 }],
        illuminance: 800,
      },
      evening: {
        id: 'evening',
        order: 2,
        roomId: 'k',
        name: 'Pendants',
        parts: [
          { source: { kind: 'table', name: 'LED-B1' }, share: 0.8 },
          { source: { kind: 'black body', kelvin: 2700 }, share: 0.2 },
        ],
        illuminance: 150,
      },
    },
    photos: {
      day: {
        id: 'day',
        order: 1,
        roomId: 'k',
        name: 'Kitchen by day',
        role: 'room',
        fileId: 'f1',
        width: 1600,
        height: 1067,
        space: 'srgb',
        references: {
          w: {
            id: 'w',
            order: 1,
            kind: 'white paper',
            region: { kind: 'point', x: 10, y: 10, radius: 5 },
            swatchId: null,
          },
          g: {
            id: 'g',
            order: 2,
            kind: 'finish',
            region: { kind: 'box', x: 1, y: 1, width: 5, height: 5 },
            swatchId: 'granite',
          },
        },
        regions: {
          r1: {
            id: 'r1',
            order: 1,
            name: 'counter front',
            region: { kind: 'box', x: 50, y: 60, width: 40, height: 20 },
            colours: 'several',
          },
        },
      },
    },
    swatches: {
      sage: paint('sage', 1, 62, -9, 11),
      clay: paint('clay', 2, 50, 22, 26),
      bare: { ...paint('bare', 3, 0, 0, 0), samples: {} },
      granite,
    },
  };
}
