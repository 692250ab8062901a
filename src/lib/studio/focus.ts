import { tick } from 'svelte';

/** What had the focus is gone or new: it goes on there, so that the keyboard does not start from the top of the page. */
export async function focusOn(elementId: string): Promise<void> {
  await tick();
  document.getElementById(elementId)?.focus();
}
