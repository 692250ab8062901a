/** The pages of a board as sections of one HTML page, and what stands above them. */
import {
  alikeFinishes,
  alikeInWords,
  boardFinishTitle,
  boardQuestions,
  mainColour,
  screenLab,
  type BoardContent,
  type BoardFinish,
  type BoardPage,
  type BoardPageKind,
} from '#lib/job/index.ts';
import { describeDifference } from '#lib/colour/index.ts';
import {
  SLIM,
  coloursInWords,
  dateInWords,
  escaped,
  image,
  list,
  paragraphs,
  patch,
  percent,
  said,
  strip,
  type Images,
} from './board-markup.ts';
import type { RoundNews } from './boards.ts';

type Page<Kind extends BoardPageKind> = Extract<BoardPage, { kind: Kind }>;

/** Stands on every board. */
export const SCREEN_CAUTION =
  'Screens differ, and none shows a finish as it is: see the painted sample in the room, by day and by lamp light, before anything is ordered.';

const STATES: Record<BoardFinish['state'], string> = {
  stays: 'Stays as it is',
  proposed: 'Proposed',
  open: 'Still open',
};
/**
 * Width of the widest pictures of the page: the sheet, less its margins. Phones have three pixels for one and bad lines: they
 * are told of less room, and fetch two thirds of what they could show.
 */
const WIDE = '(min-width: 66rem) 61rem, (min-width: 46rem) 96vw, 66vw';
const HALF = '(min-width: 66rem) 30rem, (min-width: 46rem) 46vw, 66vw';

/** Title, for whom, by whom, what changed and what is asked. `way` says how one answers, or is null where one cannot. */
export function head(
  content: BoardContent,
  { round, news, images, way }: { round: number; news: RoundNews | null; images: Images; way: string | null },
): string {
  const { title, client, room, designer, made } = content;
  const mark = designer.mark ? image(designer.mark, { images, sizes: '6rem' }) : '';
  const by = [designer.name, designer.line].filter((text) => text.trim() !== '').map(said);
  const asked = boardQuestions(content).map(({ surface }) => said(surface));
  const what = `This is a proposal for ${room.trim() ? `“${said(room)}”` : 'your room'}: its colours and finishes.`;
  const how =
    way === null
      ? 'Look through it from top to bottom.'
      : asked.length === 0
        ? `Look through it, then write at the end what you think. ${way}`
        : `Look through it, then say yes, no or change to ${asked.length === 1 ? 'one thing' : `${asked.length} things`}: ${asked.join(', ')}. ${way}`;
  const jumps = content.pages
    .map((page, at) => ({ at, words: titleOf(page) }))
    .filter(({ words }) => words !== '')
    .map(({ at, words }) => `<a href="#page-${at}">${escaped(words)}</a>`);
  const answer = way === null ? '' : '<a class="button main" href="#answer">Answer now</a>';
  return `<header class="sheet head">
<div class="by">${mark}${by.length > 0 ? `<p>${by.join('<br>')}</p>` : ''}</div>
<h1 dir="auto">${escaped(title)}</h1>
<p class="soft">${client.trim() ? `For ${said(client)}. ` : ''}Round ${round}, ${dateInWords(made)}.</p>
${sinceLast(content, news)}<p class="what">${what} ${how}</p>
${answer}
<details class="jumps"><summary>What is on this page</summary><nav aria-label="Parts of this page">${list(jumps)}</nav></details>
</header>`;
}

/** What changed since the round before, with the way to the page that has it one by one. */
function sinceLast({ pages }: BoardContent, news: RoundNews | null): string {
  if (!news) return '';
  const at = pages.findIndex(({ kind }) => kind === 'changes');
  const sentences = news.sentences.map(said).join(' ');
  return `<p class="what"><strong>Since round ${news.since}:</strong> ${sentences} <a href="#page-${at}">One by one</a></p>\n`;
}

/** Title of a page: the designer's, or the usual one. */
export function titleOf(page: BoardPage): string {
  if (page.title.trim()) return page.title;
  switch (page.kind) {
    case 'pictures':
      return 'Before and after';
    case 'finishes':
      return 'The finishes';
    case 'reasons':
      return 'Why these';
    case 'choice':
      return `Which of these two: ${page.surface}`;
    case 'changes':
      return `What changed since round ${page.since}`;
    case 'open':
      return 'Still open';
    case 'words':
      return '';
    case 'cautions':
      return 'Before you decide';
  }
}

