import { createContext } from 'svelte';
import type { Studio } from './studio.svelte.ts';

/** The open job for every component below the shell. */
export const [getStudio, setStudio] = createContext<Studio>();
