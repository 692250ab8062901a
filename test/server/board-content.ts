/** A round of the sample kitchen as the studio would freeze it, for the tests of a board's page, file and paper. */
import { createHash } from 'node:crypto';
import fs from 'node:fs';
import sharp from 'sharp';
import { canonicalText, parseBoardContent, type BoardContent, type BoardFinish } from '#lib/job/index.ts';

const FILES = {
  before: 'static/sample/kitchen-day.jpg',
  day: 'static/sample/kitchen-day.jpg',
  evening: 'static/sample/kitchen-lamp.jpg',
  dusk: 'static/sample/kitchen-mixed.jpg',
  quiet: 'static/sample/slab-calm.jpg',
  veined: 'static/sample/slab-veined.jpg',
} as const;
export type PictureName = keyof typeof FILES;
export const PICTURE_NAMES = Object.keys(FILES) as PictureName[];

const WORDS: Record<PictureName, string> = {
  before: 'The kitchen as it is: worn pale cabinets, a dark speckled counter, oak floor.',
  day: 'The kitchen with deep green cabinets, by day.',
  evening: 'The kitchen with deep green cabinets, by the pendants.',
  dusk: 'The kitchen with deep green cabinets, at dusk.',
  quiet: 'A quiet stone, evenly pale grey.',
  veined: 'A pale stone with darker veins.',
};

/** Long side of the pictures of a round, px. */
const SIDE = 1600;

/** A picture of the sample job at a width, as JPEG or WebP. */
export async function pictureBytes(
  name: PictureName,
  { side = SIDE, type = 'jpeg' }: { side?: number; type?: 'jpeg' | 'webp' } = {},
): Promise<Buffer> {
  const options = { width: side, height: side, fit: 'inside', withoutEnlargement: true } as const;
  return await sharp(FILES[name]).resize(options).toFormat(type, { quality: 78 }).toBuffer();
}

async function picture(name: PictureName) {
  const { width, height } = await sharp(await pictureBytes(name)).metadata();
  const hash = createHash('sha256').update(fs.readFileSync(FILES[name])).digest('hex');
  return { id: name, width, height, words: WORDS[name], hash };
}

const lights = ['North window, clear day', 'Pendants in the evening', 'Dusk, window and pendants'];

function finish(
  fields: Partial<BoardFinish> & Pick<BoardFinish, 'surfaceId' | 'surface' | 'swatchId'>,
): BoardFinish {
  const colours = fields.colours ?? [{ screen: '#8a8a8a', share: 1 }];
  return {
    kind: 'paint',
    maker: '',
    code: '',
    name: '',
    sheen: '',
    state: 'proposed',
    colours,
    under: lights.map((light, i) => ({
      light,
      screen: colours[0].screen,
      words: ['as in the list', 'a shade warmer, much darker', 'a touch warmer, clearly darker'][i],
    })),
    lrv: 30,
    area: null,
    words: '',
    ...fields,
  };
}

const deepLock = finish({
  surfaceId: 'cabinets',
  surface: 'Cabinets',
  swatchId: 'th-19',
  maker: 'Ternhollow',
  code: 'TH-19',
  name: 'Deep Lock',
  sheen: 'satin',
  colours: [{ screen: '#2f4a40', share: 1 }],
  lrv: 6,
  area: 0.31,
  words: 'A dark greyish green.',
});
const quiet = finish({
  surfaceId: 'counter',
  surface: 'Counter',
  swatchId: 'quiet',
  kind: 'stone',
  maker: 'Holm Quarry',
  code: 'HQ-7',
  name: 'Quiet stone',
  sheen: 'honed',
  colours: [
    { screen: '#b9b6ae', share: 0.8 },
    { screen: '#a09c94', share: 0.2 },
  ],
  lrv: 46,
  area: 0.14,
  words: 'A pale warm grey, calm.',
});
const veined = {
  ...quiet,
  swatchId: 'veined',
  code: 'HQ-9',
  name: 'Veined stone',
  words: 'Nearly white with grey veins.',
};
veined.colours = [
  { screen: '#d5d2cc', share: 0.75 },
  { screen: '#8f8c87', share: 0.25 },
];
veined.lrv = 60;

