import adapter from '@sveltejs/adapter-node';
import { sveltekit } from '@sveltejs/kit/vite';
import { defineConfig } from 'vite';

// The Svelte and kit options stand here: kit 3.2 stops the build when it finds a svelte.config.js.
export default defineConfig({
  plugins: [
    sveltekit({
      adapter: adapter({ out: 'build' }),
      csp: {
        mode: 'nonce',
        directives: {
          'default-src': ['self'],
          'img-src': ['self', 'blob:', 'data:'],
          // Components place colours with style attributes; scripts stay bound to the nonce.
          'style-src': ['self', 'unsafe-inline'],
          'connect-src': ['self'],
          'worker-src': ['self', 'blob:'],
          'object-src': ['none'],
          'base-uri': ['none'],
          'form-action': ['self'],
          'frame-ancestors': ['none'],
        },
      },
    }),
  ],
  // Nothing is inlined as a data: URL, so that the content security policy can stay at 'self'.
  build: { target: 'es2022', assetsInlineLimit: 0 },
  worker: { format: 'es' },
});
