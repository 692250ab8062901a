/*
 * An answer as text, for clients whose board is a file: the page writes it, any messenger carries it, the designer pastes it.
 *
 * One item after another, each `#number words (check)`: who answers, one item a surface, the comment on the whole, and the
 * round with its content hash as the last:
 *
 *   #1 From: Ida Fenn (1f0a)
 *   #2 Cabinets [cabinets]: yes (77c0)
 *   #3 Counter [counter]: yes, Quiet stone [quiet] (90af)
 *   #4 Walls [walls]: change; pin [0, 0.512, 0.3]; words: A little lighter, please. (1c2d)
 *   #5 Comment: Lovely. (33aa)
 *   #6 Round 2 [64 hexadecimal digits] (9b0c)
 *
 * What carries text breaks lines, quotes them with `>`, bends quotation marks, joins dashes, eats stars and underscores. The
 * check therefore leaves all of these out, and ids avoid them. In words `#h` is `#`, `#g` is `>`, `#p` is `¶`, and `¶` is the
 * end of a line, so that no words can look like the beginning of an item.
 */

const LAST = /^Round (\d{1,6}) \[([0-9a-f]{64})\]$/;
const CHECK = /^(.*?)\s*\(((?:[0-9a-f] ?){4})\)\s*$/;
const SURFACE =
  /^.*?\[([A-Za-z0-9.-]+)\]: (yes|no|change)(?:,.*?\[([A-Za-z0-9.-]+)\])?(?:; pin \[(\d+),([\d.]+),([\d.]+)\])?$/;
const AGAIN = 'Ask the client to copy and send the answer again, as one message.';

/**
 * An answer read from the text that a board's file makes, with the content hash of the round it is for. The answer is as it was
 * sent; `parseBoardAnswer` says whether that round asks for it.
 * @throws TypeError in words: which item, and what to do.
 */
export function readAnswerText(text: string): { hash: string; answer: unknown } {
  const joined = text
    .split(/\r\n|[\n\r\u2028\u2029]/)
    .map((line) => line.replace(/^[\s>\u200b\u2060]+/, ''))
    .join(' ')
    .replace(/\s+/g, ' ');
  const beginning = /#1 From:/.exec(joined);
  if (!beginning)
    throw new TypeError(
      'This is no answer to a board: its first item is “#1 From”. Paste all that the client sent.',
    );
  let name = '';
  let comment = '';
  const surfaces: [string, unknown][] = [];
  let rest = joined.slice(beginning.index);
  for (let number = 1; ; number += 1) {
    const { words, after } = item(rest, number);
    rest = after;
    const last = LAST.exec(words.replace(/\[[^\]]*\]/, (hash) => hash.replaceAll(' ', '')));
    if (last) return { hash: last[2], answer: { name, comment, surfaces: Object.fromEntries(surfaces) } };
    if (number === 1) name = plain(words.slice('From:'.length));
    else if (words.startsWith('Comment:')) comment = plain(words.slice('Comment:'.length));
    else surfaces.push(surface(words, number));
  }
}

/** The item with a number at the beginning of what is left, and what comes after it. */
function item(rest: string, number: number): { words: string; after: string } {
  if (!rest.startsWith(`#${number} `))
    throw new TypeError(
      `Item #${number} of this answer is missing. Paste all of it, to the item “Round”. ${AGAIN}`,
    );
  const next = rest.slice(1).search(/#\d+ /) + 1;
  // The last item ends with its check; a name or a greeting may follow it.
  const end = /^#\d+ Round \d+ \[[0-9a-f ]*\] ?\([0-9a-f ]*\)/.exec(rest)?.[0].length;
  const whole = end !== undefined ? rest.slice(0, end) : next > 0 ? rest.slice(0, next) : rest;
  const found = CHECK.exec(whole);
  if (!found && next === 0 && end === undefined)
    throw new TypeError(`This answer ends within item #${number}; its last item is “Round”. ${AGAIN}`);
  const words = found?.[1] ?? whole;
  if (found?.[2].replaceAll(' ', '') !== check(words)) {
    const told = words
      .replace(/^#\d+ /, '')
      .slice(0, 40)
      .trim();
    throw new TypeError(`Item #${number} (“${told}”) was changed on the way. ${AGAIN}`);
  }
  if (next === 0 && end === undefined)
    throw new TypeError(`This answer ends after item #${number}; its last item is “Round”. ${AGAIN}`);
  return { words: words.replace(/^#\d+ /, '').trim(), after: rest.slice(whole.length).trimStart() };
}

/** What an item says of a surface; a hyphen of an id that came back as another dash is a hyphen again. */
function surface(words: string, number: number): [id: string, said: unknown] {
  const [head, ...more] = words.split('; words: ');
  const found = SURFACE.exec(
    head
      .replace(/[\u2010-\u2015\u2212]/g, '-')
      .replace(/\[[^\]]*\]/g, (bracket) => bracket.replace(/[\s\u00ad\u200b\u2060]/g, '')),
  );
  if (!found)
    throw new TypeError(
      `Item #${number} (“${words.slice(0, 40).trim()}”) says nothing of a surface: expected yes, no or change. ${AGAIN}`,
    );
  const [, id, verdict, swatch, page, x, y] = found;
  const pin = page === undefined ? null : { page: Number(page), x: Number(x), y: Number(y) };
  const swatchId = swatch === undefined ? null : idOf(swatch);
  return [idOf(id), { verdict, swatchId, comment: plain(more.join('; words: ')), pin }];
}

/** Ids are written without underscores and without hyphens that stand together or at an end. */
function idOf(written: string): string {
  return written.replaceAll('.u', '_').replaceAll('.d', '-');
}

/** The client's words as they were typed. */
function plain(written: string): string {
  const signs: Record<string, string> = { h: '#', g: '>', p: '¶' };
  return written
    .trim()
    .replace(/ ?¶ ?/g, '\n')
    .replace(/# ?([hgp])/g, (_, sign: string) => signs[sign]);
}

/**
 * Four hexadecimal digits over an item: the lower half of CRC-32 (ISO/IEC 8802-3) over its UTF-8 bytes, without what changes on
 * the way: space, invisible signs, quotation marks, stars, underscores, tildes; dashes count as one hyphen.
 */
function check(words: string): string {
  const kept = words
    .normalize('NFC')
    .replaceAll('…', '...')
    .replace(
      /[\s\u00ad\u200b-\u200d\u2060\ufe0e\ufe0f\ufeff"'`´*_~\u2018-\u201f\u2032\u2033\u00ab\u00bb\u2039\u203a]/g,
      '',
    )
    .replace(/[\u2010-\u2015\u2212-]+/g, '-');
  let crc = 0xffffffff;
  for (const byte of new TextEncoder().encode(kept)) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ((~crc >>> 0) & 0xffff).toString(16).padStart(4, '0');
}
