/**
 * A round as a page of its own: served at a link, or one file that opens offline. No shell of the studio, no font and no
 * script to fetch: text in the system's typeface, one style and one script inside. Words of clients and designers are text.
 */
import { createHash } from 'node:crypto';
import type { BoardContent } from '#lib/job/index.ts';
import textScript from './board-answer-text.js?raw';
import picturesScript from './board-client-pictures.js?raw';
import clientScript from './board-client.js?raw';
import { answerForm, givenAnswers, type AnswerWay, type GivenAnswer } from './board-form.ts';
import { escaped, type Images } from './board-markup.ts';
import type { RoundNews } from './boards.ts';
import pageStyle from './board-page.css?raw';
import { head, sections } from './board-sections.ts';

export interface BoardView {
  readonly round: number;
  /** SHA-256 of the content, hexadecimal. */
  readonly hash: string;
  readonly news: RoundNews | null;
  readonly images: Images;
  /** Where an answer goes; null in a preview, which shows the form all the same. */
  readonly answer: { readonly action: string } | null;
  /** Why no answer is taken, in a sentence; null where one is. */
  readonly closed: string | null;
  /** Answers that came through this link, oldest first. */
  readonly previous: readonly GivenAnswer[];
}

/** Most lights that a page of pictures has. */
const MOST_LIGHTS = 8;

/** Of each light's pictures only those of the chosen one are shown; by the browser, without a script. */
const LIGHT_RULES = Array.from(
  { length: MOST_LIGHTS },
  (_, i) => `.pictures:has(.light-${i}:checked) :is(.after, .lit):not(.in-${i})`,
).join(',');
const STYLE = `${pageStyle}\n@supports selector(:has(*)){${LIGHT_RULES}{display:none}}\n`;

/** The parts of the script as one: they import each other only for the tools that check them. */
const SCRIPT = [textScript, picturesScript, clientScript]
  .map((part) => part.replace(/^import [^;]*;$/gm, '').replace(/^export (?=function)/gm, ''))
  .join('\n');

const hashed = (text: string) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
const INLINE = `style-src ${hashed(STYLE)}; script-src ${hashed(SCRIPT)}; base-uri 'none'`;

/**
 * The content security policy of a page. The hashes are those of our own style and script, not of what stands in a page: words
 * that got in as markup would stay dead.
 */
export function boardPagePolicy(): string {
  return `default-src 'none'; img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; ${INLINE}`;
}

/** The page of a round, a whole HTML document. */
export function boardPage(content: BoardContent, view: BoardView): string {
  const { round, hash, news, images, answer, closed, previous } = view;
  const way: AnswerWay = answer ? { kind: 'send', action: answer.action } : { kind: 'preview' };
  const last =
    closed === null
      ? answerForm(content, { round, hash, way })
      : `<section class="sheet" id="answer"><h2>Your answer</h2><p>${escaped(closed)}</p></section>`;
  const takes = closed === null ? 'Your answer goes to your designer at once.' : null;
  return whole(content, {
    hash,
    round,
    // Under `no-referrer` a browser sends a form with the origin `null`, which the studio refuses.
    meta: '<meta name="referrer" content="same-origin">',
    body: `${head(content, { round, news, images, way: takes })}
${sections(content, images)}
${givenAnswers(content, previous)}
${last}`,
  });
}

/** The page of a round as one HTML file: pictures inside, no address; the answer becomes a text that the client sends. */
export function boardFile(
  content: BoardContent,
  view: {
    round: number;
    hash: string;
    news: RoundNews | null;
    images: (id: string) => { src: string; width: number; height: number };
  },
): string {
  const { round, hash, news } = view;
  const images: Images = (id) => ({ srcset: '', ...view.images(id) });
  const policy = `default-src 'none'; img-src data:; form-action 'none'; ${INLINE}`;
  const way = 'Your answer becomes a short text that you send by any messenger.';
  return whole(content, {
    hash,
    round,
    meta: `<meta name="referrer" content="no-referrer"><meta http-equiv="Content-Security-Policy" content="${escaped(policy)}">`,
    body: `${head(content, { round, news, images, way })}
${sections(content, images)}
${answerForm(content, { round, hash, way: { kind: 'text' } })}`,
  });
}

function whole(
  { title }: BoardContent,
  page: { hash: string; round: number; meta: string; body: string },
): string {
  const { hash, round, meta, body } = page;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
${meta}
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex, nofollow">
<meta name="format-detection" content="telephone=no">
<link rel="icon" href="data:,">
<title>${escaped(title)}, round ${round}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
${body}
<footer class="small">Round ${round}. Fingerprint of what is shown: <span class="hash">${escaped(hash.slice(0, 16))}</span></footer>
</main>
<script type="module">${SCRIPT}</script>
</body>
</html>
`;
}
