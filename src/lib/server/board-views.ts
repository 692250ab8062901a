/** A round as a client sees it: the page of a link or its preview, one file to send, and paper. */
import type { BoardContent } from '#lib/job/index.ts';
import type { Answer } from './board-answers.ts';
import type { Draft } from './board-drafts.ts';
import { boardFile, boardPage } from './board-page.ts';
import { PICTURE_TYPES, longSidesOf, open, picturesOf } from './board-pictures.ts';
import type { Round, WholeRound } from './boards.ts';
import { fitted } from './pixels.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** Where a page finds a picture, and its size there, px. */
interface PicturePlace {
  src: string;
  srcset: string;
  width: number;
  height: number;
}

/** Places of pictures under a path: one address a rendition, WebP or JPEG as the browser asks. */
function placesUnder(content: BoardContent, base: string): (pictureId: string) => PicturePlace {
  const named = picturesOf(content);
  return (pictureId) => {
    const { picture } = expected(named.get(pictureId), pictureId);
    const places = longSidesOf(picture).map((side) => ({
      at: `${base}/pictures/${pictureId}/${side}`,
      ...fitted(picture.width, picture.height, side),
    }));
    const { at, width, height } = places.at(-1)!;
    return {
      src: at,
      srcset: places.map((place) => `${place.at} ${place.width}w`).join(', '),
      width,
      height,
    };
  };
}

/** The page of a link, with the answers given through it. */
export function linkPage(
  round: WholeRound,
  { token, previous }: { token: string; previous: Answer[] },
): string {
  const base = `/b/${token}`;
  return boardPage(round.content, {
    round: round.round,
    hash: round.hash,
    news: round.news,
    images: placesUnder(round.content, base),
    answer: { action: `${base}/answer` },
    closed: null,
    previous: previous.map(({ receivedAt, answer }) => ({ receivedAt, answer })),
  });
}

/** The page of a round without a place to answer; its pictures are found under a path. */
export function previewPage(round: WholeRound, base: string): string {
  return shownAlone(round, placesUnder(round.content, base));
}

/** The page that a draft would become, its pictures as they were sent. */
export function draftPage(draft: Draft, base: string): string {
  const named = picturesOf(draft.content);
  return shownAlone(draft, (pictureId) => {
    const { width, height } = expected(named.get(pictureId), pictureId).picture;
    const src = `${base}/pictures/${pictureId}`;
    return { src, srcset: `${src} ${width}w`, width, height };
  });
}

function shownAlone(
  { content, hash, round, news }: Draft,
  images: (pictureId: string) => PicturePlace,
): string {
  return boardPage(content, { round, hash, news, images, answer: null, closed: null, previous: [] });
}

/** Long side of the pictures in the one file, px: messengers have limits. */
const SIDE_IN_FILE = 1024;

/** One HTML file with everything in it. */
export async function onePage(store: Store, round: WholeRound): Promise<string> {
  const { content, hash, news } = round;
  const inlined = new Map<string, { src: string; width: number; height: number }>();
  for (const [id, { picture }] of picturesOf(content)) {
    const side = Math.min(SIDE_IN_FILE, longSidesOf(picture).at(-1)!);
    const bytes = await open(store, round.id, { pictureId: id, side: String(side), type: 'webp' });
    const src = `data:${PICTURE_TYPES.webp};base64,${bytes.toString('base64')}`;
    inlined.set(id, { src, ...fitted(picture.width, picture.height, side) });
  }
  const images = (id: string) => expected(inlined.get(id), id);
  return boardFile(content, { round: round.round, hash, news, images });
}

/** The pictures of a round for paper, which takes no WebP. */
export async function paperPictures(store: Store, round: WholeRound): Promise<Map<string, Buffer>> {
  const pictures = new Map<string, Buffer>();
  for (const id of picturesOf(round.content).keys())
    pictures.set(id, await open(store, round.id, { pictureId: id, type: 'jpeg' }));
  return pictures;
}

/** A file to keep, called after the job's round. */
export function download(
  body: Uint8Array | string,
  { type, name }: { type: string; name: string },
): Response {
  const bytes = typeof body === 'string' ? Buffer.from(body) : body;
  const ascii = name.replace(/[^\w. -]+/g, '-');
  return new Response(new Uint8Array(bytes), {
    headers: {
      'content-type': type,
      'content-length': String(bytes.length),
      'content-disposition': `attachment; filename="${ascii}"; filename*=UTF-8''${encoded(name)}`,
      'cache-control': 'private, no-store',
    },
  });
}

/** As RFC 8187 wants it: what encodeURIComponent leaves and an attribute may not have is encoded too. */
function encoded(name: string): string {
  return encodeURIComponent(name.toWellFormed()).replace(
    /['()*!]/g,
    (letter) => `%${letter.charCodeAt(0).toString(16).toUpperCase()}`,
  );
}

/** File name of a round, without what file systems refuse. */
export function fileName({ title, round }: Round, ending: string): string {
  const plain = title
    .replace(/[\p{C}/\\:*?"<>|]+/gu, ' ')
    .trim()
    .slice(0, 80);
  return `${plain || 'Board'}, round ${round}.${ending}`;
}

function expected<T>(value: T | undefined, pictureId: string): T {
  if (value === undefined) throw new Refusal(404, `There is no picture “${pictureId}”.`);
  return value;
}