/** All pages in their order; the caution about screens is added where no page has it. */
export function sections(content: BoardContent, images: Images): string {
  let first = true;
  const parts = content.pages.map((page, at) => {
    const eager = first && page.kind === 'pictures';
    if (eager) first = false;
    return section(at, page, inside(page, { at, images, eager }));
  });
  const cautioned = content.pages.some(({ kind }) => kind === 'cautions');
  if (!cautioned) {
    const added: BoardPage = { kind: 'cautions', title: '', words: '', items: [SCREEN_CAUTION] };
    parts.push(section(content.pages.length, added, cautions(added)));
  }
  return parts.join('\n');
}

function section(at: number, page: BoardPage, inner: string): string {
  const title = titleOf(page);
  const heading = title === '' ? '' : `<h2 id="title-${at}" dir="auto">${escaped(title)}</h2>`;
  const name = title === '' ? '' : ` aria-labelledby="title-${at}"`;
  return `<section class="sheet" id="page-${at}"${name}>${heading}${paragraphs(page.words)}${inner}</section>`;
}

function inside(page: BoardPage, view: { at: number; images: Images; eager: boolean }): string {
  switch (page.kind) {
    case 'pictures':
      return pictures(page, view);
    case 'finishes':
      return finishes(page);
    case 'reasons':
      return reasons(page);
    case 'choice':
      return choice(page, view.images);
    case 'changes':
      return changes(page);
    case 'open':
      return list(page.items.map(said), ' class="points"');
    case 'words':
      return '';
    case 'cautions':
      return cautions(page);
  }
}

/** Without a script, and in browsers without `:has`, all pictures stand below each other; their labels say what they are. */
function pictures(
  { before, after, photo }: Page<'pictures'>,
  { at, images, eager }: { at: number; images: Images; eager: boolean },
): string {
  const radio = (group: string, key: string, words: string, checked: boolean) =>
    `<label><input type="radio" name="${group}-${at}" class="${key}"${checked ? ' checked' : ''}><span>${words}</span></label>`;
  const show = `<fieldset class="switch"><legend>Show</legend>${radio('show', 'show-after', 'Proposal', true)}${radio('show', 'show-before', 'Before', false)}${radio('show', 'show-both', 'Both, with a divider', false)}</fieldset>`;
  const lights =
    after.length < 2
      ? ''
      : `<fieldset class="switch lights"><legend>Light</legend>${after.map(({ light }, i) => radio('light', `light-${i}`, said(light), i === 0)).join('')}</fieldset>`;
  const shots = after.map(
    ({ light, picture }, i) =>
      `<div class="shot after in-${i}">${image(picture, { images, sizes: WIDE, eager: eager && i === 0 })}<span class="tag">Proposal<span class="which">, ${said(light)}</span></span></div>`,
  );
  // The room as it is under each light, where the round has it: then both sides of the divider are lit alike.
  const lit = after.some((one) => one.before);
  const earlier = lit
    ? after.map(
        (one, i) =>
          `<div class="shot before lit in-${i}">${image(one.before ?? before, { images, sizes: WIDE })}<span class="tag">Before<span class="which">, ${said(one.light)}</span></span></div>`,
      )
    : [
        `<div class="shot before">${image(before, { images, sizes: WIDE })}<span class="tag">Before</span></div>`,
      ];
  const divides = lit
    ? 'Divider: left of it the room as it is, right of it the proposal, both in the light chosen'
    : 'Divider: left of it the room as photographed, in its own light; right of it the proposal in the light chosen';
  const asItIs = lit
    ? 'the room as it was photographed, worked out for the light chosen where that is another.'
    : 'the room as it was photographed.';
  const captions = after.map(
    ({ light, words }, i) =>
      `<div class="caption after in-${i}"><p><strong>Proposal: ${said(light)}.</strong> A simulation: worked out from the photo for this light; nobody has photographed it.</p>${paragraphs(words)}</div>`,
  );
  return `<div class="pictures${lit ? ' relit' : ''}" data-page="${at}">
<div class="stage">${shots.join('')}${earlier.join('')}</div>
<label class="wipe"><span>${divides}</span><input type="range" min="0" max="100" value="50"></label>
<div class="switches">${show}${lights}</div>
${photo?.trim() ? `<p class="caption"><strong>Photo:</strong> ${said(photo)}.</p>\n` : ''}<p class="caption before"><strong>Before:</strong> ${asItIs}</p>
${captions.join('')}
</div>`;
}

