// The job's pages work on pixels and workers from the first moment: there is nothing useful to draw on the server.
export const ssr = false;
