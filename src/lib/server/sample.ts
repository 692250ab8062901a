import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import {
  VIEWING_DISTANCE,
  isotropicCovariance,
  parseCgats,
  parseSwatchList,
  usualWidth,
} from '#lib/finish/index.ts';
import {
  DEFAULT_CRITERIA,
  PHOTO_SCENES,
  emptyJob,
  momentAsLight,
  type Job,
  type Photo,
  type PhotoRegion,
  type Room,
  type Sample,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from '#lib/job/index.ts';
import {
  correctionFromReferences,
  correctionWithoutReference,
  evened,
  extentOf,
  measurePattern,
  measureRegion,
  palette,
  type Image8,
  type Reference,
  type Region,
} from '#lib/photo/index.ts';
import { open } from './files.ts';
import { takeIn } from './intake.ts';
import * as jobs from './jobs.ts';
import { sourceFolder } from './place.ts';
import {
  ALTERNATIVES,
  AREAS,
  CABINET_CRITERIA,
  DAY,
  HOURS,
  IN_INSPIRATION,
  KNOWN,
  LIST,
  OTHER_LIST,
  PICTURES,
  SCHEME,
  STRIPS,
  type Part,
} from './sample-contents.ts';
import { addMarks, addReadings } from './sample-files.ts';
import { DAYS_OFF, DAYS_UNTIL_SHOWN, PARTS, TRADE, WORK, paintSupply } from './sample-trade.ts';
import type { Store } from './store.ts';

/** Builds the sample job from its pictures, through the same intake and the same measuring as a user's, and gives its id. */
export async function createSampleJob(store: Store): Promise<string> {
  const name = 'Canal-side kitchen (sample)';
  const id = await jobs.prepare(store.db, name);
  try {
    await jobs.setUp(store.db, id, await fill(store, id, emptyJob(name)));
  } catch (error) {
    await jobs.remove(store.db, id);
    throw error;
  }
  return id;
}

/** Builds the sample job where nothing has ever been made in this store. */
export async function ensureSampleJob(store: Store): Promise<void> {
  const any = await store.db.selectFrom('jobs').select('id').limit(1).executeTakeFirst();
  if (!any) await createSampleJob(store);
}

async function fill(store: Store, jobId: string, empty: Job): Promise<Job> {
  const job: Job = structuredClone(empty);
  job.currency = 'EUR';
  const year = new Date().getFullYear();
  const holidays = [year, year + 1].flatMap((y) => DAYS_OFF.map((day) => `${y}-${day}`));
  job.trade = { ...TRADE, holidays };
  job.finishBy = new Date(Date.now() + DAYS_UNTIL_SHOWN * 86_400_000).toISOString().slice(0, 10);
  job.note =
    'The kitchen of a small canal-side flat that is being readied for sale. The counter, the floor and the tile stay; the cabinets are to be painted.';
  addRoom(job);

  const readings = new Map<string, Reading>();
  const taken = await Promise.all(
    PICTURES.map((picture, order) => takePicture(store, jobId, picture, order + 1)),
  );
  for (const [i, { photo, image: delivered }] of taken.entries()) {
    const picture = PICTURES[i];
    job.photos[photo.id] = photo;
    // Measuring is work: requests that came meanwhile are answered first.
    await new Promise((resolve) => setImmediate(resolve));
    const { image, board } = evened(delivered, PHOTO_SCENES[photo.role]);
    const correction = picture.paper
      ? correctionFromReferences(image, [
          { kind: 'white-paper', region: box(picture.paper, image) } as Reference,
        ])
      : correctionWithoutReference(image);
    if (board) {
      const painted = board.patches.filter((patch) => !patch.cardLike);
      for (const [i, patch] of painted.slice(0, STRIPS.length).entries()) {
        const region = {
          id: `strip${i + 1}`,
          order: i + 1,
          name: STRIPS[i].name,
          region: patch.region,
          colours: 'one',
        };
        photo.regions[region.id] = region as PhotoRegion;
      }
    }
    for (const entry of Object.values(photo.regions)) {
      readings.set(entry.id, readingOf(image, entry, { role: photo.role, correction }));
    }
  }
  addSwatches(job, readings);
  addSurfaces(job, readings);
  addMarks(job);
  return job;
}

function box([left, top, right, bottom]: Part, { width, height }: { width: number; height: number }): Region {
  return {
    kind: 'box',
    x: Math.round(left * width),
    y: Math.round(top * height),
    width: Math.round((right - left) * width),
    height: Math.round((bottom - top) * height),
  };
}

/** What a region says of a finish: its colour, or its colours by area and how busy they look. */
type Reading = Pick<Sample, 'colours' | 'pattern'>;

function readingOf(
  image: Image8,
  entry: PhotoRegion,
  { role, correction }: { role: Photo['role']; correction: ReturnType<typeof correctionWithoutReference> },
): Reading {
  const plain = (covariance: ArrayLike<number>) => Array.from(covariance);
  const region = entry.region as Region;
  if (entry.colours === 'several') {
    const { areas } = palette(image, { correction, region });
    const colours = areas.map(({ lab, covariance, share }) => ({
      lab,
      covariance: plain(covariance),
      share,
    }));
    const { left, right } = extentOf(region);
    const width = usualWidth((right - left) / image.width, role);
    const distance = VIEWING_DISTANCE;
    const found = measurePattern(image, region, { correction, width, distance });
    const pattern = found && { width, measured: false, busyness: found.busyness, distance };
    return { colours, ...(pattern && { pattern }) };
  }
  const { lab, covariance } = measureRegion(image, region, correction);
  return { colours: [{ lab, covariance: plain(covariance), share: 1 }] };
}

async function takePicture(
  store: Store,
  jobId: string,
  { file, name, role, paper, places }: (typeof PICTURES)[number],
  order: number,
): Promise<{ photo: Photo; image: Image8 }> {
  const source = path.join(sourceFolder(), 'static/sample', file);
  const taken = await takeIn(
    store,
    { jobId, name: file, body: fs.createReadStream(source), size: fs.statSync(source).size },
    { signal: new AbortController().signal, onProgress: () => {} },
  );
  const { stream } = await open(store, taken.fileId, 'working.png');
  const { data, info } = await stream.pipe(sharp()).raw().toBuffer({ resolveWithObject: true });
  const image: Image8 = { width: info.width, height: info.height, channels: 3, data, space: taken.space };
  const id = file.replace(/\.\w+$/, '');
  const photo: Photo = {
    id,
    order,
    roomId: 'kitchen',
    name,
    role,
    fileId: taken.fileId,
    width: taken.width,
    height: taken.height,
    space: taken.space,
    references: {},
    regions: {},
  };
  if (paper) {
    const region = box(paper, image) as Photo['references'][string]['region'];
    photo.references.paper = { id: 'paper', order: 1, kind: 'white paper', region, swatchId: null };
  }
  for (const [i, place] of places.entries()) {
    const region = box(place.part, image) as PhotoRegion['region'];
    photo.regions[place.id] = {
      id: place.id,
      order: i + 1,
      name: place.name,
      region,
      colours: place.colours,
    };
  }
  return { photo, image };
}

function addRoom(job: Job): void {
  const room: Room = {
    id: 'kitchen',
    order: 1,
    name: 'Kitchen',
    note: '',
    kind: 'kitchen',
    day: DAY,
    scheme: SCHEME,
  };
  job.rooms.kitchen = room;
  for (const [i, { id, name, hour }] of HOURS.entries()) {
    const light = momentAsLight(room, hour);
    if (light) job.lights[id] = { id, order: i + 1, roomId: room.id, name, ...light, kept: { hour } };
  }
}

const euros = (amount: number, unit: string) => ({ amount, currency: 'EUR', unit });

function addSwatches(job: Job, readings: ReadonlyMap<string, Reading>): void {
  let order = 0;
  const add = (id: string, fields: Partial<Swatch>, sample: Omit<Sample, 'id' | 'order' | 'note'> | null) => {
    job.swatches[id] = {
      id,
      order: (order += 1),
      kind: 'paint',
      maker: '',
      code: '',
      name: '',
      sheen: null,
      price: null,
      leadTimeDays: null,
      publishedLrv: null,
      samples: sample ? { s1: { id: 's1', order: 1, note: '', ...sample } } : {},
      note: '',
      ...fields,
    };
  };
  const measured = (photoId: string, regionId: string) => {
    const reading = readings.get(regionId);
    return reading
      ? { source: 'photo' as const, ...reading, reflectance: null, from: { photoId, regionId } }
      : null;
  };
  for (const [i, { maker, code, name, price, days }] of STRIPS.entries()) {
    const fields = { maker, code, name, sheen: 'satin' as const, leadTimeDays: days };
    add(code.toLowerCase(), { ...fields, price: euros(price, '2.5 l') }, measured('board', `strip${i + 1}`));
  }
  for (const read of [LIST, OTHER_LIST].flatMap((text) => parseSwatchList(text).swatches)) {
    const { maker, code, name, kind, sheen, price, leadTimeDays, publishedLrv } = read;
    const fields = {
      maker,
      code,
      name,
      kind: kind ?? 'paint',
      sheen,
      price,
      leadTimeDays,
      publishedLrv,
    } as const;
    const colours = [{ lab: read.lab, covariance: Array.from(read.covariance), share: 1 }];
    add(code.toLowerCase(), fields, { source: read.source, colours, reflectance: null, from: null });
  }
  add(
    'granite',
    {
      kind: 'stone',
      name: 'Heron granite',
      maker: 'Drumlin Stone',
      sheen: 'gloss',
      leadTimeDays: 42,
      price: euros(310, 'm2'),
    },
    measured('slab-busy', 'granite'),
  );
  add(
    'quiet',
    { kind: 'stone', name: 'Still Water', maker: 'Drumlin Stone', leadTimeDays: 10, price: euros(265, 'm2') },
    measured('slab-calm', 'stone'),
  );
  add(
    'veined',
    {
      kind: 'stone',
      name: 'Morning Haze',
      maker: 'Drumlin Stone',
      leadTimeDays: 21,
      price: euros(390, 'm2'),
    },
    measured('slab-veined', 'veined'),
  );
  add(
    'ring',
    {
      kind: 'tile',
      name: 'Ring tile',
      maker: 'Fennick Tile',
      code: 'FT-77',
      sheen: 'satin',
      leadTimeDays: 14,
      price: euros(86, 'm2'),
    },
    measured('tile-ring', 'ring'),
  );
  add(
    'tile',
    {
      kind: 'tile',
      name: 'Half-bond tile',
      maker: 'Fennick Tile',
      sheen: 'gloss',
      leadTimeDays: 7,
      price: euros(48, 'm2'),
    },
    measured('kitchen-day', 'tile'),
  );
  add(
    'oak',
    { kind: 'wood', name: 'Oak planks', note: 'laid in the flat' },
    measured('kitchen-day', 'floor'),
  );
  add('wall', { name: 'Warm off-white', note: 'painted last week', sheen: 'matt' }, null);
  const fog = {
    maker: 'Oddmoor',
    code: 'OM-352',
    name: 'Fog Sluice',
    sheen: 'satin',
    leadTimeDays: 6,
  } as const;
  add('om-352', { ...fog, price: euros(63, '2.5 l') }, null);
  for (const swatch of Object.values(job.swatches)) {
    if (swatch.kind === 'paint' && swatch.price)
      swatch.supply = paintSupply(`${swatch.maker} paint counter`, swatch.price.amount);
  }
  addReadings(job);
  for (const { id, source, doubt, colours } of KNOWN) {
    const samples = job.swatches[id].samples;
    const covariance = Array.from(isotropicCovariance(doubt));
    samples.known = {
      id: 'known',
      order: 2,
      source,
      colours: colours.map(([L, a, b, share]) => ({ lab: { L, a, b }, covariance, share })),
      reflectance: null,
      from: null,
      note: '',
    };
  }
}

function addSurfaces(job: Job, readings: ReadonlyMap<string, Reading>): void {
  let order = 0;
  const add = (kind: SurfaceKind, name: string, fields: Partial<Surface>) => {
    const id = kind.replaceAll(' ', '-');
    job.surfaces[id] = {
      id,
      order: (order += 1),
      roomId: 'kitchen',
      name,
      kind,
      state: 'fixed',
      swatchId: null,
      candidateIds: {},
      target: null,
      criteria: DEFAULT_CRITERIA,
      area: AREAS[id],
      parts: Object.fromEntries((PARTS[id] ?? []).map((one) => [one.id, one])),
      ...(WORK[id] && { work: WORK[id] }),
      ...fields,
    };
  };
  const asCandidates = (ids: readonly string[]) => Object.fromEntries(ids.map((id) => [id, true as const]));
  const inspiring = (regionId: string): Surface['target'] => {
    const [colour] = readings.get(regionId)?.colours ?? [];
    const name = job.photos.inspiration.regions[regionId]?.name;
    return colour
      ? {
          kind: 'photo',
          photoId: 'inspiration',
          regionId,
          at: null,
          estimate: { lab: colour.lab, covariance: colour.covariance },
          words: `“${name}” in “Inspiration”`,
        }
      : null;
  };
  add('cabinets', 'Cabinets', {
    state: 'open',
    candidateIds: asCandidates(ALTERNATIVES.cabinets),
    criteria: CABINET_CRITERIA,
    target: inspiring('green'),
  });
  const fixed = (kind: keyof typeof ALTERNATIVES, name: string, swatchId: string) =>
    add(kind, name, {
      swatchId,
      candidateIds: asCandidates(ALTERNATIVES[kind]),
      target: kind in IN_INSPIRATION ? inspiring(IN_INSPIRATION[kind as keyof typeof IN_INSPIRATION]) : null,
    });
  fixed('counter', 'Counter', 'granite');
  fixed('backsplash', 'Backsplash', 'tile');
  fixed('walls', 'Walls', 'wall');
  fixed('floor', 'Floor', 'oak');
  add('hardware', 'Handles', { state: 'open', candidateIds: asCandidates(ALTERNATIVES.hardware) });
}
