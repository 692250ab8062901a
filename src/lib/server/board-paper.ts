/** A round on paper: real text, bookmarks, the same content in the same order as the page, and lines to sign. */
import {
  alikeFinishes,
  alikeInWords,
  boardFinishTitle,
  boardQuestions,
  type BoardContent,
  type BoardFinish,
  type BoardPage,
  type BoardPicture,
  type BoardQuestion,
} from '#lib/job/index.ts';
import type { RoundNews } from './boards.ts';
import { coloursInWords, dateInWords, percent } from './board-markup.ts';
import { SCREEN_CAUTION, cautionItems, choiceDifferences, titleOf } from './board-sections.ts';
import { Paper, type Cell, type PaperSize, type Rgb } from './paper.ts';

const PRINT_CAUTION =
  'Print is no sample: ink shows a finish even less truly than a screen. The colours here are stated in sRGB (IEC 61966-2-1).';
const SIMULATION =
  'The pictures of the proposal are simulations, worked out from the photo for each light; nobody has photographed them.';
const STATES: Record<BoardFinish['state'], string> = {
  stays: 'stays',
  proposed: 'proposed',
  open: 'still open',
};

/**
 * The round as PDF. `pictures` are JPEGs by the id the content gives them.
 * @throws RangeError for a picture of the content that is not among them.
 */
export async function boardPaper(
  content: BoardContent,
  {
    size,
    pictures,
    round,
    hash,
    news,
  }: {
    size: PaperSize;
    pictures: ReadonlyMap<string, Buffer>;
    round: number;
    hash: string;
    news: RoundNews | null;
  },
): Promise<Buffer> {
  const { title, client, room, designer, made, pages } = content;
  const by = [designer.name, designer.line].filter((text) => text.trim() !== '');
  const paper = new Paper({
    size,
    title: `${title}, round ${round}`,
    author: designer.name,
    made: new Date(`${made}T00:00:00Z`),
    foot: `${title}, round ${round}, ${dateInWords(made)}`,
  });
  const picture = ({ id, width, height, words }: BoardPicture, caption?: string) => {
    const bytes = pictures.get(id);
    if (!bytes) throw new RangeError(`Expected the picture ${id} of this round among those given`);
    return { bytes, width, height, words, caption };
  };
  if (designer.mark) paper.pictures([picture(designer.mark)], { most: 36 });
  paper.heading(1, title);
  if (by.length > 0) paper.text(by.join(', '));
  const whom = [client.trim() && `For ${client}`, room.trim()].filter(Boolean).join(', ');
  paper.text(`${whom ? `${whom}. ` : ''}Round ${round}, ${dateInWords(made)}.`, { soft: true });
  if (news) paper.text(`Since round ${news.since}: ${news.sentences.join(' ')}`);
  const questions = boardQuestions(content);
  if (questions.length > 0)
    paper.text(
      `This is a proposal. At the end you say yes, no or change to: ${questions.map(({ surface }) => surface).join(', ')}.`,
    );
  for (const page of pages) write(paper, page, picture);
  if (!pages.some(({ kind }) => kind === 'cautions')) {
    paper.heading(2, 'Before you decide');
    paper.list([SCREEN_CAUTION, PRINT_CAUTION]);
  }
  sign(paper, questions, { round, hash });
  return await paper.finish();
}

/** Height that a page of the board begins with and that should not be parted, points. */
const TOGETHER: Partial<Record<BoardPage['kind'], number>> = { pictures: 250, finishes: 260, choice: 300 };

type Shown = (picture: BoardPicture, caption?: string) => Parameters<Paper['pictures']>[0][number];

function write(paper: Paper, page: BoardPage, picture: Shown): void {
  const title = titleOf(page);
  paper.keep(TOGETHER[page.kind] ?? 0);
  if (title) paper.heading(2, title);
  for (const words of page.words.split(/\r?\n\s*\r?\n/).filter((part) => part.trim())) paper.text(words);
  switch (page.kind) {
    case 'pictures': {
      const [first, ...others] = page.after;
      paper.pictures([picture(page.before, 'Before'), picture(first.picture, `Proposal: ${first.light}`)]);
      for (let i = 0; i < others.length; i += 2)
        paper.pictures(
          others.slice(i, i + 2).map((after) => picture(after.picture, `Proposal: ${after.light}`)),
          { most: 190 },
        );
      if (page.photo?.trim()) paper.text(`Photo: ${page.photo}.`);
      paper.text(SIMULATION, { soft: true });
      const said = page.after.filter(({ words }) => words.trim());
      if (said.length > 0) paper.list(said.map(({ light, words }) => `${light}: ${words}`));
      return;
    }
    case 'finishes':
      return finishes(paper, page.finishes);
    case 'reasons':
      return paper.list(
        page.reasons.map(({ sentence, number }) => (number ? `${sentence} (${number})` : sentence)),
      );
    case 'choice': {
      const [first, second] = page.options;
      const shown = page.options.flatMap((option, i) =>
        option.picture ? [picture(option.picture, `${'AB'[i]}: ${option.finish.name}`)] : [],
      );
      paper.pictures(shown, { most: 170 });
      table(paper, [
        { finish: first.finish, key: 'A' },
        { finish: second.finish, key: 'B' },
      ]);
      return paper.list(choiceDifferences(page));
    }
    case 'changes':
      if (page.changes.length === 0) return paper.text(`Nothing changed since round ${page.since}.`);
      return paper.table(
        [
          { title: 'Surface', width: 2 },
          { title: 'Was', width: 4 },
          { title: 'Is now', width: 4 },
        ],
        page.changes.map(({ surface, was, is }) => [{ text: surface, strong: true }, was, is]),
      );
    case 'open':
      return page.items.length > 0 ? paper.list(page.items) : undefined;
    case 'words':
      return;
    case 'cautions':
      return paper.list([...cautionItems(page.items), PRINT_CAUTION]);
  }
}

