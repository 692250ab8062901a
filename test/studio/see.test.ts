import { describe, expect, test } from 'vitest';
import type { Job, Photo, SurfaceMask } from '#lib/job/index.ts';
import { estimateCorrection } from '#lib/photo/index.ts';
import { viewing, type Viewing } from '#lib/studio/look.ts';
import {
  finishOf,
  lightGuesses,
  lightToldWords,
  lightWay,
  lookOf,
  percent,
  photoToSee,
  pictureTitles,
  placesIn,
  readTried,
  roomPhotos,
  viewOf,
  type LightTold,
} from '#lib/studio/see.ts';
import { bordersInWords, lightnessWords, neighboursOf, type Border } from '#lib/studio/seen-borders.ts';
import {
  captionLines,
  ESTIMATED_OFF,
  patternsLeftOut,
  statusLine,
  wrapped,
} from '#lib/studio/seen-caption.ts';
import { kitchen } from '../job/kitchen.ts';

const mark = (id: string): SurfaceMask => ({
  id,
  fileId: 'f1',
  mask: { kind: 'mask', version: 1, width: 1600, height: 1067, sum: 1, code: '' },
  plane: null,
});

/** The invented kitchen with its cabinets and counter marked, and a wall that is not. */
function marked(): { job: Job; photo: Photo } {
  const job = kitchen();
  job.photos.day.masks = { cabinets: mark('cabinets'), counter: mark('counter') };
  job.surfaces.walls = {
    ...job.surfaces.cabinets,
    id: 'walls',
    order: 0,
    name: 'Walls',
    kind: 'walls',
    candidateIds: {},
  };
  return { job, photo: job.photos.day };
}

const places = ({ job, photo }: { job: Job; photo: Photo }, tried = {}, ranked = {}) =>
  placesIn(job, photo, { tried, ranked });

describe('photos to see', () => {
  test('are those of rooms; one with marked surfaces comes first unless another is asked for', () => {
    const { job } = marked();
    job.photos.early = { ...job.photos.day, id: 'early', order: 0, masks: undefined };
    job.photos.board = { ...job.photos.day, id: 'board', order: -1, role: 'sample board' };
    expect(roomPhotos(job).map(({ id }) => id)).toEqual(['early', 'day']);
    expect(photoToSee(job, null)?.id).toBe('day');
    expect(photoToSee(job, 'early')?.id).toBe('early');
    expect(photoToSee(job, 'board')?.id).toBe('day');
    expect(photoToSee({ ...job, photos: {} }, null)).toBeNull();
  });
});

