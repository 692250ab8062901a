/** Whether a part of the page has the whole screen. */
export class FullScreen {
  on = $state(false);
  #part: () => HTMLElement | undefined;

  constructor(part: () => HTMLElement | undefined) {
    this.#part = part;
  }

  async toggle(): Promise<void> {
    if (document.fullscreenElement) await document.exitFullscreen();
    else if (!this.on && document.fullscreenEnabled) await this.#part()?.requestFullscreen();
    // Some phones give full screen to films only: the page is covered then.
    else this.on = !this.on;
  }

  /** The browser has given the screen or taken it back, or somebody wants to leave. */
  changed(): void {
    this.on = document.fullscreenElement !== null && document.fullscreenElement === this.#part();
  }
}
