import { boardFinishTitle, boardQuestions, type BoardContent, type BoardFinish } from './board.ts';
import type { Id } from './fields.ts';
import { nameKey } from './surface-names.ts';

/* What differs between two rounds of a board, surface by surface and in short. Both are frozen, or about to be. */

type Pages = Pick<BoardContent, 'pages'>;

/** What a surface is called that is no longer there, beside another that has its name now. */
export const removedName = (name: string) => `${name} (removed since)`;

/** What one surface is to be, by a round. */
interface Shown {
  readonly surface: string;
  /** What is offered: one finish, or the two to choose from. */
  readonly titles: readonly string[];
  readonly state: BoardFinish['state'] | 'choice';
}

/** Every surface of a round, in the order of its pages; where the client chooses, that is what is said of it. */
function shownOn({ pages }: Pages): Map<Id, Shown> {
  const shown = new Map<Id, Shown>();
  for (const page of pages)
    if (page.kind === 'finishes')
      for (const finish of page.finishes) {
        const { surfaceId, surface, state } = finish;
        shown.set(surfaceId, { surface, titles: [boardFinishTitle(finish)], state });
      }
  for (const page of pages)
    if (page.kind === 'choice') {
      const titles = page.options.map(({ finish }) => boardFinishTitle(finish));
      shown.set(page.surfaceId, { surface: page.surface, titles, state: 'choice' });
    }
  return shown;
}

/** What a surface of the earlier round is called beside those of the later one. */
function goneName(name: string, is: ReadonlyMap<Id, Shown>): string {
  const taken = [...is.values()].some(({ surface }) => nameKey(surface) === nameKey(name));
  return taken ? removedName(name) : name;
}

/** What differs between two rounds, surface by surface; empty where nothing does. */
export function roundDifferences(
  before: Pages,
  after: Pages,
): { surfaceId: Id; surface: string; was: string; is: string }[] {
  const was = shownOn(before);
  const is = shownOn(after);
  const words = ({ titles, state }: Shown) =>
    `${state === 'open' ? 'still open: ' : ''}${titles.join(', or ')}`;
  return [...new Set([...was.keys(), ...is.keys()])].flatMap((surfaceId) => {
    const one = was.get(surfaceId);
    const other = is.get(surfaceId);
    if (one && other && words(one) === words(other)) return [];
    return [
      {
        surfaceId,
        surface: other?.surface ?? goneName(one!.surface, is),
        was: one ? words(one) : 'not on the board',
        is: other ? words(other) : 'no longer on the board',
      },
    ];
  });
}

/**
 * What changed between two rounds in a few sentences, for the head of the later one: which surfaces have another finish, what is
 * asked anew or no longer, what came and what went. One sentence where nothing changed.
 */
export function roundNews(before: Pages, after: Pages): string[] {
  const [was, is] = [shownOn(before), shownOn(after)];
  const [asked, asks] = [before, after].map(
    (round) => new Set(boardQuestions(round).map(({ surfaceId }) => surfaceId)),
  );
  const finish: string[] = [];
  const settled: string[] = [];
  const fresh: string[] = [];
  const dropped: string[] = [];
  const shown: string[] = [];
  for (const [id, { surface, titles, state }] of is) {
    const one = was.get(id);
    const anew = asks.has(id) && (!asked.has(id) || (state === 'choice' && one?.state !== 'choice'));
    if (anew) fresh.push(state === 'choice' ? `${surface} (one of two)` : surface);
    if (!one) {
      if (!anew) shown.push(surface);
      continue;
    }
    const kept = one.titles.filter((title) => titles.includes(title)).length;
    if (kept === 0 || (titles.length === one.titles.length && kept < titles.length)) finish.push(surface);
    else if (one.state === 'choice' && state !== 'choice') settled.push(surface);
    else if (asked.has(id) && !asks.has(id)) dropped.push(surface);
  }
  const gone = [...was].flatMap(([id, { surface }]) => (is.has(id) ? [] : [goneName(surface, is)]));
  const have = (names: readonly string[], one: string, several: string) =>
    names.length > 0 ? [`${inWords(names)} ${names.length === 1 ? one : several}.`] : [];
  const listed = (words: string, names: readonly string[]) =>
    names.length > 0 ? [`${words}: ${inWords(names)}.`] : [];
  const news = [
    ...have(finish, 'has another finish', 'have other finishes'),
    ...have(settled, 'is no longer a choice between two', 'are no longer choices between two'),
    ...listed(fresh.length === 1 ? 'New question' : 'New questions', fresh),
    ...listed('No longer asked', dropped),
    ...listed('New on the board', shown),
    ...listed('No longer on the board', gone),
  ];
  return news.length > 0 ? news : ['Finishes and questions are the same.'];
}

const inWords = (names: readonly string[]) =>
  names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names.at(-1)}` : names[0];