function finishes({ finishes }: Page<'finishes'>): string {
  const numbered = finishes.map((finish, i) => ({ finish, number: i + 1 }));
  const drawn = strip(numbered);
  const small = numbered.some(({ finish }) => finish.area !== null && finish.area < SLIM);
  const key = drawn
    ? `<figure>${drawn}<figcaption class="small soft">Each finish as large as the part of the room that it covers${small ? '; what is too small for a number is in the list all the same' : ''}. The numbers are those of the list.</figcaption></figure>`
    : '';
  const items = numbered.map(
    ({ finish, number }) =>
      `<li><h3><span class="nr">${number}</span> ${said(finish.surface)} <span class="state">${STATES[finish.state]}</span></h3>${finishBody(finish)}</li>`,
  );
  const alike = alikeFinishes(finishes).map((pair) => said(alikeInWords(pair)));
  const note =
    alike.length > 0
      ? `<details><summary>Finishes that are easily taken for each other (${alike.length})</summary>${list(alike, ' class="points"')}</details>`
      : '';
  return `${key}<ol class="finishes">${items.join('')}</ol>${note}`;
}

/** One finish: patch, what to order, its colour in words and numbers, and its look under each light. */
function finishBody(finish: BoardFinish): string {
  const { colours, words, lrv, area, under, kind } = finish;
  const mixed = coloursInWords(colours);
  const facts = [
    mixed && `Colours by area: ${escaped(mixed)}`,
    area === null ? '' : `Covers ${percent(area)} of what is seen of the room`,
    `Light reflectance value (LRV) ${Math.round(lrv)}: gives back about ${Math.round(lrv)} % of the light`,
  ].filter(Boolean);
  const looks = under.map(
    ({ light, screen, words: look }) =>
      `${patch([{ screen, share: 1 }], 'little')}<span><strong>${said(light)}</strong>${look.trim() ? `: ${said(look)}` : ''}</span>`,
  );
  const lit =
    looks.length > 0
      ? `<div class="lit"><p class="small soft">Under each light, as worked out:</p>${list(looks, ' class="looks"')}</div>`
      : '';
  return `<div class="finish">${patch(colours, 'large')}<div><p class="order"><strong>${said(boardFinishTitle(finish))}</strong>${kind.trim() ? `, ${said(kind)}` : ''}</p>${paragraphs(words)}${list(facts, ' class="small"')}</div>${lit}</div>`;
}

function reasons({ reasons }: Page<'reasons'>): string {
  const items = reasons.map(({ sentence, number }) =>
    number.trim()
      ? `${said(sentence)} <details><summary>The number</summary><p>${said(number)}</p></details>`
      : said(sentence),
  );
  return list(items, ' class="points"');
}

const LETTERS = ['A', 'B'] as const;

function choice({ options, differences }: Page<'choice'>, images: Images): string {
  const cards = options.map(
    ({ finish, picture }, i) =>
      `<li><h3><span class="nr">${LETTERS[i]}</span> ${said(finish.name || boardFinishTitle(finish))}</h3>${picture ? image(picture, { images, sizes: HALF }) : ''}${finishBody(finish)}</li>`,
  );
  return `<ol class="options">${cards.join('')}</ol><h3>What differs</h3>${list(choiceDifferences({ options, differences }).map(said), ' class="points"')}`;
}

/** What differs between two offered finishes: as the round says it, and by colour, so that words alone tell them apart. */
export function choiceDifferences({
  options,
  differences,
}: Pick<Page<'choice'>, 'options' | 'differences'>): string[] {
  const [first, second] = options.map(({ finish }) => finish);
  const [alike] = alikeFinishes([first, second]);
  const colour = describeDifference(screenLab(mainColour(first)), screenLab(mainColour(second)));
  const plain =
    colour === 'no visible difference'
      ? 'By colour the two cannot be told apart here; go by maker, code and sheen.'
      : `By colour, B beside A is ${colour}.`;
  const hard = alike && !alike.everybody ? ['Some people cannot tell the two apart by colour.'] : [];
  return [...differences, plain, ...hard];
}

function changes({ changes, since }: Page<'changes'>): string {
  if (changes.length === 0) return `<p>Nothing changed since round ${since}.</p>`;
  const rows = changes.map(
    ({ surface, was, is }) =>
      `<tr><th scope="row">${said(surface)}</th><td><span class="only-narrow">Was: </span>${said(was)}</td><td><span class="only-narrow">Is now: </span>${said(is)}</td></tr>`,
  );
  return `<table><thead><tr><th scope="col">Surface</th><th scope="col">Was</th><th scope="col">Is now</th></tr></thead><tbody>${rows.join('')}</tbody></table>`;
}

function cautions({ items }: Page<'cautions'>): string {
  return list(cautionItems(items).map(said), ' class="points"');
}

/** The cautions of a round, the one about screens first. */
export function cautionItems(items: readonly string[]): string[] {
  return items.some((item) => /screens?\b.*\bdiffer/i.test(item)) ? [...items] : [SCREEN_CAUTION, ...items];
}
