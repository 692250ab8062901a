// @ts-check
// What a script adds to the pictures of a board's page: the divider between before and after, and a pin.

/**
 * @param {ParentNode} root
 * @param {string} selector
 * @returns {HTMLElement[]}
 */
export function all(root, selector) {
  return /** @type {HTMLElement[]} */ ([...root.querySelectorAll(selector)]);
}

/**
 * @param {ParentNode} root
 * @param {string} selector
 * @returns {any}
 */
export function one(root, selector) {
  const found = root.querySelector(selector);
  if (!found) throw new Error(`Expected ${selector} on the page`);
  return found;
}

/**
 * The divider between before and after: by its range control, or by dragging across the picture.
 * @param {HTMLElement} pictures
 */
export function wipe(pictures) {
  const range = one(pictures, 'input[type=range]');
  const stage = one(pictures, '.stage');
  const both = one(pictures, '.show-both');
  const cut = () => {
    stage.style.setProperty('--cut', `${range.value}%`);
    range.setAttribute('aria-valuetext', `${range.value} % before, ${100 - range.value} % proposal`);
  };
  /** @param {PointerEvent} event */
  const drag = (event) => {
    if (!both.checked || (event.buttons & 1) === 0) return;
    const { left, width } = stage.getBoundingClientRect();
    range.value = String(Math.round(((event.clientX - left) / width) * 100));
    cut();
  };
  range.addEventListener('input', cut);
  stage.addEventListener('pointerdown', drag);
  stage.addEventListener('pointermove', drag);
  // The picture itself would be dragged away otherwise.
  stage.addEventListener('dragstart', (/** @type {Event} */ event) => event.preventDefault());
  cut();
}

/**
 * A pin: by tapping the picture, by arrow keys, or by a place's name. The select holds it.
 * @param {HTMLElement} ask
 */
export function pinning(ask) {
  const details = one(ask, 'details');
  const select = one(ask, 'select.pin');
  const sources = all(document, '.pictures');
  if (sources.length === 0) return;
  const own = document.createElement('option');
  const pads = sources.map((source) => {
    const page = Number(source.dataset.page);
    const pad = document.createElement('div');
    pad.className = 'pad';
    pad.tabIndex = 0;
    pad.setAttribute('role', 'application');
    const from = one(source, '.after img');
    const image = document.createElement('img');
    image.alt = '';
    image.width = from.width;
    image.height = from.height;
    image.loading = 'lazy';
    const mark = document.createElement('span');
    mark.className = 'mark';
    pad.append(image, mark);
    one(ask, '.pads').append(pad);
    const fill = () => {
      if (image.src) return;
      // Set in this order, or the browser fetches `src` as well.
      image.sizes = '(min-width: 46rem) 30rem, 66vw';
      if (from.srcset) image.srcset = from.srcset;
      image.src = from.src;
    };
    /** @param {number} x @param {number} y */
    const put = (x, y) => {
      const part = (/** @type {number} */ value) => Math.round(Math.min(1, Math.max(0, value)) * 1000) / 1000;
      own.value = `${page},${part(x)},${part(y)}`;
      own.textContent = `My own place: ${Math.round(part(x) * 100)} % across, ${Math.round(part(y) * 100)} % down`;
      if (!own.parentNode) select.append(own);
      select.value = own.value;
      select.dispatchEvent(new Event('change', { bubbles: true }));
    };
    pad.addEventListener('click', (event) => {
      const { left, top, width, height } = image.getBoundingClientRect();
      put((event.clientX - left) / width, (event.clientY - top) / height);
    });
    pad.addEventListener('keydown', (event) => {
      const step = event.shiftKey ? 0.1 : 0.02;
      const moves = /** @type {Record<string, [number, number]>} */ ({
        ArrowLeft: [-step, 0],
        ArrowRight: [step, 0],
        ArrowUp: [0, -step],
        ArrowDown: [0, step],
      });
      const move = moves[event.key];
      const away = event.key === 'Delete' || event.key === 'Backspace';
      if (!move && !away) return;
      event.preventDefault();
      if (away) {
        select.value = '';
        select.dispatchEvent(new Event('change', { bubbles: true }));
        return;
      }
      const [at, x, y] = select.value.split(',').map(Number);
      const here = select.value !== '' && at === page;
      put((here ? x : 0.5) + move[0], (here ? y : 0.5) + move[1]);
    });
    return { page, pad, mark, fill };
  });
  const show = () => {
    const [page, x, y] = select.value.split(',').map(Number);
    const chosen = select.selectedOptions[0]?.textContent?.trim() ?? '';
    for (const { pad, mark, page: mine } of pads) {
      const here = select.value !== '' && mine === page;
      mark.hidden = !here;
      mark.style.left = `${x * 100}%`;
      mark.style.top = `${y * 100}%`;
      const state = here ? `The pin: ${chosen}.` : 'No pin here yet.';
      pad.setAttribute(
        'aria-label',
        `Picture to point at for ${ask.dataset.surface}. ${state} Tap it, or move the pin with the arrow keys; Delete takes it away.`,
      );
    }
    one(ask, '.where').textContent = select.value === '' ? '' : `Pin: ${chosen}`;
  };
  const fill = () => pads.forEach((pad) => pad.fill());
  details.addEventListener('toggle', () => details.open && fill());
  select.addEventListener('change', show);
  ask.addEventListener('restored', () => {
    const kept = ask.dataset.pin;
    if (kept && select.value !== kept) {
      own.value = kept;
      own.textContent = 'My own place, from before';
      select.append(own);
      select.value = kept;
    }
    if (select.value !== '' || one(ask, 'textarea').value !== '') details.open = true;
    show();
  });
}
