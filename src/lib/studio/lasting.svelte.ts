/**
 * Whether something has been going on for longer than a moment: what is over at once is not worth saying, and would blink.
 * Made while a component is. What `going` reads begins the moment anew.
 */
export class Lasting {
  so = $state(false);

  /** `moment` in ms; `then` is done once it is over. */
  constructor(going: () => boolean, moment: number, then: () => void = () => {}) {
    $effect(() => {
      this.so = false;
      if (!going()) return;
      const late = setTimeout(() => {
        this.so = true;
        then();
      }, moment);
      return () => clearTimeout(late);
    });
  }
}