describe('what stands on a surface', () => {
  test('is as photographed until something is tried; marked surfaces come first', () => {
    const found = places(marked());
    expect(found.map(({ surface, marked, on }) => [surface.id, marked, on])).toEqual([
      ['cabinets', true, null],
      ['counter', true, null],
      ['walls', false, null],
    ]);
  });

  test('is what is tried, and what is chosen where nothing is', () => {
    const scene = marked();
    expect(places(scene, { cabinets: 'clay' })[0].on?.id).toBe('clay');
    Object.assign(scene.job.surfaces.cabinets, { state: 'chosen', swatchId: 'sage' });
    expect(places(scene)[0].on?.id).toBe('sage');
    expect(places(scene, { cabinets: 'clay' })[0].on?.id).toBe('clay');
    expect(places(scene, { cabinets: null })[0].on).toBeNull();
  });

  test('does not count as marked where the mark was drawn on another picture or on one of another size', () => {
    const scene = marked();
    const masks = scene.photo.masks as Record<string, SurfaceMask>;
    masks.counter = { ...masks.counter, fileId: 'f0' };
    masks.cabinets = { ...masks.cabinets, mask: { ...masks.cabinets.mask, width: 1599 } };
    const found = places(scene, { cabinets: 'sage' });
    expect(found.filter((place) => place.marked)).toEqual([]);
    // That is told from a surface nobody ever marked.
    expect(found.filter((place) => place.markedEarlier).map(({ name }) => name)).toEqual([
      'Cabinets',
      'Counter',
    ]);
    const text = captionLines(scene.job, {
      photo: scene.photo,
      places: found,
      light: null,
      told: null,
      date: 'today',
    });
    expect(text.join(' ')).toContain('No finish is put on');
  });

  test('is never a swatch that is gone or has no colour', () => {
    const scene = marked();
    expect(places(scene, { cabinets: 'gone' })[0].on).toBeNull();
    expect(places(scene, { cabinets: 'bare' })[0].on).toBeNull();
    expect(places(scene)[0].without.map(({ id }) => id)).toEqual(['bare']);
  });

  test('can be chosen from the candidates in the order of the shortlist, the rest after them', () => {
    const scene = marked();
    const ids = (ranked: Record<string, string[]>) =>
      places(scene, {}, ranked)[0].choices.map(({ id }) => id);
    expect(ids({})).toEqual(['sage', 'clay']);
    expect(ids({ cabinets: ['clay', 'sage'] })).toEqual(['clay', 'sage']);
    expect(ids({ cabinets: ['clay'] })).toEqual(['clay', 'sage']);
    // A finish of the job that is no candidate can be tried all the same, and is then among them.
    expect(places(scene, { cabinets: 'granite' })[0].choices.map(({ id }) => id)).toContain('granite');
  });

  test('is known of a fixed surface without putting it on', () => {
    const { job, photo } = marked();
    const [cabinets, counter] = places({ job, photo });
    expect(finishOf(job, counter)?.id).toBe('granite');
    expect(finishOf(job, cabinets)).toBeNull();
  });

  test('as photographed it has what is there, whatever is to come', () => {
    const { job } = marked();
    const { counter } = job.surfaces;
    const coming = { ...counter, state: 'chosen' as const, swatchId: 'sage', thereId: 'granite' };
    expect(finishOf(job, { surface: coming, on: null })?.id).toBe('granite');
  });

  test('what stands under the pictures names what is on the marked surfaces', () => {
    const place = places(marked(), { cabinets: 'sage' }).find(({ surface }) => surface.id === 'cabinets')!;
    const after = (some: (typeof place)[]) => pictureTitles(some, null).after;
    expect(after([{ ...place, marked: true }])).toMatch(/^After: simulated, Cabinets in .*sage/i);
    for (const bare of [[], [{ ...place, marked: false }], [{ ...place, marked: true, on: null }]])
      expect(after(bare)).toBe('After: as photographed, nothing is put on');
  });

  test('in another light nothing is called as photographed: before and after are both in that light', () => {
    const on = places(marked(), { cabinets: 'sage' });
    for (const some of [on, []]) {
      const { before, after, wipe } = pictureTitles(some, { name: 'Pendants' });
      for (const title of [before, after, wipe]) {
        expect(title).toContain('under “Pendants”');
        expect(title).not.toContain('photographed');
      }
    }
    expect(pictureTitles(on, null).before).toBe('Before: as photographed');
  });

  test('comes back from what a tab kept, or from nothing', () => {
    expect(readTried('{"cabinets":"clay","walls":null}')).toEqual({ cabinets: 'clay', walls: null });
    expect(readTried('{"cabinets":3}')).toEqual({});
    for (const text of [null, '', '[1]', 'null', '{', '"x"']) expect(readTried(text)).toEqual({});
  });
});

