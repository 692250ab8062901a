/** One record of a delimited text: the line it begins on (from 1) and its cells. */
export interface CsvRecord {
  readonly line: number;
  readonly cells: readonly string[];
}

/** A record that could not be read. */
export interface CsvProblem {
  readonly line: number;
  readonly reason: string;
}

export interface Csv {
  readonly delimiter: ',' | ';' | '\t';
  readonly records: readonly CsvRecord[];
  readonly problems: readonly CsvProblem[];
}

const DELIMITERS = [';', '\t', ','] as const;
/** Records looked at to find the delimiter. */
const SAMPLE = 20;

/**
 * Reads delimited text: RFC 4180 (quotes, doubled quotes, line breaks inside quotes, CRLF or LF or CR), with comma,
 * semicolon or tab found from the text, a byte order mark and a leading `sep=;` line allowed. Blank lines are skipped. A
 * record with a broken quote is reported with its line, and reading goes on at the next line. Never throws.
 * A delimiter the caller knows better is taken as given.
 */
export function readCsv(text: string, given: Csv['delimiter'] | null = null): Csv {
  let body = text.startsWith('\ufeff') ? text.slice(1) : text;
  let line = 1;
  let delimiter = given;
  const stated = /^sep=([,;\t])(?:\r\n|\n|\r|$)/i.exec(body);
  if (stated) {
    delimiter ??= stated[1] as Csv['delimiter'];
    body = body.slice(stated[0].length);
    line = 2;
  }
  delimiter ??= likelyDelimiter(body);
  return { delimiter, ...read(body, { delimiter, line, most: Infinity }) };
}

/** The delimiter that splits the first records most evenly; with equal merit the semicolon, then the tab, since commas are in numbers. */
function likelyDelimiter(body: string): Csv['delimiter'] {
  let best: Csv['delimiter'] = ',';
  let bestScore = 0;
  for (const delimiter of DELIMITERS) {
    const { records } = read(body, { delimiter, line: 1, most: SAMPLE });
    if (records.length === 0) continue;
    const columns = records[0].cells.length;
    const even = records.filter(({ cells }) => cells.length === columns).length / records.length;
    const score = columns > 1 ? even * Math.log2(columns) : 0;
    if (score > bestScore + 1e-9) {
      best = delimiter;
      bestScore = score;
    }
  }
  return best;
}

function read(
  text: string,
  { delimiter, line: firstLine, most }: { delimiter: string; line: number; most: number },
): { records: CsvRecord[]; problems: CsvProblem[] } {
  const records: CsvRecord[] = [];
  const problems: CsvProblem[] = [];
  let at = 0;
  let line = firstLine;
  while (at < text.length && records.length < most) {
    const start = line;
    const record = readRecord(text, at, delimiter);
    if ('reason' in record) {
      problems.push({ line: start, reason: record.reason });
      at = endOfLine(text, at);
      line += 1;
      continue;
    }
    at = record.next;
    line += record.lines;
    if (record.cells.some((cell) => cell.trim() !== '')) records.push({ line: start, cells: record.cells });
  }
  return { records, problems };
}

type Read = { cells: string[]; next: number; lines: number } | { reason: string };

function readRecord(text: string, from: number, delimiter: string): Read {
  const cells: string[] = [];
  let at = from;
  let lines = 0;
  for (;;) {
    let cell: string;
    if (text[at] === '"') {
      const quoted = readQuoted(text, at);
      if (!quoted) return { reason: 'a quotation mark is opened and never closed' };
      ({ cell } = quoted);
      lines += quoted.lines;
      at = quoted.next;
      if (at < text.length && text[at] !== delimiter && text[at] !== '\n' && text[at] !== '\r') {
        return { reason: 'text goes on after a closing quotation mark' };
      }
    } else {
      let end = at;
      while (end < text.length && text[end] !== delimiter && text[end] !== '\n' && text[end] !== '\r') end++;
      cell = text.slice(at, end);
      at = end;
    }
    cells.push(cell);
    if (at >= text.length) return { cells, next: at, lines: lines + 1 };
    if (text[at] === delimiter) {
      at++;
      continue;
    }
    return { cells, next: endOfLine(text, at), lines: lines + 1 };
  }
}

/** A quoted cell from its opening mark; null where it never ends. */
function readQuoted(text: string, from: number): { cell: string; next: number; lines: number } | null {
  let cell = '';
  let lines = 0;
  let at = from + 1;
  for (;;) {
    const mark = text.indexOf('"', at);
    if (mark < 0) return null;
    const part = text.slice(at, mark);
    cell += part;
    lines += part.match(/\r\n|\n|\r/g)?.length ?? 0;
    if (text[mark + 1] !== '"') return { cell, next: mark + 1, lines };
    cell += '"';
    at = mark + 2;
  }
}

/** Where the line after the one at `at` begins. */
function endOfLine(text: string, at: number): number {
  for (let i = at; i < text.length; i++) {
    if (text[i] === '\n') return i + 1;
    if (text[i] === '\r') return text[i + 1] === '\n' ? i + 2 : i + 1;
  }
  return text.length;
}
