import { untrack } from 'svelte';
import { goto } from '$app/navigation';
import { page } from '$app/state';
import { newId } from './studio.svelte.ts';

/**
 * Whether a part of the page has the whole screen. Escape, the browser's own way out and going back leave it; what else is
 * on the page is out of reach meanwhile. Made while a component is.
 */
export class FullScreen {
  on = $state(false);
  readonly #part: () => HTMLElement | undefined;
  /** Names the step of the browser's history that stands for it; one that an earlier page left is none. */
  #step = newId();
  /** Whether the way back is being taken: it takes a moment, and a second step back would leave the page. */
  #leaving = false;

  constructor(part: () => HTMLElement | undefined) {
    this.#part = part;
    $effect(() => {
      if (!this.#inIt) untrack(() => this.#end());
    });
    $effect(() => (this.on ? aside(part()) : undefined));
  }

  async toggle(): Promise<void> {
    if (this.on) return this.leave();
    const part = this.#part();
    // Some phones give full screen to films only: the page is covered then.
    if (document.fullscreenEnabled) await part?.requestFullscreen().catch(() => {});
    // A step to go back from, as the back gesture of a phone must not leave the page.
    this.#step = newId();
    await goto(location.href, { state: { full: this.#step }, shallow: true });
    this.on = true;
  }

  leave(): void {
    if (!this.on || this.#leaving) return;
    this.#leaving = this.#inIt;
    if (this.#leaving) history.back();
    else this.#end();
  }

  /** The browser has given the screen or taken it back. */
  changed(): void {
    if (!document.fullscreenElement) this.leave();
  }

  get #inIt(): boolean {
    return (page.state as { full?: string }).full === this.#step;
  }

  #end(): void {
    this.on = this.#leaving = false;
    if (document.fullscreenElement && document.fullscreenElement === this.#part())
      void document.exitFullscreen();
  }
}

/** Puts all that lies beside a part of the page out of reach, and gives the way back. */
function aside(part: HTMLElement | undefined): () => void {
  const hidden: HTMLElement[] = [];
  for (let at = part; at?.parentElement; at = at.parentElement)
    for (const beside of at.parentElement.children)
      if (beside !== at && beside instanceof HTMLElement && !beside.inert) {
        beside.inert = true;
        hidden.push(beside);
      }
  return () => hidden.forEach((element) => (element.inert = false));
}
