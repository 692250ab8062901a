/** The part of a board's page where the client answers; it works without a script, and the script adds to it. */
import {
  LONGEST,
  VERDICTS,
  boardFinishTitle,
  boardQuestions,
  type BoardAnswer,
  type BoardContent,
  type BoardFinish,
  type BoardQuestion,
  type Verdict,
} from '#lib/job/index.ts';
import { escaped, list, paragraphs, patch, said } from './board-markup.ts';

/** How the answer goes: to the studio, as text that the client sends, or not at all (a preview). */
export type AnswerWay = { kind: 'send'; action: string } | { kind: 'text' } | { kind: 'preview' };

export interface GivenAnswer {
  /** Epoch milliseconds. */
  readonly receivedAt: number;
  readonly answer: BoardAnswer;
}

const SAID: Record<Verdict, string> = { yes: 'yes', no: 'no', change: 'change' };
const RADIOS: Record<Verdict, string> = {
  yes: 'Yes, like this',
  no: 'No, not this',
  change: 'Change something: say what',
};

/** The form. */
export function answerForm(
  content: BoardContent,
  { round, hash, way }: { round: number; hash: string; way: AnswerWay },
): string {
  const questions = boardQuestions(content);
  const places = placesOf(content);
  const asks = questions.map((question, i) => `<li>${ask(question, { number: i + 1, places })}</li>`);
  const action = way.kind === 'send' ? ` method="post" action="${escaped(way.action)}"` : '';
  const preview = way.kind === 'preview';
  const button = preview
    ? '<p class="notice">This is a preview: here the client sends the answer.</p>'
    : `<button class="main">${way.kind === 'text' ? 'Make my answer to send' : 'Send my answer'}</button>`;
  const after =
    way.kind === 'text'
      ? 'Your answer becomes a short text. You send it by any messenger; nothing leaves this file by itself.'
      : 'The day and hour are kept with it. You may send another answer later; the first stays.';
  const script =
    way.kind === 'text'
      ? '<noscript><p class="notice">This browser runs no scripts in this file. Write to your designer for each surface: yes, no, or change.</p></noscript>'
      : '';
  return `<section class="sheet" id="answer" aria-labelledby="title-answer">
<h2 id="title-answer">Your answer</h2>
${script}
<form class="answer"${action} data-way="${way.kind}" data-hash="${escaped(hash)}" data-round="${round}" data-title="${escaped(content.title)}">
<input type="hidden" name="hash" value="${escaped(hash)}">
<p class="kept notice" hidden>What you wrote last time, but did not send, is still here.</p>
<ol class="asks">${asks.join('')}</ol>
<div class="whole"><label><span>${questions.length > 0 ? 'Anything else' : 'What you think'} <span class="soft">(up to ${LONGEST.whole} characters)</span></span><textarea name="comment" rows="3" maxlength="${LONGEST.whole}" aria-describedby="error-whole"></textarea></label><p class="error" id="error-whole" hidden></p></div>
<div class="who"><label><span>Your name</span><input type="text" name="name" required maxlength="80" autocomplete="name" aria-describedby="error-who"></label><p class="error" id="error-who" hidden></p></div>
<div class="summary"><h3>What you are about to say</h3><ul></ul></div>
<p class="note notice" role="status" hidden></p>
${button}
<p class="small soft">${after}</p>
</form>
${way.kind === 'send' ? DONE : ''}${way.kind === 'text' ? MADE : ''}
</section>`;
}

const DONE = `<div class="done" tabindex="-1" role="status" hidden><h3>Thank you</h3><p class="when"></p><ul class="points"></ul><p>You may send another answer; the first stays.</p><button type="button">Send another answer</button></div>`;
const MADE = `<div class="made" hidden><h3 tabindex="-1">Now send this text to your designer</h3><label><span>Your answer as text: send it whole</span><textarea readonly rows="8"></textarea></label><p class="row"><button type="button" class="main">Copy the text</button> <a class="button" href="mailto:">Write an e-mail with it</a></p><p class="copied" role="status"></p></div>`;

