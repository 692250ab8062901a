// @ts-check

/**
 * @typedef {{page: number, x: number, y: number}} Pin
 * @typedef {{verdict: string, swatchId: string | null, comment: string, pin: Pin | null}} SurfaceAnswer
 * @typedef {{name: string, comment: string, surfaces: Record<string, SurfaceAnswer>}} Answer
 */

/**
 * An answer as text for a messenger; `readAnswerText` of the job reads it and says what its parts mean.
 * @param {Answer} answer
 * @param {{title: string, round: string, hash: string, surfaces: Record<string, string>, swatches: Record<string, string>}} board
 *   `surfaces` and `swatches` are names by id
 */
export function answerText(answer, board) {
  const items = [`From: ${written(answer.name)}`];
  for (const [id, { verdict, swatchId, comment, pin }] of Object.entries(answer.surfaces)) {
    const which = swatchId === null ? '' : `, ${label(board.swatches[swatchId])} [${idWritten(swatchId)}]`;
    const where = pin ? `; pin [${pin.page}, ${pin.x}, ${pin.y}]` : '';
    const words = comment.trim() ? `; words: ${written(comment)}` : '';
    items.push(`${label(board.surfaces[id])} [${idWritten(id)}]: ${verdict}${which}${where}${words}`);
  }
  if (answer.comment.trim()) items.push(`Comment: ${written(answer.comment)}`);
  items.push(`Round ${board.round} [${board.hash}]`);
  const lines = items.map((words, i) => `#${i + 1} ${words} (${check(`#${i + 1} ${words}`)})`);
  return [`My answer to “${label(board.title)}”:`, ...lines].join('\n');
}

/** @param {string} words */
function written(words) {
  return words
    .replace(/#/g, '#h')
    .replace(/>/g, '#g')
    .replace(/¶/g, '#p')
    .trim()
    .split(/\s*\n\s*/)
    .map((line) => line.replace(/\s+/g, ' '))
    .join(' ¶ ');
}

/**
 * A name that stands beside an id, without the signs that part things.
 * @param {string | undefined} name
 */
function label(name) {
  return (name ?? '').replace(/[[\](){}#>¶;:,\s]+/g, ' ').trim();
}

/** @param {string} id */
function idWritten(id) {
  return id.replace(/_/g, '.u').replace(/^-|-$|-(?=-)/g, '.d');
}

/** @param {string} words */
function check(words) {
  const kept = words
    .normalize('NFC')
    .replace(/…/g, '...')
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
