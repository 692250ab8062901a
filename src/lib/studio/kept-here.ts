/** Stores of this tab and of this browser; none where they are shut. */
function stores(): Storage[] {
  try {
    return [sessionStorage, localStorage];
  } catch {
    return [];
  }
}

/** What `keepHere` left under a name: in this tab, else in the last tab of this browser; null where there is nothing. */
export function keptHere(name: string): string | null {
  return stores().reduce<string | null>((found, store) => found ?? store.getItem(name), null);
}

/** Keeps a text in this browser: this tab goes on with its own, a new one with what was kept last. */
export function keepHere(name: string, text: string): void {
  for (const store of stores())
    try {
      store.setItem(name, text);
    } catch {
      // The store is full: the text is then kept by this page alone.
    }
}
