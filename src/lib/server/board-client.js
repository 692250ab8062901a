// @ts-check
/*
 * What a board's page does beyond what it does without a script: the divider, a pin on the picture, a summary, an answer that
 * is sent without leaving the page or is made into a text, and words that survive a bad line. It stands inside the page.
 */
import { answerText } from './board-answer-text.js';
import { all, one, pinning, wipe } from './board-client-pictures.js';

/**
 * @typedef {import('./board-answer-text.js').Answer} Answer
 * @typedef {import('./board-answer-text.js').SurfaceAnswer} SurfaceAnswer
 */

begin();

function begin() {
  document.documentElement.classList.add('script');
  for (const pictures of all(document, '.pictures')) wipe(pictures);
  for (const time of all(document, 'time[datetime]')) {
    const at = new Date(time.getAttribute('datetime') ?? '');
    if (!Number.isNaN(at.getTime()))
      time.textContent = at.toLocaleString([], { dateStyle: 'long', timeStyle: 'short' });
  }
  const form = document.querySelector('form.answer');
  if (form instanceof HTMLFormElement && form.dataset.way) answering(form);
}

/** @param {HTMLFormElement} form */
function answering(form) {
  const { way, hash = '', round = '', title = '' } = form.dataset;
  const asks = all(form, '.ask');
  form.noValidate = true;
  for (const ask of asks) pinning(ask);
  const draft = drafts(form, way === 'preview' ? null : `board-${hash}`);
  const summarise = () => {
    const list = one(form, '.summary ul');
    list.replaceChildren(...asks.map((ask) => line(said(ask).words)));
  };
  const changed = () => {
    summarise();
    // A text that was made says what was said before.
    for (const made of all(document, '.made')) made.hidden = true;
    draft.keep();
  };
  form.addEventListener('input', changed);
  form.addEventListener('change', changed);
  for (const ask of asks)
    for (const change of all(ask, 'input[value=change]'))
      change.addEventListener('change', () => (one(ask, 'details').open = true));
  draft.restore();
  for (const ask of asks) ask.dispatchEvent(new CustomEvent('restored'));
  summarise();
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    if (!checked(form, asks)) return;
    const answer = answerOf(form, asks);
    if (way === 'send') void send(form, answer, draft);
    if (way === 'text') {
      const names = { surfaces: surfaceNames(asks), swatches: swatchNames(asks) };
      showText(form, answerText(answer, { title, round, hash, ...names }));
    }
  });
}

/**
 * What is said of one surface so far.
 * @param {HTMLElement} ask
 */
function said(ask) {
  const { surface = '' } = ask.dataset;
  const radio = /** @type {HTMLInputElement | null} */ (ask.querySelector('input[type=radio]:checked'));
  const comment = one(ask, 'textarea').value.trim();
  const pin = one(ask, 'select.pin').value;
  const verdict = radio ? (radio.dataset.words ?? '') : 'no answer yet';
  const extra = [comment && 'with words', pin && 'with a place on the picture'].filter(Boolean).join(', ');
  return { radio, comment, pin, words: `${surface}: ${verdict}${extra ? `, ${extra}` : ''}` };
}

/** @param {string} words */
function line(words) {
  const item = document.createElement('li');
  item.textContent = words;
  return item;
}

/**
 * Whether the form can go; what is missing is said where it is missing, and the first of it is shown.
 * @param {HTMLFormElement} form
 * @param {HTMLElement[]} asks
 */
function checked(form, asks) {
  /** @type {HTMLElement[]} */
  const wrong = [];
  for (const ask of asks) {
    const { radio, comment, pin } = said(ask);
    const bare = !radio && (comment !== '' || pin !== '');
    const words = 'Say yes, no or change too, so that it is clear what your words mean.';
    complain(ask, bare ? words : '');
    if (bare) wrong.push(one(ask, 'input[type=radio]'));
  }
  const nothing = !asks.some((ask) => said(ask).radio) && form.comment.value.trim() === '';
  const whole = one(form, '.whole');
  complain(whole, nothing ? 'Answer at least one of the questions above, or write something here.' : '');
  if (nothing && wrong.length === 0) wrong.push(asks[0] ? one(asks[0], 'input[type=radio]') : form.comment);
  const nameless = form.elements.namedItem('name');
  const field = one(form, '.who');
  const missing = nameless instanceof HTMLInputElement && nameless.value.trim() === '';
  complain(field, missing ? 'Type your name, so that it is known whose answer this is.' : '');
  if (missing) wrong.push(nameless);
  wrong[0]?.focus();
  return wrong.length === 0;
}

/**
 * @param {HTMLElement} place
 * @param {string} words
 */
function complain(place, words) {
  const error = one(place, '.error');
  error.textContent = words;
  error.hidden = words === '';
  for (const field of all(place, 'input, textarea')) {
    if (words === '') field.removeAttribute('aria-invalid');
    else if (field.matches('[type=text], [name=comment]')) field.setAttribute('aria-invalid', 'true');
  }
}

/**
 * @param {HTMLFormElement} form
 * @param {HTMLElement[]} asks
 * @returns {Answer}
 */