/** The strip at true relative size, and the table of what to order. */
function finishes(paper: Paper, finishes: readonly BoardFinish[]): void {
  const numbered = finishes.map((finish, i) => ({ finish, key: String(i + 1) }));
  const sized = numbered.filter(({ finish }) => finish.area !== null && finish.area > 0);
  const whole = sized.reduce((sum, { finish }) => sum + (finish.area ?? 0), 0);
  if (sized.length > 1) {
    const parts = sized.map(({ finish }) => `${finish.surface} ${percent((finish.area ?? 0) / whole)}`);
    const height = 70;
    paper.drawing(height, `Finishes by size: ${parts.join(', ')}`, (doc, { x, y }) => {
      let left = x;
      for (const { finish, key } of sized) {
        const wide = ((finish.area ?? 0) / whole) * paper.width;
        const shares = finish.colours.reduce((sum, { share }) => sum + share, 0) || 1;
        let top = y;
        for (const { screen, share } of finish.colours) {
          doc.rect(left, top, wide, (share / shares) * height).fill(screen);
          top += (share / shares) * height;
        }
        if (wide > 22) {
          doc.rect(left + 3, y + 3, 15, 14).fill('#ffffff');
          paper.mark(key, { x: left + 3, y: y + 5, width: 15, align: 'center' }, { strong: true, size: 9 });
        }
        left += wide;
      }
      doc.rect(x, y, paper.width, height).lineWidth(0.5).stroke('#6a6a6a');
      paper.y = y;
    });
    paper.text(
      'Each finish as large as the part of the room that it covers; the numbers are those of the table.',
      {
        soft: true,
        size: 8.5,
      },
    );
  }
  table(paper, numbered);
  const alike = alikeFinishes(finishes).map(alikeInWords);
  if (alike.length > 0) {
    paper.heading(3, 'Easily taken for each other');
    paper.list(alike);
  }
}

function table(paper: Paper, rows: readonly { finish: BoardFinish; key: string }[]): void {
  paper.table(
    [
      { title: '', width: 2 },
      { title: 'Surface', width: 2.6 },
      { title: 'Finish', width: 5.4 },
      { title: 'LRV', width: 1.2, align: 'right' },
      { title: 'Under each light, as worked out', width: 6 },
    ],
    rows.map(({ finish, key }): (string | Cell)[] => {
      const { surface, state, area, colours, words, lrv, under, kind } = finish;
      const facts = [
        boardFinishTitle(finish) + (kind ? `, ${kind}` : ''),
        words,
        coloursInWords(colours),
        area === null ? '' : `Covers ${percent(area)}`,
      ];
      return [
        {
          text: key,
          strong: true,
          patch: colours.map(({ screen, share }) => ({ rgb: rgbOf(screen), share })),
          side: 30,
        },
        { text: `${surface}\n${key === 'A' || key === 'B' ? 'to choose' : STATES[state]}`, strong: true },
        facts.filter(Boolean).join('\n'),
        String(Math.round(lrv)),
        under.map(({ light, words: look }) => (look ? `${light}: ${look}` : light)).join('\n'),
      ];
    }),
  );
}

/** Boxes to tick and lines to sign. */
function sign(
  paper: Paper,
  questions: readonly BoardQuestion[],
  { round, hash }: { round: number; hash: string },
): void {
  const row = 26;
  paper.keep(Math.min(90 + questions.length * row, 500));
  paper.heading(2, 'Your answer');
  paper.text('Tick one box in each line; write what is to change beside or below it.', { soft: true });
  for (const { surface, options, proposed } of questions) {
    const boxes =
      options.length > 0
        ? [
            ...options.map(({ name }, i) => `Yes to ${'AB'[i]}${name ? `, ${name}` : ''}`),
            'Neither',
            'Change',
          ]
        : ['Yes', 'No', 'Change'];
    const what = proposed ? `${surface}: ${boardFinishTitle(proposed)}` : `${surface}: one of the two`;
    paper.drawing(row + 14, `${what}. Boxes to tick: ${boxes.join('; ')}`, (doc, { x, y }) => {
      paper.mark(what, { x, y, width: paper.width }, { strong: true });
      const wide = paper.width / boxes.length;
      for (const [i, words] of boxes.entries()) {
        doc
          .rect(x + i * wide, y + 17, 11, 11)
          .lineWidth(0.9)
          .stroke('#1c1c1c');
        paper.mark(words, { x: x + i * wide + 17, y: y + 17, width: wide - 22 });
      }
    });
  }
  paper.keep(150);
  paper.space(6);
  for (const words of ['Words', '', 'Name', 'Date and signature'])
    paper.drawing(26, words ? `Line to write on: ${words}` : 'Line to write on', (doc, { x, y }) => {
      if (words) paper.mark(words, { x, y: y + 8, width: 110 }, { soft: true });
      doc
        .moveTo(x + 115, y + 20)
        .lineTo(x + paper.width, y + 20)
        .lineWidth(0.6)
        .stroke('#6a6a6a');
    });
  paper.text(
    `Round ${round}. Fingerprint of what is shown (SHA-256): ${hash.replace(/(.{16})(?=.)/g, '$1 ')}`,
    {
      size: 8,
      soft: true,
    },
  );
}

function rgbOf(screen: string): Rgb {
  const [red, green, blue] = [1, 3, 5].map((at) => parseInt(screen.slice(at, at + 2), 16));
  return [red, green, blue];
}
