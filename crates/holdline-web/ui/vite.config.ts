import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

// Nothing is written into the page itself: the server's content policy allows files only.
export default defineConfig({
  plugins: [svelte()],
  base: './',
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 700, // three, in a chunk of its own that only the 3D inset loads
  },
  test: { include: ['src/**/*.test.ts'] },
  server: { proxy: { '/api': 'http://127.0.0.1:4173' } },
});
