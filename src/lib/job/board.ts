import { z } from 'zod';
import { finite, id, record, text, type Id } from './fields.ts';

// What a client sees and answers. A draft is part of the job and changes with it; a round is frozen: content that no
// later edit of the job reaches, with pictures of its own.

export const BOARD_PAGE_KINDS = [
  'pictures',
  'finishes',
  'reasons',
  'choice',
  'changes',
  'open',
  'words',
  'cautions',
] as const;
export type BoardPageKind = (typeof BOARD_PAGE_KINDS)[number];

export const VERDICTS = ['yes', 'no', 'change'] as const;
export type Verdict = (typeof VERDICTS)[number];

/** Longest words of a page, of a comment on one surface, and of a comment on the whole. */
export const LONGEST = { words: 2000, comment: 1000, whole: 2000 } as const;
const words = text(LONGEST.words);

/** A page as the designer plans it. */
const draftPage = z.strictObject({
  id,
  order: finite,
  kind: z.enum(BOARD_PAGE_KINDS),
  shown: z.boolean(),
  title: text(120),
  words,
  /** For `pictures`: the room photo; null for the first with marked surfaces. */
  photoId: id.nullable(),
  /** For `choice`: the surface and the two swatches to choose from. */
  choice: z.strictObject({ surfaceId: id, swatchIds: z.tuple([id, id]) }).nullable(),
});

export const boardDraft = z.strictObject({
  title: text(160),
  client: text(120),
  designer: z.strictObject({ name: text(120), line: text(200), markFileId: id.nullable() }),
  /** Lights the pictures are shown under, besides plain daylight. */
  lightIds: z.record(id, z.literal(true)),
  pages: record(draftPage),
});

/** What a surface is called: a name of up to 80 characters with the number that tells it apart. */
const calledText = text(100);

/** A colour for a screen, `#rrggbb` in sRGB. */
const screenColour = z.string().regex(/^#[0-9a-f]{6}$/, 'expected a colour like #5a6b4f');

/** A picture of a round, kept with it. */
const picture = z.strictObject({
  /** The name it was sent under; 1-40 letters, digits, `-` or `_`. */
  id,
  width: z.int().positive().max(8192),
  height: z.int().positive().max(8192),
  /** What it shows, for people who do not see it. */
  words: text(600),
  /** SHA-256 of the picture as it was sent, hexadecimal: the round's own hash covers it. */
  hash: z.string().regex(/^[0-9a-f]{64}$/, 'expected 64 hexadecimal digits'),
});

const finish = z.strictObject({
  surfaceId: id,
  surface: calledText,
  swatchId: id,
  kind: text(20),
  maker: text(120),
  code: text(60),
  name: text(120),
  sheen: text(40),
  /** Whether it stays, is proposed, or is still open. */
  state: z.enum(['stays', 'proposed', 'open']),
  /** Its colours by area under plain daylight, shares adding up to 1. */
  colours: z
    .array(z.strictObject({ screen: screenColour, share: finite.min(0).max(1) }))
    .min(1)
    .max(24),
  /** Its main colour under each light of the board. */
  under: z.array(z.strictObject({ light: text(120), screen: screenColour, words: text(300) })).max(12),
  /** Light reflectance value, 0-100. */
  lrv: finite.min(0).max(120),
  /** Part of the visible area, 0-1, where it is known. */
  area: finite.min(0).max(1).nullable(),
  /** The colour in words: 'dark greyish green'. */
  words: text(300),
});

const reason = z.strictObject({ sentence: text(600), number: text(120) });
const head = { title: text(120), words };

const page = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('pictures'),
    ...head,
    /** Name of the photo, where the job has several of rooms. */
    photo: text(180).optional(),
    before: picture,
    /** The proposal under each light; the first is the one to start with. */
    after: z
      .array(
        z.strictObject({
          light: text(120),
          words: text(600),
          picture,
          /** The room as it is under this light; absent where that is `before` itself. */
          before: picture.optional(),
        }),
      )
      .min(1)
      .max(8),
    /** Where each surface is, parts of the picture's width and height: for pins and for words. */
    places: z.array(z.strictObject({ surfaceId: id, surface: calledText, x: finite, y: finite })).max(40),
  }),
  z.strictObject({ kind: z.literal('finishes'), ...head, finishes: z.array(finish).min(1).max(60) }),
  z.strictObject({ kind: z.literal('reasons'), ...head, reasons: z.array(reason).max(60) }),
  z.strictObject({
    kind: z.literal('choice'),
    ...head,
    surfaceId: id,
    surface: calledText,
    options: z.tuple([
      z.strictObject({ finish, picture: picture.nullable() }),
      z.strictObject({ finish, picture: picture.nullable() }),
    ]),
    /** What differs between the two, in words. */
    differences: z.array(text(400)).max(20),
  }),
  z.strictObject({
    kind: z.literal('changes'),
    ...head,
    /** Against the round before. */
    since: z.int().positive(),
    changes: z.array(z.strictObject({ surface: calledText, was: text(300), is: text(300) })).max(60),
  }),
  z.strictObject({ kind: z.literal('open'), ...head, items: z.array(text(400)).max(60) }),
  z.strictObject({ kind: z.literal('words'), ...head }),
  z.strictObject({ kind: z.literal('cautions'), ...head, items: z.array(text(600)).min(1).max(20) }),
]);