function ask(
  { surfaceId, surface, options, proposed }: BoardQuestion,
  { number, places }: { number: number; places: readonly Place[] },
): string {
  const name = `verdict.${surfaceId}`;
  const radio = (value: string, words: string, extra: string) =>
    `<label><input type="radio" name="${escaped(name)}" value="${escaped(value)}" required${extra}><span>${words}</span></label>`;
  const one = (verdict: Verdict) => radio(verdict, RADIOS[verdict], ` data-words="${SAID[verdict]}"`);
  const choose = (finish: BoardFinish, i: number) =>
    radio(
      `yes:${finish.swatchId}`,
      `Yes to ${'AB'[i]}: ${patch(finish.colours, 'little')} ${said(boardFinishTitle(finish))}`,
      ` data-words="yes to ${'AB'[i]}, ${escaped(finish.name || boardFinishTitle(finish))}" data-swatch="${escaped(finish.swatchId)}" data-name="${escaped(finish.name || boardFinishTitle(finish))}"`,
    );
  const radios =
    options.length > 0
      ? [
          ...options.map(choose),
          radio('no', 'No, neither of them', ' data-words="no, neither of them"'),
          one('change'),
        ]
      : VERDICTS.map(one);
  const what = proposed
    ? `<p class="order">${patch(proposed.colours, 'little')} ${said(boardFinishTitle(proposed))}</p>`
    : '';
  const pins = places.map(({ value, words }) => `<option value="${value}">${escaped(words)}</option>`);
  const pin =
    pins.length > 0
      ? `<label><span>A place on the picture</span><select class="pin" name="pin.${escaped(surfaceId)}"><option value="">none</option>${pins.join('')}</select></label><p class="small soft aid">Or tap the picture; with the keyboard, move the pin by the arrow keys.</p><div class="pads"></div><p class="where small" role="status"></p>`
      : `<select class="pin" name="pin.${escaped(surfaceId)}" hidden aria-label="A place on the picture"><option value=""></option></select><p class="where" hidden></p>`;
  return `<fieldset class="ask" data-id="${escaped(surfaceId)}" data-surface="${escaped(surface)}"><legend><span class="nr">${number}</span> ${said(surface)}</legend>${what}<div class="radios">${radios.join('')}</div><p class="error" role="alert" hidden></p><details><summary>Add words${pins.length > 0 ? ', or point at a place' : ''}</summary><label><span>Your words on this <span class="soft">(up to ${LONGEST.comment} characters)</span></span><textarea name="comment.${escaped(surfaceId)}" rows="2" maxlength="${LONGEST.comment}"></textarea></label>${pin}</details></fieldset>`;
}

interface Place {
  /** As a form sends it: page, x and y. */
  readonly value: string;
  readonly words: string;
}

/** Named places to pin to, on every page that has pictures; without any the middle of the first picture. */
function placesOf({ pages }: BoardContent): Place[] {
  const withPictures = pages.flatMap((page, at) => (page.kind === 'pictures' ? [{ page, at }] : []));
  const several = withPictures.length > 1;
  return withPictures.flatMap(({ page, at }, i) => {
    const of = several ? `, picture ${i + 1}` : '';
    const named = page.places
      .filter(({ x, y }) => x >= 0 && x <= 1 && y >= 0 && y <= 1)
      .map(({ surface, x, y }) => ({
        value: `${at},${rounded(x)},${rounded(y)}`,
        words: `${surface}${of}`,
      }));
    return named.length > 0 ? named : [{ value: `${at},0.5,0.5`, words: `The middle${of}` }];
  });
}

function rounded(value: number): number {
  return Math.round(value * 1000) / 1000;
}

/** Answers that came through this link, oldest first. */
export function givenAnswers(content: BoardContent, given: readonly GivenAnswer[]): string {
  if (given.length === 0) return '';
  const questions = new Map(boardQuestions(content).map((question) => [question.surfaceId, question]));
  const items = given.map(({ receivedAt, answer }) => {
    const at = new Date(receivedAt);
    const words = at.toLocaleString('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone: 'UTC' });
    const lines = Object.entries(answer.surfaces).map(([id, { verdict, swatchId, comment, pin }]) => {
      const question = questions.get(id);
      const chosen = question?.options.find((option) => option.swatchId === swatchId);
      const which = chosen ? ` to ${said(chosen.name || boardFinishTitle(chosen))}` : '';
      const where = pin ? ', with a place on the picture' : '';
      return `<strong>${said(question?.surface ?? id)}:</strong> ${SAID[verdict]}${which}${where}${paragraphs(comment, ' class="quoted"')}`;
    });
    return `<h3>Received <time datetime="${at.toISOString()}">${words} (UTC)</time> from ${said(answer.name)}</h3>${list(lines, ' class="points"')}${paragraphs(answer.comment, ' class="quoted"')}`;
  });
  return `<section class="sheet" id="answers" aria-labelledby="title-answers"><h2 id="title-answers">Received</h2>${items.join('')}<p>You may send another answer below; the first stays.</p></section>`;
}