describe('what touches what', () => {
  const borders: Border[] = [
    { a: 'cabinets', b: 'counter', length: 300 },
    { a: 'walls', b: 'cabinets', length: 900 },
  ];

  test('is told with the longest border first, each with its share', () => {
    const scene = marked();
    const found = neighboursOf(scene.job, 'cabinets', { places: places(scene), borders, light: null });
    expect(found.map(({ place, share }) => [place.surface.id, share])).toEqual([
      ['walls', 0.75],
      ['counter', 0.25],
    ]);
    expect(neighboursOf(scene.job, 'counter', { places: places(scene), borders, light: null })).toHaveLength(
      1,
    );
    expect(neighboursOf(scene.job, 'gone', { places: places(scene), borders, light: null })).toEqual([]);
  });

  test('is compared only where both finishes are known, under the light that is shown', () => {
    const scene = marked();
    const at = { places: places(scene, { cabinets: 'sage' }), borders };
    const [walls, counter] = neighboursOf(scene.job, 'cabinets', { ...at, light: null });
    expect(walls.pairing).toBeNull();
    expect(counter.pairing?.lightName).toBe('daylight');
    const evening = viewing(scene.job.lights.evening);
    const [, under] = neighboursOf(scene.job, 'cabinets', { ...at, light: evening });
    expect(under.pairing?.lightName).toBe('Pendants');
    const asIs = neighboursOf(scene.job, 'cabinets', { places: places(scene), borders, light: null });
    expect(asIs.every(({ pairing }) => pairing === null)).toBe(true);
    expect(bordersInWords(asIs)).toBeNull();
  });

  test('a counter that differs by less than 30 points of LRV is a faint edge (BS 8300-2:2018)', () => {
    const scene = marked();
    const edge = (swatchId: string) =>
      neighboursOf(scene.job, 'cabinets', {
        places: places(scene, { cabinets: swatchId }),
        borders: [borders[0]],
        light: null,
      })[0];
    const near = edge('clay');
    expect(Math.abs(near.pairing?.lrvDifference ?? 99)).toBeLessThan(30);
    expect(near.faintEdge).toBe(true);
    scene.job.swatches.clay.samples.s1.colours[0].lab = { L: 97, a: 0, b: 1 };
    expect(edge('clay').faintEdge).toBe(false);
    // Cabinets and walls are no edge that people find their way by.
    Object.assign(scene.job.surfaces.counter, { kind: 'walls' });
    expect(edge('sage').faintEdge).toBe(false);
  });

  test('what lightness makes of an edge never contradicts what the colours make of it', () => {
    // A walk over the whole of CIELAB; the kinds are those of the verdict.
    let faint = 0;
    for (let n = 0; n < 400; n += 1) {
      const lab = (k: number) => ({
        L: 5 + ((n * 37 + k * 53) % 91),
        a: -40 + ((n * 29 + k * 61) % 81),
        b: -40 + ((n * 17 + k * 71) % 81),
      });
      const scene = marked();
      const colour = scene.job.swatches.sage.samples.s1.colours[0];
      scene.job.swatches.sage.samples.s1.colours = [{ ...colour, lab: lab(0) }];
      scene.job.swatches.granite.samples.s1.colours = [
        { ...colour, lab: n % 3 === 0 ? { ...lab(0), L: lab(0).L + 2 } : lab(1) },
      ];
      const [{ pairing, faintEdge }] = neighboursOf(scene.job, 'cabinets', {
        places: places(scene, { cabinets: 'sage' }),
        borders: [borders[0]],
        light: null,
      });
      if (!pairing) throw new Error('expected a pairing');
      const words = lightnessWords(pairing, faintEdge);
      const clear = pairing.kind === 'related' || pairing.kind === 'separate';
      // Faint where the verdict is a clear one is so for low vision alone, and says who sees it.
      expect(/faint/.test(words), words).toBe(faintEdge);
      expect(/most people see/.test(words), words).toBe(faintEdge && clear);
      expect(words).not.toMatch(/\b1 points\b/);
      // BS 8300-2:2018 asks for 30: what is said to be too little must not read as enough.
      const said = Number(/LRV (\d+(\.\d)?) points? apart/.exec(words)?.[1]);
      expect(said >= 30, words).toBe(!faintEdge);
      faint += Number(faintEdge && clear);
    }
    expect(faint).toBeGreaterThan(50);
  });

  test('the sentence weighs a near miss by its length', () => {
    const scene = marked();
    // Two greys, 3 apart in lightness: a near miss by the bands of common practice.
    const grey = (L: number) => [
      { ...scene.job.swatches.sage.samples.s1.colours[0], lab: { L, a: 0, b: 0 } },
    ];
    scene.job.swatches.sage.samples.s1.colours = grey(60);
    scene.job.swatches.granite.samples.s1.colours = grey(63);
    Object.assign(scene.job.surfaces.walls, { state: 'fixed', swatchId: 'clay' });
    const found = neighboursOf(scene.job, 'cabinets', {
      places: places(scene, { cabinets: 'sage' }),
      borders,
      light: null,
    });
    expect(bordersInWords(found)).toBe('A near miss along 25 % of its edges: with “Counter”.');
  });

  test('shares are said as people say them', () => {
    expect([0, 0.004, 0.256, 1].map(percent)).toEqual(['0 %', 'less than 1 %', '26 %', '100 %']);
  });
});

