/** Runs something once the browser has nothing else to do, at once where it cannot tell. Gives what calls it off. */
export function whenIdle(run: () => void): () => void {
  if (!('requestIdleCallback' in window)) {
    run();
    return () => {};
  }
  const wait = requestIdleCallback(run);
  return () => cancelIdleCallback(wait);
}