function answerOf(form, asks) {
  /** @type {[string, SurfaceAnswer][]} */
  const surfaces = [];
  for (const ask of asks) {
    const { radio, comment, pin } = said(ask);
    if (!radio) continue;
    const [verdict, swatchId = null] = radio.value.split(':');
    const [page, x, y] = pin.split(',').map(Number);
    surfaces.push([ask.dataset.id ?? '', { verdict, swatchId, comment, pin: pin ? { page, x, y } : null }]);
  }
  const name = one(form, '[name=name]').value.trim();
  return { name, comment: form.comment.value.trim(), surfaces: Object.fromEntries(surfaces) };
}

/** @param {HTMLElement[]} asks */
function surfaceNames(asks) {
  return Object.fromEntries(asks.map(({ dataset }) => [dataset.id ?? '', dataset.surface ?? '']));
}

/** @param {HTMLElement[]} asks */
function swatchNames(asks) {
  const radios = asks.flatMap((ask) => all(ask, 'input[data-swatch]'));
  return Object.fromEntries(radios.map(({ dataset }) => [dataset.swatch ?? '', dataset.name ?? '']));
}

/**
 * @param {HTMLFormElement} form
 * @param {Answer} answer
 * @param {{forget(): void}} draft
 */
async function send(form, answer, draft) {
  const button = one(form, 'button.main');
  const note = one(form, '.note');
  button.disabled = true;
  note.hidden = false;
  note.textContent = 'Sending …';
  try {
    const response = await fetch(form.action, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ hash: form.dataset.hash, answer }),
    });
    if (!response.ok) {
      const { error = '' } = await response.json().catch(() => ({}));
      note.textContent = `Not sent. ${error || 'The studio did not take it; try again in a minute.'} What you wrote is still here.`;
      return;
    }
    draft.forget();
    received(form, answer);
  } catch {
    note.textContent =
      'Not sent: there is no connection. What you wrote is still here; try again when there is one.';
  } finally {
    button.disabled = false;
  }
}

/**
 * @param {HTMLFormElement} form
 * @param {Answer} answer
 */
function received(form, answer) {
  const at = new Date().toLocaleString([], { dateStyle: 'long', timeStyle: 'short' });
  const done = one(document, '.done');
  const lines = all(form, '.summary li').map((item) => line(item.textContent ?? ''));
  one(done, '.when').textContent = `Received ${at} from ${answer.name}.`;
  one(done, 'ul').replaceChildren(...lines);
  one(form, '.note').hidden = true;
  form.hidden = true;
  done.hidden = false;
  done.focus();
  one(done, 'button').onclick = () => {
    form.hidden = false;
    done.hidden = true;
    one(form, 'input[type=radio], textarea').focus();
  };
}

/**
 * @param {HTMLFormElement} form
 * @param {string} text
 */
function showText(form, text) {
  const made = one(document, '.made');
  const area = one(made, 'textarea');
  const note = one(made, '.copied');
  area.value = text;
  area.rows = Math.min(16, text.split('\n').length + 3);
  one(made, 'a').href =
    `mailto:?subject=${encodeURIComponent(`Answer: ${form.dataset.title}`)}&body=${encodeURIComponent(text)}`;
  made.hidden = false;
  note.textContent = '';
  one(made, 'button').onclick = async () => {
    area.focus();
    area.select();
    // A file is no secure context everywhere: the clipboard may be missing, or refuse.
    const copied = await (navigator.clipboard?.writeText(text) ?? Promise.reject()).then(
      () => true,
      () => document.execCommand('copy'),
    );
    note.textContent = copied
      ? 'Copied. Paste it into a message to your designer.'
      : 'This browser does not let the page copy. The text is marked: copy it yourself.';
  };
  one(made, 'h3').focus({ preventScroll: true });
  made.scrollIntoView();
}

/**
 * What was typed, kept in this browser until it is sent. A browser that keeps nothing (private, or a file) loses nothing else.
 * @param {HTMLFormElement} form
 * @param {string | null} key null: nothing is kept
 */
function drafts(form, key) {
  if (key === null) return { keep() {}, forget() {}, restore() {} };
  return {
    keep() {
      try {
        localStorage.setItem(key, JSON.stringify([...new FormData(form)]));
      } catch {
        return;
      }
    },
    forget() {
      try {
        localStorage.removeItem(key);
      } catch {
        return;
      }
    },
    restore() {
      try {
        const kept = JSON.parse(localStorage.getItem(key) ?? '[]');
        for (const [name, value] of kept) {
          if (name === 'hash') continue;
          const field = form.elements.namedItem(name);
          if (field instanceof HTMLSelectElement) {
            field.value = value;
            const ask = field.closest('.ask');
            if (ask instanceof HTMLElement) ask.dataset.pin = value;
          } else if (
            field instanceof RadioNodeList ||
            field instanceof HTMLInputElement ||
            field instanceof HTMLTextAreaElement
          )
            field.value = value;
        }
        const typed = kept.some(
          (/** @type {[string, string]} */ [name, value]) => name !== 'hash' && value !== '',
        );
        one(form, '.kept').hidden = !typed;
      } catch {
        return;
      }
    },
  };
}
