import { untrack } from 'svelte';
import { goto } from '$app/navigation';
import { page } from '$app/state';

/**
 * Whether a part of the page has the whole screen. Escape, the browser's own way out and going back leave it; what else is
 * on the page is out of reach meanwhile. Made while a component is.
 */
export class FullScreen {
  on = $state(false);
  readonly #part: () => HTMLElement | undefined;

  constructor(part: () => HTMLElement | undefined) {
    this.#part = part;
    $effect(() => {
      if (!marked()) untrack(() => this.#end());
    });
    $effect(() => (this.on ? aside(part()) : undefined));
  }

  async toggle(): Promise<void> {
    if (this.on) return this.leave();
    const part = this.#part();
    // Some phones give full screen to films only: the page is covered then.
    if (document.fullscreenEnabled) await part?.requestFullscreen().catch(() => {});
    // A step to go back from, as the back gesture of a phone must not leave the page.
    await goto(location.href, { state: { full: true }, shallow: true });
    this.on = true;
  }

  leave(): void {
    if (!this.on) return;
    if (marked()) history.back();
    else this.#end();
  }

  /** The browser has given the screen or taken it back. */
  changed(): void {
    if (!document.fullscreenElement) this.leave();
  }

  #end(): void {
    this.on = false;
    if (document.fullscreenElement && document.fullscreenElement === this.#part())
      void document.exitFullscreen();
  }
}

/** Whether the step of the browser's history that the page is at stands for full screen. */
function marked(): boolean {
  return (page.state as { full?: boolean }).full === true;
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