describe('the caption of an exported pair', () => {
  const date = '26 November 2026';

  test('says that it is a simulation, by which light, which finish from which sample, and the date', () => {
    const scene = marked();
    const { job, photo } = scene;
    const light = viewing(job.lights.evening);
    const on = places(scene, { cabinets: 'sage' });
    const text = captionLines(job, { photo, places: on, light, told: null, date });
    expect(text[0]).toContain('simulation');
    expect(text[0]).toContain('“Kitchen by day”');
    expect(text[0]).toContain('“Pendants”');
    expect(text[0]).toContain(date);
    expect(text[2]).toBe(
      'Cabinets: Ternhollow TH-1 sage, satin; colour read from a sample with an instrument.',
    );
    expect(text.at(-1)).toContain('see the painted sample in the room');
    expect(text.join(' ')).not.toContain('estimated');
  });

  test('says where nothing is known or nothing is put on', () => {
    const scene = marked();
    scene.photo.references = {};
    const text = captionLines(scene.job, {
      photo: scene.photo,
      places: places(scene),
      light: null,
      told: null,
      date,
    });
    // The very size that the correction gives itself.
    expect(estimateCorrection(new Float32Array([0.1, 0.2, 0.3, 0.5, 0.4, 0.2])).notes.join(' ')).toContain(
      `off by about ${ESTIMATED_OFF} (CIEDE2000)`,
    );
    expect(text.join(' ')).toContain(`only estimated: off by about ${ESTIMATED_OFF} (CIEDE2000), plainly`);
    expect(text.join(' ')).toContain('No finish is put on');
    expect(text[0]).toContain('plain daylight');
  });

  test('is the same truth as above the pictures: by estimate, with its size, where nothing is known', () => {
    const light = viewing(marked().job.lights.evening);
    for (const simulated of [true, false])
      for (const shown of [light, null]) {
        const said = (estimated: boolean) => statusLine({ simulated, light: shown, told: null, estimated });
        expect(said(false)).not.toMatch(/estimate|off by/);
        expect(said(true)).toContain(`off by about ${ESTIMATED_OFF} (CIEDE2000)`);
        if (!simulated) expect(said(true)).toContain('corrected by estimate');
        // Lamps that are left in a photo are no plain daylight.
        if (!shown) expect(said(false)).toMatch(/own light, corrected towards plain daylight/);
      }
  });

  test('names the photo a sample was measured in', () => {
    const scene = marked();
    scene.job.swatches.sage.samples.s1.source = 'photo';
    scene.job.swatches.sage.samples.s1.from = { photoId: 'day', regionId: 'r1' };
    const lines = captionLines(scene.job, {
      photo: scene.photo,
      places: places(scene, { cabinets: 'sage' }),
      light: null,
      told: null,
      date,
    });
    expect(lines[2]).toContain('colour measured in the photo “Kitchen by day”');
  });

  test('says of stone that is drawn in its mean colour that its pattern is not shown, and of paint nothing', () => {
    const scene = marked();
    scene.job.swatches.slab = {
      ...scene.job.swatches.sage,
      id: 'slab',
      kind: 'stone',
      name: 'Slab',
      code: '',
    };
    const lines = captionLines(scene.job, {
      photo: scene.photo,
      places: places(scene, { cabinets: 'sage', counter: 'slab' }),
      light: null,
      told: null,
      date,
    });
    const of = (name: string) => lines.find((line) => line.startsWith(`${name}: `));
    expect(of('Counter')).toMatch(/Slab.*; colour .*\. Its pattern is not shown, only its mean colour\.$/);
    expect(of('Cabinets')).not.toContain('pattern');
  });

  test('of a board names what is drawn without its pattern, or counts it where names are too many', () => {
    const { sage } = marked().job.swatches;
    const plain = (count: number) =>
      Array.from({ length: count }, (_, i) => ({ surface: `Top ${i}`, swatch: sage }));
    expect(patternsLeftOut([])).toBe('');
    expect(patternsLeftOut(plain(1))).toMatch(/its mean colour, without its pattern: Top 0 in .*sage/);
    expect(patternsLeftOut(plain(2))).toMatch(/their mean colours.*Top 0 in .*; Top 1 in/);
    // A board takes 600 letters under a picture; how its light was worked out stands there too.
    expect(patternsLeftOut(plain(40)).length).toBeLessThan(300);
    expect(patternsLeftOut(plain(40))).toContain('40 finishes');
  });

  test('says in words how the light was worked out: as one, panes apart, or window and lamps apart', () => {
    const { job, photo } = marked();
    const made = (told: LightTold | null, light: Viewing | null = viewing(job.lights.evening)) =>
      captionLines(job, { photo, places: [], light, told, date })[1];
    expect(made(null)).toMatch(/^All light in the photo .* as one: sun and shadows stay/);
    expect(made({ told: 'apart', mean: 0.44, seen: 0.03 })).toMatch(
      /window and that of the lamps are worked out apart.*44 % of the light .* the window’s/,
    );
    expect(made({ told: 'panes', mean: 1, seen: 0.03 })).toMatch(
      /as one.*only the panes of the window, and sun with a hard edge/,
    );
    expect(made({ told: 'panes', mean: 1, seen: 0.03 })).not.toContain('100 %');
    expect(made(null, null)).toMatch(/corrected to plain daylight.*a dark window stays dark/);
  });

  test('is wrapped so that every line fits and no letter is lost, however long a name is', () => {
    const measure = (text: string) => [...text].length * 10;
    const long = `A name ${'extraordinarily'.repeat(9)} that goes on, and on  and on`;
    for (const width of [60, 200, 5000]) {
      const lines = wrapped(long, width, measure);
      for (const line of lines) expect(measure(line)).toBeLessThanOrEqual(width);
      expect(lines.join('').replaceAll(' ', '')).toBe(long.replaceAll(' ', ''));
    }
    expect(wrapped(long, 5000, measure)).toHaveLength(1);
    expect(wrapped('', 100, measure)).toEqual([]);
    // A letter wider than the line still gets one of its own.
    expect(wrapped('ab', 5, measure)).toEqual(['a', 'b']);
  });
});