/** Surfaces and swatches by the names that random ids could have. */
export async function kitchenBoard(): Promise<BoardContent> {
  const pictures = Object.fromEntries(
    await Promise.all(PICTURE_NAMES.map(async (name) => [name, await picture(name)])),
  ) as Record<PictureName, Awaited<ReturnType<typeof picture>>>;
  return parseBoardContent({
    format: 1,
    title: 'Canal-side kitchen',
    client: 'Ida and Jonas Fenn',
    room: 'Kitchen',
    designer: { name: 'Marit Osk', line: 'Rooms and finishes, Lockhouse 4', mark: null },
    made: '2027-02-10',
    pages: [
      {
        kind: 'pictures',
        title: '',
        words:
          'The cabinets turn a deep green that sits with the oak. Counter and tile are calmer than today.',
        before: pictures.before,
        after: [
          { light: lights[0], words: 'The green is clearly green.', picture: pictures.day },
          {
            light: lights[1],
            words: 'By the pendants the green goes nearly black.',
            picture: pictures.evening,
          },
          { light: lights[2], words: '', picture: pictures.dusk },
        ],
        places: [
          { surfaceId: 'cabinets', surface: 'Cabinets', x: 0.3, y: 0.62 },
          { surfaceId: 'counter', surface: 'Counter', x: 0.45, y: 0.5 },
          { surfaceId: 'walls', surface: 'Walls', x: 0.75, y: 0.2 },
        ],
      },
      {
        kind: 'finishes',
        title: '',
        words: '',
        finishes: [
          deepLock,
          finish({
            surfaceId: 'walls',
            surface: 'Walls',
            swatchId: 'om-101',
            maker: 'Oddmoor',
            code: 'OM-101',
            name: 'Sailcloth',
            sheen: 'matt',
            colours: [{ screen: '#e4ddcf', share: 1 }],
            lrv: 73,
            area: 0.28,
            words: 'A pale yellowish white.',
          }),
          finish({
            surfaceId: 'floor',
            surface: 'Floor',
            swatchId: 'oak',
            kind: 'wood',
            name: 'Oak planks',
            state: 'stays',
            colours: [
              { screen: '#805f40', share: 0.3 },
              { screen: '#a07b57', share: 0.45 },
              { screen: '#b7956f', share: 0.25 },
            ],
            lrv: 25,
            area: 0.24,
            words: 'Light brown, lively.',
          }),
          finish({
            surfaceId: 'trim_1',
            surface: 'Trim',
            swatchId: 'th-12',
            maker: 'Ternhollow',
            code: 'TH-12',
            name: 'Reed Hollow',
            sheen: 'satin',
            colours: [{ screen: '#8f8a63', share: 1 }],
            lrv: 25,
            area: 0.02,
            words: 'A greyish olive.',
          }),
          finish({
            surfaceId: 'hardware',
            surface: 'Hardware',
            swatchId: 'tg-b',
            kind: 'metal',
            maker: 'Tollgate Fittings',
            code: 'TG-B',
            name: 'Pull, brushed brass',
            state: 'open',
            colours: [{ screen: '#9c8660', share: 1 }],
            lrv: 27,
            area: 0.01,
            words: 'A warm metal.',
          }),
        ],
      },
      {
        kind: 'choice',
        title: '',
        words: 'The slab you had is sold. Both of these are in the yard.',
        surfaceId: 'counter',
        surface: 'Counter',
        options: [
          { finish: quiet, picture: pictures.quiet },
          { finish: veined, picture: pictures.veined },
        ],
        differences: [
          'A is calm; B is busy and asks for a plain tile.',
          'B costs 140 more and comes nine days later.',
        ],
      },
      {
        kind: 'reasons',
        title: '',
        words: '',
        reasons: [
          {
            sentence: 'Deep Lock is the nearest of eleven greens to your picture.',
            number: 'CIEDE2000 3.1; the next has 5.4',
          },
          {
            sentence: 'Cabinets and walls are told apart by everybody.',
            number: 'LRV 6 and 73: 67 points apart',
          },
          { sentence: 'All paints are here before the painter.', number: '' },
        ],
      },
      {
        kind: 'changes',
        title: '',
        words: '',
        since: 1,
        changes: [
          {
            surface: 'Walls',
            was: 'Wet Chalk, Ternhollow TH-03, matt',
            is: 'Sailcloth, Oddmoor OM-101, matt',
          },
        ],
      },
      {
        kind: 'open',
        title: '',
        words: '',
        items: ['Pulls: brass or nickel, to be seen in the room.', 'The day of the painter.'],
      },
      { kind: 'words', title: 'A word from me', words: 'Take your time.\n\nCall when the lamps are on.' },
      {
        kind: 'cautions',
        title: '',
        words: '',
        items: ['Old paint may hold lead: have it tested before sanding; local rules decide.'],
      },
    ],
  });
}

