/** Rounds to freeze in tests: invented finishes, and pictures painted here. */
import { createHash } from 'node:crypto';
import sharp from 'sharp';
import type { BoardContent, BoardFinish, BoardPicture } from '../../src/lib/job/index.ts';
import { asJson, ask, type Answer, type Running } from './running-studio.ts';

export const sha256 = (bytes: Uint8Array | string) => createHash('sha256').update(bytes).digest('hex');

export interface Drawn {
  content: BoardContent;
  pictures: Map<string, Buffer>;
}

/** A picture of one colour. */
export async function painted(
  background: string,
  { width = 320, height = 240, type = 'png' as 'png' | 'jpeg' | 'webp' } = {},
): Promise<Buffer> {
  return await sharp({ create: { width, height, channels: 3, background } })
    .toFormat(type)
    .toBuffer();
}

const finish = (surfaceId: string, surface: string, over: Partial<BoardFinish> = {}): BoardFinish => ({
  surfaceId,
  surface,
  swatchId: `${surfaceId}-one`,
  kind: 'paint',
  maker: 'Ternhollow',
  code: 'TH-19',
  name: 'Deep Lock',
  sheen: 'satin',
  state: 'proposed',
  colours: [{ screen: '#4a5a4f', share: 1 }],
  under: [],
  lrv: 12,
  area: null,
  words: 'dark greyish green',
  ...over,
});

/** Content with two pictures, two proposals and a choice; its pictures beside it. */
export async function drawn(
  title = 'Kitchen, first thoughts',
  [width, height]: [number, number] = [700, 480],
): Promise<Drawn> {
  const before = await painted('#c8c0b0');
  const after = await painted('#4a5a4f', { width, height, type: 'jpeg' });
  const pictures = new Map([
    ['before', before],
    ['after-day', after],
  ]);
  const picture = (id: string, size: { width: number; height: number }): BoardPicture => ({
    id,
    ...size,
    words: `The kitchen, ${id}`,
    hash: sha256(pictures.get(id)!),
  });
  const option = (swatchId: string, name: string) => ({
    finish: finish('walls', 'Walls', { swatchId, name }),
    picture: null,
  });
  const content: BoardContent = {
    format: 1,
    title,
    client: 'A client',
    room: 'Kitchen',
    designer: { name: 'A designer', line: '', mark: null },
    made: '2026-11-26',
    pages: [
      {
        kind: 'pictures',
        title: 'The room',
        words: '',
        before: picture('before', { width: 320, height: 240 }),
        after: [{ light: 'Daylight', words: '', picture: picture('after-day', { width, height }) }],
        places: [{ surfaceId: 'cabinets', surface: 'Cabinets', x: 0.5, y: 0.5 }],
      },
      {
        kind: 'finishes',
        title: 'Finishes',
        words: '',
        finishes: [
          finish('cabinets', 'Cabinets'),
          finish('trim', 'Trim'),
          finish('floor', 'Floor', { state: 'stays' }),
        ],
      },
      {
        kind: 'choice',
        title: 'Walls',
        words: '',
        surfaceId: 'walls',
        surface: 'Walls',
        options: [option('pale', 'Pale Lock'), option('mid', 'Mid Lock')],
        differences: ['The second is a step darker.'],
      },
      { kind: 'cautions', title: 'Before you order', words: '', items: ['Screens differ.'] },
    ],
  };
  return { content, pictures };
}

/** The multipart body of a round, as a browser makes it. */
export async function bodyOf(
  content: unknown,
  pictures: Iterable<[string, Uint8Array]>,
): Promise<{ headers: Record<string, string>; body: Uint8Array }> {
  const form = new FormData();
  form.append('content', typeof content === 'string' ? content : JSON.stringify(content));
  for (const [id, bytes] of pictures) form.append('picture', new Blob([new Uint8Array(bytes)]), id);
  const response = new Response(form);
  return {
    headers: { 'content-type': response.headers.get('content-type')! },
    body: new Uint8Array(await response.arrayBuffer()),
  };
}

/** An answer that says yes to the cabinets. */
export const answered = (name = 'Client One', over: object = {}) => ({
  name,
  comment: '',
  surfaces: { cabinets: { verdict: 'yes', swatchId: null, comment: '', pin: null } },
  ...over,
});

export async function newJob(studio: Running, name = 'Kitchen'): Promise<string> {
  return (await ask(studio, 'POST', '/api/jobs', asJson({ name }))).json().id;
}

export async function frozen(studio: Running, jobId: string, round: Drawn): Promise<Answer> {
  return await ask(studio, 'POST', `/api/jobs/${jobId}/boards`, await bodyOf(round.content, round.pictures));
}

export async function linked(
  studio: Running,
  jobId: string,
  boardId: string,
  wishes: object = {},
): Promise<any> {
  const answer = await ask(studio, 'POST', `/api/jobs/${jobId}/boards/${boardId}/links`, asJson(wishes));
  if (answer.status !== 201) throw new Error(answer.text);
  return answer.json();
}