describe('what is said of a photo’s own light', () => {
  const apart = { told: 'apart', mean: 0.44, seen: 0 } as const;
  const panes = { told: 'panes', mean: 1, seen: 0.03 } as const;

  test('names the share of the window where lights are told apart, and how panes are made to go dark', () => {
    expect(lightToldWords(apart)).toMatch(/^About 44 % of the light .*Point at the bright panes/);
    expect(lightToldWords({ ...apart, seen: 0.03 })).toMatch(/44 %.*panes cover 3 %/);
    expect(lightToldWords(panes)).toMatch(/^The window’s panes cover 3 % .*one light\.$/);
    expect(lightToldWords(panes)).not.toMatch(/100 %/);
  });

  test('what is assumed goes with what was told, and so it does where nothing was', () => {
    const said = (light: LightTold | null) => lightGuesses(light).join(' ');
    expect(lightWay(null)).toBe('');
    expect(said(null)).toMatch(/changed as one: sun, shadows/);
    expect(said(apart)).toMatch(/told apart by the colour of their light/);
    expect(said({ ...apart, seen: 0.03 })).toMatch(/Without it the glass is dark/);
    expect(said(panes)).toMatch(/taken to be the window’s/);
    expect(lightWay(apart)).not.toBe(lightWay(panes));
  });

  test('a photo taken at night is said to keep its dark panes by day, unless the panes were found', () => {
    for (const light of [null, apart])
      expect(lightGuesses(light).join(' ')).toMatch(/dark.* stays? dark by day/);
    expect(lightGuesses(panes).join(' ')).not.toMatch(/by day/);
  });

  test('where panes were pointed at nothing says that they stay bright, also while the picture does not use it', () => {
    for (const known of [panes, apart, { ...apart, seen: 0.03 }])
      for (const shown of [null, known]) {
        const said = lightGuesses(shown, known).join(' ');
        if (known.seen > 0) expect(said).not.toMatch(/window that was bright stays bright/);
        if (known.seen > 0) expect(said).toMatch(/dark/);
        // What is corrected as one is not said to be told apart.
        if (!shown) expect(said).toMatch(/^Here all light in this photo is corrected as one/);
      }
  });

  test('a lamp that was off is said not to be lit, whatever was told', () => {
    for (const light of [null, apart, panes])
      expect(lightGuesses(light).join(' ')).toMatch(/lamps (that were off stay dark|stay on or off)/i);
  });
});

describe('a look at a photo', () => {
  const photo = { width: 1600, height: 1000 };

  test('keeps its middle and zoom from one frame to another', () => {
    const [small, large] = [
      { width: 400, height: 250 },
      { width: 1280, height: 800 },
    ];
    const look = { zoom: 4, x: 700, y: 420 };
    const there = lookOf(viewOf(look, photo, small), photo, small);
    const back = lookOf(viewOf(there, photo, large), photo, large);
    expect(back.zoom).toBeCloseTo(4, 9);
    expect(back.x).toBeCloseTo(700, 6);
    expect(back.y).toBeCloseTo(420, 6);
  });

  test('stays within the photo and shows no less than the whole of it', () => {
    const frame = { width: 800, height: 500 };
    expect(viewOf({ zoom: 0.2, x: 0, y: 0 }, photo, frame)).toEqual({ scale: 0.5, x: 0, y: 0 });
    const corner = lookOf(viewOf({ zoom: 2, x: -50, y: 5000 }, photo, frame), photo, frame);
    expect(corner.x).toBeCloseTo(400, 6);
    expect(corner.y).toBeCloseTo(750, 6);
  });
});