export function hashOf(content: BoardContent): string {
  return createHash('sha256').update(canonicalText(content)).digest('hex');
}

/** Text that tries to be more than text, or to look like less. */
export const HOSTILE = [
  '"><script>alert(1)</script>',
  "'><img src=x onerror=alert(1)>",
  '</style><script>alert(1)</script>',
  '</title></textarea></script><svg onload=alert(1)>',
  '<!--',
  'javascript:alert(1)',
  '&lt;b&gt; &amp;amp;',
  '\u202Eelbisiver\u202C 90,1',
  'a\u200B\u200Bb\uFEFF',
  'Ä'.repeat(110),
  'W'.repeat(119),
  '👩‍🎨🏳️‍🌈 ﷽ עברית 日本語',
  '{{7*7}} ${7*7} `x` \\u0041',
  'line one\nline two\u0000\u0007',
] as const;

/** The kitchen's round with a text in every place that people fill in. */
export function withText(content: BoardContent, text: string): BoardContent {
  const said = (longest: number) => text.slice(0, longest).toWellFormed();
  const finishOf = (one: BoardFinish): BoardFinish => ({
    ...one,
    surface: said(80),
    kind: said(20),
    maker: said(120),
    code: said(60),
    name: said(120),
    sheen: said(40),
    words: said(300),
    under: one.under.map((look) => ({ ...look, light: said(120), words: said(300) })),
  });
  const changed = structuredClone(content);
  for (const page of changed.pages) {
    page.title = said(120);
    page.words = said(2000);
    if (page.kind === 'pictures') {
      page.before.words = said(600);
      for (const after of page.after)
        Object.assign(after, {
          light: said(120),
          words: said(600),
          picture: { ...after.picture, words: said(600) },
        });
      for (const place of page.places) place.surface = said(80);
    }
    if (page.kind === 'finishes') page.finishes = page.finishes.map(finishOf);
    if (page.kind === 'reasons')
      page.reasons = page.reasons.map(() => ({ sentence: said(600), number: said(120) }));
    if (page.kind === 'choice') {
      page.surface = said(80);
      page.options[0].finish = finishOf(page.options[0].finish);
      page.options[1].finish = finishOf(page.options[1].finish);
      page.differences = [said(400)];
    }
    if (page.kind === 'changes') page.changes = [{ surface: said(80), was: said(300), is: said(300) }];
    if (page.kind === 'open' || page.kind === 'cautions') page.items = [said(400)];
  }
  return parseBoardContent({
    ...changed,
    title: said(160),
    client: said(120),
    room: said(120),
    designer: { ...changed.designer, name: said(120), line: said(200) },
  });
}
