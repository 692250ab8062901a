import {
  boardFinishTitle,
  nameKey,
  removedName,
  type BoardContent,
  type BoardQuestion,
  type Job,
  type Verdict,
} from '#lib/job/index.ts';
import type { GivenAnswer, Round, RoundLink } from './board-rounds.svelte.ts';

/* How the page of the board says rounds, links and answers. */

const DATE = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long', year: 'numeric' });
const MOMENT = new Intl.DateTimeFormat('en-GB', {
  day: 'numeric',
  month: 'long',
  year: 'numeric',
  hour: '2-digit',
  minute: '2-digit',
});

/** '26 November 2026'. In: epoch ms. */
export const dateWords = (at: number) => DATE.format(at);
/** '26 November 2026 at 14:05'. In: epoch ms. */
export const momentWords = (at: number) => MOMENT.format(at);

/** What is said of one surface in an answer. */
export interface SaidOfSurface {
  readonly surfaceId: string;
  readonly surface: string;
  readonly verdict: Verdict;
  /** 'Yes to Deep Lock, Ternhollow TH-19, satin'. */
  readonly words: string;
  readonly comment: string;
  readonly pin: { readonly page: number; readonly x: number; readonly y: number } | null;
}

const VERDICT_WORDS: Readonly<Record<Verdict, string>> = { yes: 'Yes to', no: 'No to', change: 'Change' };

/** What an answer says, surface by surface, in the order of the questions. */
export function saidOf(answer: GivenAnswer['answer'], questions: readonly BoardQuestion[]): SaidOfSurface[] {
  return questions.flatMap(({ surfaceId, surface, options, proposed }): SaidOfSurface[] => {
    const said = answer.surfaces[surfaceId];
    if (!said) return [];
    const { verdict, swatchId, comment, pin } = said;
    const finish = options.find((option) => option.swatchId === swatchId) ?? proposed;
    const words = `${VERDICT_WORDS[verdict]} ${finish ? boardFinishTitle(finish) : ''}`.trim();
    const neither = verdict === 'no' && options.length > 0;
    return [{ surfaceId, surface, verdict, words: neither ? 'No, neither' : words, comment, pin }];
  });
}

/**
 * What a surface of a frozen round is called today: as it was then, with a word where it is gone, or where another has taken its
 * name since. `job` as it is named apart.
 */
export function nameSince(
  { surfaces }: Pick<Job, 'surfaces'>,
  { surfaceId, surface }: Pick<BoardQuestion, 'surfaceId' | 'surface'>,
): string {
  const now = surfaces[surfaceId];
  if (!now) return removedName(surface);
  const taken = Object.values(surfaces).some(
    ({ id, name, roomId }) => id !== surfaceId && roomId === now.roomId && nameKey(name) === nameKey(surface),
  );
  return taken ? `${surface} (now ${now.name})` : surface;
}

/** 'Shows “Kitchen by day”.' where a round names its photos; '' where it does not. */
export function photosWords({ pages }: Pick<BoardContent, 'pages'>): string {
  const named = pages.flatMap((page) => (page.kind === 'pictures' && page.photo ? [`“${page.photo}”`] : []));
  const photos = [...new Set(named)];
  return photos.length > 0 ? `Shows ${photos.join(', ')}.` : '';
}

/** Which answers of the same person to the same round a later one replaces, by id: the same name, however it is written. */
export function replaced(answers: readonly GivenAnswer[]): Set<string> {
  const earlier = new Set<string>();
  const seen = new Set<string>();
  for (const { id, boardId, answer } of answers.toSorted((a, b) => b.number - a.number)) {
    const who = `${boardId} ${answer.name.trim().toLowerCase().replace(/\s+/g, ' ')}`;
    if (seen.has(who)) earlier.add(id);
    seen.add(who);
  }
  return earlier;
}

/** By which way an answer came: 'by the link for Ida', 'pasted from a message'. */
export function wayWords({ linkId }: Pick<GivenAnswer, 'linkId'>, links: readonly RoundLink[]): string {
  if (linkId === null) return 'pasted from a message';
  const label = links.find(({ id }) => id === linkId)?.label;
  return label ? `by the link for ${label}` : 'by a link';
}

/** Where a round stands: 'yes to 2 of 3 by Ida Fenn', 'no answer yet'. */
export function standingWords({ answers, questions }: Pick<Round, 'answers' | 'questions'>): string {
  const old = replaced(answers);
  const current = answers.filter(({ id }) => !old.has(id));
  if (current.length === 0) return 'no answer yet';
  return current
    .map(({ answer }) => {
      const yes = questions.filter(({ surfaceId }) => answer.surfaces[surfaceId]?.verdict === 'yes').length;
      return `${answer.name.trim()}: yes to ${yes} of ${questions.length}`;
    })
    .join('; ');
}

export type LinkState = 'open' | 'expired' | 'revoked';

/** Whether a link leads somewhere at a time, epoch ms. */
export function linkState({ revokedAt, expiresAt }: RoundLink, now: number): LinkState {
  if (revokedAt !== null) return 'revoked';
  return expiresAt !== null && expiresAt <= now ? 'expired' : 'open';
}

/** A link in a line: 'made 26 November 2026; works until 3 December 2026; asks for a passphrase'. */
export function linkWords(link: RoundLink, now: number): string {
  const { createdAt, expiresAt, revokedAt, passphrase, lastSeenAt } = link;
  const state = linkState(link, now);
  const until =
    state === 'revoked'
      ? `revoked ${momentWords(revokedAt ?? now)}`
      : state === 'expired'
        ? `expired ${momentWords(expiresAt ?? now)}`
        : expiresAt === null
          ? 'works until you revoke it'
          : `works until ${momentWords(expiresAt)}`;
  return [
    `made ${dateWords(createdAt)}`,
    until,
    ...(passphrase ? ['asks for a passphrase'] : []),
    ...(lastSeenAt ? [`last opened ${momentWords(lastSeenAt)}`] : []),
  ].join('; ');
}

/** '1 new answer', '3 new answers'. */
export const newAnswersWords = (count: number) => `${count} new ${count === 1 ? 'answer' : 'answers'}`;
