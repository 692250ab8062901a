import { amountOf, currencyDigits } from '#lib/finish/index.ts';
import { inOrder, type Swatch } from '#lib/job/index.ts';
import { packsWords, stateWords, swatchOf, type ScheduleContents } from './schedule-contents.ts';

/*
 * The schedule's lines as CSV (RFC 4180): comma, decimal point, UTF-8. A byte order mark stands before it only where it
 * holds more than ASCII, as spreadsheets else take it for another code. A supplier can fill in prices and lead times and it
 * can be read back as a price list: headers of what is read back are those of swatch lists, all others are none of them.
 */

const HEAD = [
  'Row',
  'Room',
  'Surface',
  'Used as',
  'Maker',
  'Code',
  'Name',
  'Sheen',
  'Needed',
  'Needed in',
  'Bought as',
  'Line total',
  'Currency',
  'Price',
  'Per',
  'Lead time (days)',
  'Needed on',
  'Order by',
  'Ordered from',
  'State',
] as const;
type Field = (typeof HEAD)[number];

/** Lines of the schedule, and behind each the further prices of what it is sold in. */
export function scheduleList(contents: ScheduleContents): string {
  const { schedule, job } = contents;
  const orders = new Map(schedule.orders.map((order) => [order.id, order]));
  const told = new Set<string>();
  const rows = schedule.lines.flatMap(({ item, need, cost, orderId, neededOn }) => {
    const order = orderId === null ? undefined : orders.get(orderId);
    const swatch = swatchOf(contents, item.id);
    // A price is said once: said again it would contradict itself as soon as one of the two is changed.
    const prices = swatch && !told.has(swatch.id) ? pricesOf(swatch, job.currency) : [];
    if (swatch) told.add(swatch.id);
    const finish = {
      Maker: swatch?.maker ?? '',
      Code: swatch?.code ?? '',
      Name: swatch?.name ?? '',
      Sheen: item.finish?.sheen ?? '',
    };
    const line: Partial<Record<Field, string>> = {
      Row: 'line',
      Room: item.room,
      Surface: item.surface,
      'Used as': item.role,
      ...finish,
      Needed: need ? filed(Number(need.amount.toFixed(3))) : '',
      'Needed in': need?.unit ?? '',
      'Bought as': order ? packsWords(order) : '',
      'Line total': cost ? amountOf(cost.gross, job.currency).toFixed(currencyDigits(job.currency)) : '',
      ...(prices[0] ?? { Currency: job.currency }),
      'Lead time (days)': item.leadTimeDays === null ? '' : String(item.leadTimeDays),
      'Needed on': neededOn ?? '',
      'Order by': order?.delivery.orderBy ?? '',
      'Ordered from': item.supplier,
      State: order ? stateWords(order) : 'open: no finish chosen',
    };
    const further = prices.slice(1).map((price): Partial<Record<Field, string>> => ({
      Row: 'price',
      ...finish,
      ...price,
      'Ordered from': item.supplier,
    }));
    return [line, ...further];
  });
  const text = [
    HEAD.map((field) => cell(field, field)),
    ...rows.map((row) => HEAD.map((field) => cell(row[field] ?? '', field))),
  ]
    .map((cells) => `${cells.join(',')}\r\n`)
    .join('');
  return /[^\u0000-\u007f]/.test(text) ? `\ufeff${text}` : text;
}

type Priced = { readonly Price: string; readonly Per: string; readonly Currency: string };

/** What a swatch costs: by its packs, else by the unit. */
function pricesOf({ price, supply }: Swatch, currency: string): Priced[] {
  const packs = inOrder(supply?.packs ?? {}).flatMap(({ size, unit, price: each }) =>
    each === null
      ? []
      : [{ Price: filed(each), Per: `${filed(size)} ${unit}`, Currency: price?.currency || currency }],
  );
  if (packs.length > 0) return packs;
  return price ? [{ Price: filed(price.amount), Per: price.unit, Currency: price.currency || currency }] : [];
}

/** A number with a decimal point and as many digits as tell it apart from others at a millionth. */
function filed(value: number): string {
  return Number.isFinite(value) ? String(Number(value.toPrecision(12))) : '';
}

const NUMERIC: readonly string[] = ['Needed', 'Line total', 'Price', 'Lead time (days)'] satisfies Field[];

/** A cell; text that a spreadsheet would take for a formula gets an apostrophe, which no reader of ours minds. */
function cell(words: string, field: string): string {
  const guarded = !NUMERIC.includes(field) && /^[=+\-@\t\r]/.test(words) ? `'${words}` : words;
  return /[",\r\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}
