import { dateWords, moneyWords } from '#lib/finish/index.ts';
import { leftOutWords, shortageWords } from '#lib/job/index.ts';
import type { Paper, PaperSize } from './paper.ts';
import {
  boughtWords,
  bySupplier,
  costWords,
  orderByWords,
  stateWords,
  taxWords,
  type ScheduleContents,
} from './schedule-contents.ts';
import {
  PATCH_NOTE,
  addShapeless,
  finishCell,
  placesOf,
  pulledTogether,
  startPaper,
} from './schedule-paper.ts';

/** What a supplier is asked for: a sheet to shop from, by supplier. */
export async function shoppingPaper(contents: ScheduleContents, size: PaperSize): Promise<Buffer> {
  return await pulledTogether((tight) => shoppingList(contents, { size, tight }));
}

function shoppingList(
  contents: ScheduleContents,
  { size, tight }: { size: PaperSize; tight: boolean },
): Paper {
  const paper = startPaper(contents, { size, landscape: false, tight, title: 'Shopping list' });
  const { schedule, job, trade } = contents;
  paper.heading(1, 'Shopping list');
  paper.text(
    `${job.name}. As of ${dateWords(contents.today)}. Prices in ${job.currency || 'no currency given'}, ${taxWords(trade)}. Tick what is ordered, and check maker, code and sheen on what comes.`,
  );
  if (schedule.orders.length === 0)
    paper.text('Nothing is to be bought yet: no finish is chosen.', { strong: true });
  for (const { supplier, orders } of bySupplier(schedule.orders)) {
    paper.heading(2, supplier || 'No supplier named');
    paper.table(
      [
        { title: '', width: 0.25 },
        { title: 'Buy', width: 1.5 },
        { title: 'Of', width: 2.1 },
        { title: 'For', width: 1.5 },
        { title: 'Order by', width: 1 },
        { title: 'Cost', width: 1.05, align: 'right' },
      ],
      orders.map((order) => [
        { text: '', patch: [255, 255, 255] as const },
        { text: boughtWords(order, trade), strong: true },
        finishCell(contents, order),
        placesOf(contents, order),
        order.delivery.kind === 'in time' ? orderByWords(order) : stateWords(order),
        costWords(order.cost, job),
      ]),
    );
    const known = orders.flatMap(({ cost }) => (cost ? [cost.gross] : []));
    if (known.length > 0) {
      const without =
        known.length < orders.length ? `, without ${orders.length - known.length} that have no price` : '';
      paper.text(
        `Together ${moneyWords(
          known.reduce((sum, gross) => sum + gross, 0),
          job.currency,
        )}${without}.`,
        { strong: true },
      );
    }
  }
  const leftOut = leftOutWords(contents);
  if (leftOut.length > 0) {
    paper.heading(2, 'Not in these sums');
    paper.list(leftOut);
  }
  const short = shortageWords(contents);
  if (short.length > 0) {
    paper.heading(2, 'What may run short');
    paper.list(short);
  }
  paper.text(PATCH_NOTE, { soft: true });
  addShapeless(paper);
  return paper;
}