/** What a round says. Strict throughout, so that nothing of the job slips in unseen. */
const boardContent = z.strictObject({
  format: z.literal(1),
  title: text(160),
  client: text(120),
  room: text(120),
  designer: z.strictObject({ name: text(120), line: text(200), mark: picture.nullable() }),
  /** ISO date it was made on. */
  made: z.iso.date(),
  pages: z.array(page).min(1).max(40),
});

const pin = z.strictObject({
  page: z.int().min(0).max(39),
  x: finite.min(0).max(1),
  y: finite.min(0).max(1),
});

const surfaceAnswer = z.strictObject({
  verdict: z.enum(VERDICTS),
  /** The swatch chosen, where two were offered. */
  swatchId: id.nullable(),
  comment: text(LONGEST.comment),
  pin: pin.nullable(),
});

const boardAnswer = z.strictObject({
  name: text(80).refine((value) => value.trim() !== '', 'expected a name'),
  comment: text(LONGEST.whole),
  surfaces: record(surfaceAnswer),
});

export type BoardDraft = z.infer<typeof boardDraft>;
export type BoardDraftPage = z.infer<typeof draftPage>;
export type BoardContent = z.infer<typeof boardContent>;
export type BoardPage = z.infer<typeof page>;
export type BoardPicture = z.infer<typeof picture>;
export type BoardFinish = z.infer<typeof finish>;
export type BoardAnswer = z.infer<typeof boardAnswer>;
export type BoardPin = z.infer<typeof pin>;

/** One thing the client is asked: a surface with its proposal, or with the two to choose from. */
export interface BoardQuestion {
  readonly surfaceId: Id;
  readonly surface: string;
  /** Empty where there is nothing to choose between. */
  readonly options: readonly BoardFinish[];
  /** The proposal, where there is one. */
  readonly proposed: BoardFinish | null;
}

function read<T>(schema: z.ZodType<T>, value: unknown, what: string): T {
  const result = schema.safeParse(value);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  throw new TypeError(`${[what, ...issue.path].join('.')}: ${issue.message}`);
}

/** A round's content read from outside. @throws TypeError naming the path and what was expected there. */
export function parseBoardContent(value: unknown): BoardContent {
  return read(boardContent, value, 'board');
}

/**
 * An answer read from outside, against the round it is for.
 * @throws TypeError naming the path; also for a surface the round does not ask about or a finish it does not offer.
 */
export function parseBoardAnswer(value: unknown, content: BoardContent): BoardAnswer {
  const answer = read(boardAnswer, value, 'answer');
  const questions = new Map(boardQuestions(content).map((question) => [question.surfaceId, question]));
  for (const [surfaceId, given] of Object.entries(answer.surfaces)) {
    const question = questions.get(surfaceId);
    if (!question)
      throw new TypeError(`answer.surfaces.${surfaceId}: expected a surface that this board asks about`);
    if (given.swatchId !== null && !question.options.some(({ swatchId }) => swatchId === given.swatchId))
      throw new TypeError(`answer.surfaces.${surfaceId}.swatchId: expected one of the two that are offered`);
    if (given.pin && content.pages[given.pin.page]?.kind !== 'pictures')
      throw new TypeError(`answer.surfaces.${surfaceId}.pin.page: expected a page with pictures`);
  }
  return answer;
}

/** What the client is asked, in the order of the pages: every proposed finish once, and every choice. */
export function boardQuestions({ pages }: Pick<BoardContent, 'pages'>): BoardQuestion[] {
  const questions = new Map<Id, BoardQuestion>();
  for (const entry of pages) {
    if (entry.kind === 'choice') {
      const { surfaceId, surface, options } = entry;
      questions.set(surfaceId, {
        surfaceId,
        surface,
        options: options.map(({ finish }) => finish),
        proposed: null,
      });
    }
    if (entry.kind !== 'finishes') continue;
    for (const proposed of entry.finishes) {
      const { surfaceId, surface, state } = proposed;
      if (state === 'proposed' && !questions.has(surfaceId))
        questions.set(surfaceId, { surfaceId, surface, options: [], proposed });
    }
  }
  return [...questions.values()];
}

/** A finish as one orders it: 'Deep Lock, Ternhollow TH-19, satin'. */
export function boardFinishTitle({ name, maker, code, sheen }: BoardFinish): string {
  const order = [maker, code].filter(Boolean).join(' ');
  return [name, order, sheen].filter(Boolean).join(', ');
}

/** The content as text that is the same for the same content, whatever order its fields came in: what is hashed. */
export function canonicalText(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalText).join(',')}]`;
  if (typeof value === 'object' && value !== null) {
    const fields = Object.entries(value).filter(([, field]) => field !== undefined);
    fields.sort(([a], [b]) => (a < b ? -1 : 1));
    return `{${fields.map(([key, field]) => `${JSON.stringify(key)}:${canonicalText(field)}`).join(',')}}`;
  }
  return JSON.stringify(value);
}
